package soap

import (
	"ashbook/ledger/lye"

	"github.com/shopspring/decimal"
)

// Wish is what the maker chooses of a formula. Work turns it into amounts. Pointers that are nil are choices not made.
type Wish struct {
	Oils     []OilWish
	OilGrams decimal.Decimal // of all oils, if they are given by share; zero if each has its mass

	// One or two alkalis, NaOH and KOH, with purity and half-width; their Grams are left at zero.
	Alkalis  []Alkali
	KOHShare *decimal.Decimal // 0 to 1, for two alkalis and only then
	Basis    Basis            // of KOHShare

	// One of these two; the other is the answer.
	Superfat    *decimal.Decimal // 0 or more, below 1
	AlkaliGrams *decimal.Decimal // of all alkali as weighed

	// One of these three, on the as-weighed basis.
	Concentration *decimal.Decimal // alkali over lye, above 0, at most 1
	WaterRatio    *decimal.Decimal // water over alkali
	WaterGrams    *decimal.Decimal

	Acids []Acid

	Scale       Scale  // for oils, water and, without a scale of its own, alkali; without a step amounts are left exact
	AlkaliScale *Scale // a finer one
}

// OilWish is an oil by mass (Grams) or by share, and what an estimate of volume needs.
type OilWish struct {
	Oil
	Share   decimal.Decimal  // of Wish.OilGrams, 0 to 1; all shares sum to exactly 1
	Iodine  *decimal.Decimal // iodine value, g per 100 g
	Density *decimal.Decimal // g/cm³ at 15 °C, where known; it goes before the estimate
}

// Amounts is a wish worked out.
type Amounts struct {
	Exact  Pot    // as computed
	Weigh  Pot    // in steps of the scale, with the uncertainty of each mass
	Result Result // superfat of what is to be weighed, and its bounds
	Budget Budget // how well that superfat is known
	// What the steps of the scale did: the value of Weigh less that of Exact.
	SuperfatShift, ConcentrationShift decimal.Decimal
}

// Pot is what goes into the pot.
type Pot struct {
	Oils          []Oil
	Alkalis       []Alkali
	Water         decimal.Decimal
	Superfat      decimal.Decimal
	Concentration decimal.Decimal // of the lye, alkali as weighed over alkali and water
}

// FieldError says which field of a wish contradicts another, or cannot be computed with. It wraps ErrInput.
type FieldError struct {
	Field string // as in the type Wish, in lower case with underscores
	Err   error
}

func (e *FieldError) Error() string { return e.Err.Error() }

// Unwrap returns the error that the field has.
func (e *FieldError) Unwrap() error { return e.Err }

// The fields of a FieldError.
const (
	FieldOils     = "oils"
	FieldOilGrams = "oil_grams"
	FieldAlkalis  = "alkalis"
	FieldKOHShare = "koh_share"
	FieldSuperfat = "superfat"
	FieldAlkali   = "alkali_grams"
	FieldWater    = "water"
	FieldAcids    = "acids"
	FieldScale    = "scale"
	FieldMould    = "mould"
)

func misfit(field, format string, args ...any) error { return in(field, wrong(format, args...)) }

// in names the field of an error; no error stays none.
func in(field string, err error) error {
	if err == nil {
		return nil
	}
	return &FieldError{field, err}
}

// Work returns the amounts of a wish: exact, and as they can be weighed, with what the steps of the scale do to superfat
// and concentration. Every error is a FieldError.
func (w Wish) Work() (Amounts, error) {
	exact, err := w.exact()
	if err != nil {
		return Amounts{}, err
	}
	a := Amounts{Exact: exact}
	if a.Weigh, err = w.toSteps(exact); err != nil {
		return Amounts{}, err
	}
	if a.Result, err = Superfat(a.Weigh.Oils, a.Weigh.Alkalis, w.Acids...); err != nil {
		return Amounts{}, in(FieldOils, err)
	}
	if a.Budget, err = Uncertainty(a.Weigh.Oils, a.Weigh.Alkalis, w.Acids...); err != nil {
		return Amounts{}, in(FieldAlkalis, err)
	}
	a.Weigh.Superfat = a.Result.Superfat
	a.SuperfatShift = a.Weigh.Superfat.Sub(exact.Superfat)
	a.ConcentrationShift = a.Weigh.Concentration.Sub(exact.Concentration)
	return a, nil
}

func (w Wish) exact() (Pot, error) {
	var p Pot
	if _, err := acidMoles(w.Acids); err != nil {
		return p, in(FieldAcids, err)
	}
	var err error
	if p.Oils, err = w.oils(); err != nil {
		return Pot{}, err
	}
	if p.Alkalis, err = w.alkalis(p.Oils); err != nil {
		return Pot{}, err
	}
	result, err := Superfat(p.Oils, p.Alkalis, w.Acids...)
	if err != nil {
		return Pot{}, in(FieldAlkalis, err)
	}
	p.Superfat = result.Superfat
	if p.Water, err = w.water(alkaliGrams(p.Alkalis)); err != nil {
		return Pot{}, err
	}
	p.Concentration, err = lye.Concentration(alkaliGrams(p.Alkalis), p.Water)
	return p, in(FieldWater, err)
}

func alkaliGrams(alkalis []Alkali) decimal.Decimal {
	sum := decimal.Zero
	for _, a := range alkalis {
		sum = sum.Add(a.Grams)
	}
	return sum
}
