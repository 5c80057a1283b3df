package soap

import (
	"ashbook/ledger/lye"

	"github.com/shopspring/decimal"
)

// Alkali is an amount of sodium or potassium hydroxide as weighed.
type Alkali struct {
	Kind       string          // NaOH or KOH
	Grams      decimal.Decimal // as weighed, zero or more
	GramsU     decimal.Decimal // standard uncertainty of the mass; zero: taken as exact
	Purity     decimal.Decimal // mass fraction of hydroxide, above 0, at most 1
	PurityHalf decimal.Decimal // half-width of the purity, rectangular, below Purity; zero: exact. Purity plus it may pass 1, as an assay may
}

// moles returns mol of hydroxide.
func (a Alkali) moles() (decimal.Decimal, error) {
	molar, err := lye.MolarMass(a.Kind)
	if err != nil {
		return decimal.Zero, err
	}
	if err := lye.CheckPurity(a.Kind, a.Purity); err != nil {
		return decimal.Zero, err
	}
	if a.Grams.IsNegative() {
		return decimal.Zero, wrong("%s has a negative mass of %s g; weigh it again", a.Kind, a.Grams)
	}
	return divide(a.Grams.Mul(a.Purity), molar), nil
}

// Acid is an additive that takes up alkali before the oils do.
type Acid struct {
	Name           string
	Grams          decimal.Decimal // zero or more, of the pure acid
	EquivalentMass decimal.Decimal // grams that neutralise one mol of alkali: molar mass over acid groups
}

// CitricAcid is anhydrous citric acid, 192.123 g/mol, three acid groups: 1 g takes 0.62455 g NaOH.
func CitricAcid(grams decimal.Decimal) Acid { return acid("citric acid", grams, "192.123", 3) }

// CitricAcidMonohydrate is the crystal with water, 210.138 g/mol, three acid groups.
func CitricAcidMonohydrate(grams decimal.Decimal) Acid {
	return acid("citric acid monohydrate", grams, "210.138", 3)
}

// LacticAcid has 90.078 g/mol and one acid group. Sodium lactate is neutral already and takes none.
func LacticAcid(grams decimal.Decimal) Acid { return acid("lactic acid", grams, "90.078", 1) }

// AceticAcid has 60.052 g/mol and one acid group. Give the grams of the acid: 100 g of vinegar at 5 % hold 5 g.
func AceticAcid(grams decimal.Decimal) Acid { return acid("acetic acid", grams, "60.052", 1) }

func acid(name string, grams decimal.Decimal, molar string, groups int64) Acid {
	mass := divide(decimal.RequireFromString(molar), decimal.NewFromInt(groups))
	return Acid{Name: name, Grams: grams, EquivalentMass: mass}
}

// acidMoles returns the mol of alkali that the acids take.
func acidMoles(acids []Acid) (decimal.Decimal, error) {
	sum := decimal.Zero
	for _, a := range acids {
		if a.Grams.IsNegative() || !a.EquivalentMass.IsPositive() {
			return decimal.Zero, wrong("%s has a mass of %s g and an equivalent mass of %s g; the first must not be negative, the second must be above zero", a.Name, a.Grams, a.EquivalentMass)
		}
		sum = sum.Add(divide(a.Grams, a.EquivalentMass))
	}
	return sum, nil
}

// AlkaliToWeigh returns the grams of an alkali of the given purity that leave the given superfat:
// enough for the share 1 - superfat of the oils, and for the acids besides. Superfat is at least 0
// and below 1.
func AlkaliToWeigh(oils []Oil, superfat, purity decimal.Decimal, kind string, acids ...Acid) (decimal.Decimal, error) {
	molar, err := lye.MolarMass(kind)
	if err != nil {
		return decimal.Zero, err
	}
	if err := lye.CheckPurity(kind, purity); err != nil {
		return decimal.Zero, err
	}
	moles, err := molesFor(oils, superfat, acids)
	return divide(moles.Mul(molar), purity), err
}

// molesFor returns the mol of alkali for the oils at a superfat and the acids.
func molesFor(oils []Oil, superfat decimal.Decimal, acids []Acid) (decimal.Decimal, error) {
	if err := checkOils(oils); err != nil {
		return decimal.Zero, err
	}
	if superfat.IsNegative() || superfat.GreaterThanOrEqual(one) {
		return decimal.Zero, wrong("a superfat of %s is not at least 0 and below 1; 5 %% is 0.05", superfat)
	}
	forAcids, err := acidMoles(acids)
	if err != nil {
		return decimal.Zero, err
	}
	return divide(KOHNeeded(oils).Mul(one.Sub(superfat)), molarKOH).Add(forAcids), nil
}

// Basis says which share is meant by a share of potassium hydroxide in a mixture of two alkalis.
// They differ: 40 % of the mass is 32 % of the equivalents.
type Basis int

// The bases of a mixture of alkalis.
const (
	ByEquivalents Basis = iota // share of the mol of alkali
	ByMass                     // share of the grams of pure alkali
)
