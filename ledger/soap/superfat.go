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

// Products is what the reaction has made when it is complete, in grams. Water that was poured in,
// acids' salts and what else the alkali holds besides hydroxide are not in it.
type Products struct {
	// Soap is the reacted oil and alkali less the glycerol. For oils that set no glycerol free it
	// includes wax alcohols, and the water that free fatty acids form.
	Soap     decimal.Decimal
	Glycerol decimal.Decimal
	FreeOil  decimal.Decimal // oil that found no alkali
	FreeLye  decimal.Decimal // pure alkali that found no oil: caustic
}

// Complete returns the products of oils, alkalis and acids at the oils' point values, taking each oil
// to react in the same proportion, and the acids to take the alkalis in the proportion in which they
// were weighed. The sum of the products is the mass of the oils and of the pure alkali that the
// acids leave. Glycerol is a third of the mol of alkali reacted with glycerides. It fails if the acids
// take all the alkali.
func Complete(oils []Oil, alkalis []Alkali, acids ...Acid) (Products, error) {
	result, err := Superfat(oils, alkalis, acids...)
	if err != nil {
		return Products{}, err
	}
	lye, err := pureLyeForOils(alkalis, acids)
	if err != nil {
		return Products{}, err
	}
	reacted, used := one.Sub(result.Superfat), lye
	if result.Superfat.IsNegative() {
		reacted, used = one, divide(lye, reacted)
	}
	total, glycerides := grams(oils)
	oil := total.Mul(reacted)
	glycerol := divide(KOHNeeded(glycerides).Mul(reacted).Mul(MolarGlycerol), molarKOH.Mul(three))
	return Products{
		Soap:     oil.Add(used).Sub(glycerol),
		Glycerol: glycerol,
		FreeOil:  total.Sub(oil),
		FreeLye:  lye.Sub(used),
	}, nil
}

// pureLyeForOils returns the grams of pure alkali that the acids leave.
func pureLyeForOils(alkalis []Alkali, acids []Acid) (decimal.Decimal, error) {
	all, err := alkaliForOils(alkalis, nil)
	if err != nil {
		return decimal.Zero, err
	}
	left, err := alkaliForOils(alkalis, acids)
	if err != nil {
		return decimal.Zero, err
	}
	if !left.IsPositive() {
		return decimal.Zero, wrong("no alkali is left for the oils; weigh alkali or leave acid out")
	}
	pure := decimal.Zero
	for _, a := range alkalis {
		pure = pure.Add(a.Grams.Mul(a.Purity))
	}
	return divide(pure.Mul(left), all), nil
}

// grams returns the mass of all oils, and those of them that set glycerol free.
func grams(oils []Oil) (total decimal.Decimal, glycerides []Oil) {
	for _, o := range oils {
		total = total.Add(o.Grams)
		if !o.NoGlycerol {
			glycerides = append(glycerides, o)
		}
	}
	return total, glycerides
}
