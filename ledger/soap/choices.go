package soap

import (
	"slices"

	"ashbook/ledger/lye"

	"github.com/shopspring/decimal"
)

// oils returns the oils with their masses.
func (w Wish) oils() ([]Oil, error) {
	oils, shares := make([]Oil, len(w.Oils)), decimal.Zero
	byShare := !w.OilGrams.IsZero()
	for i, o := range w.Oils {
		oils[i] = o.Oil
		switch {
		case byShare && !o.Grams.IsZero():
			return nil, misfit(FieldOils, "%s has a mass of %s g while the mass of all oils is given; give its share, or leave the mass of all oils out", o.Name, o.Grams)
		case !byShare && !o.Share.IsZero():
			return nil, misfit(FieldOilGrams, "%s has a share of %s but there is no mass of all oils; give it", o.Name, o.Share)
		case o.Share.IsNegative():
			return nil, misfit(FieldOils, "%s has a negative share of %s; give one from 0 to 1", o.Name, o.Share)
		case byShare:
			oils[i].Grams = w.OilGrams.Mul(o.Share)
		}
		shares = shares.Add(o.Share)
	}
	if w.OilGrams.IsNegative() {
		return nil, misfit(FieldOilGrams, "the mass of all oils is %s g; give one above zero", w.OilGrams)
	}
	if byShare && !shares.Equal(one) {
		return nil, misfit(FieldOils, "the shares of the oils sum to %s, not to 1; correct them", shares)
	}
	return oils, in(FieldOils, checkOils(oils))
}

// alkalis returns the alkalis with their masses.
func (w Wish) alkalis(oils []Oil) ([]Alkali, error) {
	choice, err := w.alkaliChoice()
	if err != nil {
		return nil, err
	}
	var mix mixture
	switch {
	case w.Superfat != nil && w.AlkaliGrams != nil:
		return nil, misfit(FieldAlkali, "both a superfat of %s and a mass of alkali of %s g are given; give one, the other follows", w.Superfat, w.AlkaliGrams)
	case w.Superfat != nil:
		moles, err := molesFor(oils, *w.Superfat, w.Acids)
		if err != nil {
			return nil, in(FieldSuperfat, err)
		}
		mix = choice.split(moles)
	case w.AlkaliGrams != nil:
		if !w.AlkaliGrams.IsPositive() {
			return nil, misfit(FieldAlkali, "a mass of alkali of %s g is not above zero; give what is to be weighed", w.AlkaliGrams)
		}
		mol := choice.split(one)
		mix = choice.split(divide(*w.AlkaliGrams, mol.naoh.Add(mol.koh)))
	default:
		return nil, misfit(FieldSuperfat, "neither a superfat nor a mass of alkali is given; give one, the other follows")
	}
	alkalis := slices.Clone(w.Alkalis)
	for i, a := range alkalis {
		alkalis[i].Grams = mix.naoh
		if a.Kind == KOH {
			alkalis[i].Grams = mix.koh
		}
	}
	return alkalis, nil
}

// alkaliChoice is which alkalis, how pure, and how much of which.
type alkaliChoice struct {
	naoh, koh, kohShare decimal.Decimal
	basis               Basis
}

// mixture is what to weigh of sodium and potassium hydroxide, in grams.
type mixture struct{ naoh, koh decimal.Decimal }

// split gives the grams of two alkalis for some mol of both.
func (c alkaliChoice) split(moles decimal.Decimal) mixture {
	kohMoles := moles.Mul(c.kohShare)
	if c.basis == ByMass {
		perGram := divide(one.Sub(c.kohShare), molarNaOH).Add(divide(c.kohShare, molarKOH))
		kohMoles = divide(divide(moles, perGram).Mul(c.kohShare), molarKOH)
	}
	return mixture{
		naoh: divide(moles.Sub(kohMoles).Mul(molarNaOH), c.naoh),
		koh:  divide(kohMoles.Mul(molarKOH), c.koh),
	}
}

