package soap

import "github.com/shopspring/decimal"

// Result is the superfat that given amounts leave, as fractions. A negative one means free lye.
type Result struct {
	Superfat decimal.Decimal // every SAP at its point value
	Low      decimal.Decimal // every SAP at the lower end of its range: the least fat left
	High     decimal.Decimal // every SAP at the upper end
}

// Superfat returns the superfat of oils, alkalis and acids as weighed. Low and High are hard bounds
// over the SAP ranges at the stated purity; the spread of purity and of the scales is not in them.
func Superfat(oils []Oil, alkalis []Alkali, acids ...Acid) (Result, error) {
	if err := checkOils(oils); err != nil {
		return Result{}, err
	}
	free, err := alkaliForOils(alkalis, acids)
	if err != nil {
		return Result{}, err
	}
	low, high := kohRange(oils)
	koh := free.Mul(molarKOH)
	at := func(needed decimal.Decimal) decimal.Decimal { return one.Sub(divide(koh, needed)) }
	return Result{Superfat: at(low.Add(high).Mul(half)), Low: at(low), High: at(high)}, nil
}

// alkaliForOils returns the mol of alkali that the acids leave; negative if the acids take more than
// there is.
func alkaliForOils(alkalis []Alkali, acids []Acid) (decimal.Decimal, error) {
	taken, err := acidMoles(acids)
	if err != nil {
		return decimal.Zero, err
	}
	sum := taken.Neg()
	for _, a := range alkalis {
		moles, err := a.moles()
		if err != nil {
			return decimal.Zero, err
		}
		sum = sum.Add(moles)
	}
	return sum, nil
}

// grams returns the mass of all oils.
func grams(oils []Oil) decimal.Decimal {
	sum := decimal.Zero
	for _, o := range oils {
		sum = sum.Add(o.Grams)
	}
	return sum
}
