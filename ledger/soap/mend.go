package soap

import (
	"ashbook/ledger/lye"

	"github.com/shopspring/decimal"
)

// AlkaliMend is what of one alkali is right for oils that are in the pot, grams as weighed.
type AlkaliMend struct {
	InAll   decimal.Decimal // of this alkali alone, had none been weighed yet
	More    decimal.Decimal // still to weigh; zero if there is too much
	TooMuch decimal.Decimal // weighed already beyond what is right, as grams of this alkali
}

// AlkaliFor returns what of the given alkali (kind and purity; its mass does not matter) leaves the wanted superfat with
// oils really in the pot, given what alkali was weighed already, of either kind. Too much that is not in the pot yet is taken
// out again or discarded as the safety data sheet says; for too much that is in, see OilFor.
func AlkaliFor(oils []Oil, superfat decimal.Decimal, alkali Alkali, weighed []Alkali, acids ...Acid) (AlkaliMend, error) {
	inAll, err := AlkaliToWeigh(oils, superfat, alkali.Purity, alkali.Kind, acids...)
	if err != nil {
		return AlkaliMend{}, err
	}
	have, err := alkaliForOils(weighed, nil)
	if err != nil {
		return AlkaliMend{}, err
	}
	molar, err := lye.MolarMass(alkali.Kind)
	if err != nil {
		return AlkaliMend{}, err
	}
	m := AlkaliMend{InAll: inAll}
	if more := inAll.Sub(divide(have.Mul(molar), alkali.Purity)); more.IsNegative() {
		m.TooMuch = more.Neg()
	} else {
		m.More = more
	}
	return m, nil
}

// OilMend is what of one oil puts right a pot with its alkali in.
type OilMend struct {
	Add      decimal.Decimal // grams of the oil to add; zero if the superfat is as wanted or above
	InExcess decimal.Decimal // grams of the oil that are in beyond what was wanted; zero if there is oil to add
}

// OilFor returns the grams of an oil (its mass does not matter) that bring the superfat of a pot, with alkali and acids in,
// to what is wanted, everything at its point value. It is arithmetic, not a verdict: until oil and lye are mixed evenly
// the pot may hold free lye, which burns, and a bar of it has to pass its test for free alkali like any other.
func OilFor(oils []Oil, superfat decimal.Decimal, oil Oil, alkalis []Alkali, acids ...Acid) (OilMend, error) {
	if _, err := molesFor(oils, superfat, nil); err != nil { // checks both
		return OilMend{}, err
	}
	oil.Grams = one
	if err := oil.check(); err != nil {
		return OilMend{}, err
	}
	free, err := alkaliForOils(alkalis, acids)
	if err != nil {
		return OilMend{}, err
	}
	right := divide(free.Mul(molarKOH), one.Sub(superfat)) // g KOH that the oils must be able to take
	add := divide(right.Sub(KOHNeeded(oils)), KOHNeeded([]Oil{oil}))
	if add.IsNegative() {
		return OilMend{InExcess: add.Neg()}, nil
	}
	return OilMend{Add: add}, nil
}