func (w Wish) alkaliChoice() (alkaliChoice, error) {
	c := alkaliChoice{naoh: one, koh: one, basis: w.Basis}
	seen := map[string]bool{}
	for _, a := range w.Alkalis {
		if _, err := a.moles(); err != nil {
			return c, in(FieldAlkalis, err)
		}
		if seen[a.Kind] || !a.Grams.IsZero() {
			return c, misfit(FieldAlkalis, "%s is given twice or with a mass of %s g; name each alkali once, its mass is worked out", a.Kind, a.Grams)
		}
		seen[a.Kind] = true
		if a.Kind == KOH {
			c.koh, c.kohShare = a.Purity, one
		} else {
			c.naoh = a.Purity
		}
	}
	switch {
	case len(seen) == 0:
		return c, misfit(FieldAlkalis, "no alkali is given; name NaOH, KOH or both")
	case len(seen) == 2 && w.KOHShare == nil:
		return c, misfit(FieldKOHShare, "NaOH and KOH are given but not how they share; give the share of KOH")
	case len(seen) == 1 && w.KOHShare != nil:
		return c, misfit(FieldKOHShare, "a KOH share of %s is given for one alkali alone; leave it out or name both", w.KOHShare)
	case w.KOHShare != nil && (w.KOHShare.IsNegative() || w.KOHShare.GreaterThan(one)):
		return c, misfit(FieldKOHShare, "a KOH share of %s is not from 0 to 1; 40 %% is 0.4", w.KOHShare)
	case w.KOHShare != nil:
		c.kohShare = *w.KOHShare
	}
	return c, nil
}

// water returns the grams of water for a mass of alkali as weighed.
func (w Wish) water(alkali decimal.Decimal) (decimal.Decimal, error) {
	var grams decimal.Decimal
	given := 0
	if w.Concentration != nil {
		var err error
		if grams, err = lye.WaterFor(alkali, *w.Concentration); err != nil {
			return decimal.Zero, in(FieldWater, err)
		}
		given++
	}
	if w.WaterRatio != nil {
		grams = alkali.Mul(*w.WaterRatio)
		given++
	}
	if w.WaterGrams != nil {
		grams = *w.WaterGrams
		given++
	}
	if given != 1 {
		return decimal.Zero, misfit(FieldWater, "%d of concentration, ratio of water to alkali, and mass of water are given; give one of them", given)
	}
	if grams.IsNegative() {
		return decimal.Zero, misfit(FieldWater, "the water comes out at %s g; give a ratio or a mass of zero or more", grams.Round(3))
	}
	return grams, nil
}

// Scales are the scale of oils and water, and that of alkali.
func (w Wish) Scales() (oils, alkali Scale) {
	if w.AlkaliScale != nil {
		return w.Scale, *w.AlkaliScale
	}
	return w.Scale, w.Scale
}

// toSteps rounds amounts to what the scales show and gives each its uncertainty.
func (w Wish) toSteps(exact Pot) (Pot, error) {
	_, forAlkali := w.Scales()
	p := Pot{Oils: slices.Clone(exact.Oils), Alkalis: slices.Clone(exact.Alkalis), Water: ToStep(exact.Water, w.Scale.Step)}
	for i := range p.Oils {
		o := &p.Oils[i]
		if err := w.Scale.round(o.Name, &o.Grams, &o.GramsU); err != nil {
			return Pot{}, err
		}
	}
	for i := range p.Alkalis {
		a := &p.Alkalis[i]
		if err := forAlkali.round(a.Kind, &a.Grams, &a.GramsU); err != nil {
			return Pot{}, err
		}
	}
	var err error
	p.Concentration, err = lye.Concentration(alkaliGrams(p.Alkalis), p.Water)
	return p, in(FieldScale, err)
}

// round rounds a mass to the scale's step and sets its uncertainty. It fails where nothing would be left.
func (s Scale) round(name string, grams, u *decimal.Decimal) error {
	if s.Step.IsNegative() || s.Limit.IsNegative() {
		return misfit(FieldScale, "a scale has a step of %s g and a limit of %s g; neither may be negative", s.Step, s.Limit)
	}
	weighed := ToStep(*grams, s.Step)
	if weighed.IsZero() && grams.IsPositive() {
		return misfit(FieldScale, "%s g of %s are less than a scale of %s g steps can show; use a finer scale or make more", grams.Round(4), name, s.Step)
	}
	*grams, *u = weighed, s.U()
	return nil
}
