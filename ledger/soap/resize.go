package soap

import (
	"slices"

	"ashbook/ledger/lye"

	"github.com/shopspring/decimal"
)

// Batter is what an estimate of volume needs to know of the fresh batter.
type Batter struct {
	Celsius decimal.Decimal // when it fills the mould
	// Density is the maker's own measurement of such a batter in g/mL. It goes before the estimate; zero: not measured.
	Density decimal.Decimal
}

// ForOils returns the wish for another mass of all oils, everything else in proportion.
func (w Wish) ForOils(grams decimal.Decimal) (Wish, error) {
	oils, err := w.oils()
	if err != nil {
		return Wish{}, err
	}
	if !grams.IsPositive() {
		return Wish{}, misfit(FieldOilGrams, "a mass of all oils of %s g is not above zero", grams)
	}
	now := decimal.Zero
	for _, o := range oils {
		now = now.Add(o.Grams)
	}
	return w.times(grams, now), nil
}

// ForMould returns the wish whose batter fills a mould of the given millilitres, everything else in proportion. Scents,
// colours and other additives beside oils, lye and acids are not in it; leave room for them.
func (w Wish) ForMould(ml decimal.Decimal, b Batter) (Wish, error) {
	if !ml.IsPositive() {
		return Wish{}, misfit(FieldMould, "a mould of %s mL is not above zero; measure it with water", ml)
	}
	now, err := w.Volume(b)
	if err != nil {
		return Wish{}, err
	}
	return w.times(ml, now), nil
}

// times returns the wish with every mass times to/from.
func (w Wish) times(to, from decimal.Decimal) Wish {
	scaled := func(grams decimal.Decimal) decimal.Decimal { return divide(grams.Mul(to), from) }
	w.OilGrams, w.AlkaliGrams, w.WaterGrams = scaled(w.OilGrams), scaledChoice(w.AlkaliGrams, scaled), scaledChoice(w.WaterGrams, scaled)
	w.Oils, w.Acids = slices.Clone(w.Oils), slices.Clone(w.Acids)
	for i := range w.Oils {
		w.Oils[i].Grams = scaled(w.Oils[i].Grams)
	}
	for i := range w.Acids {
		w.Acids[i].Grams = scaled(w.Acids[i].Grams)
	}
	return w
}

func scaledChoice(grams *decimal.Decimal, scaled func(decimal.Decimal) decimal.Decimal) *decimal.Decimal {
	if grams == nil {
		return nil
	}
	v := scaled(*grams)
	return &v
}

// Volume estimates the millilitres of the fresh batter of a wish: the oils, the lye and the acids, unrounded.
//
// Without a measured density it takes mixing as ideal: the volumes of oils and lye add up, nothing has reacted, no air is
// stirred in. Lye has the density of its strength on the pure basis; with two alkalis each is taken with its part of
// the water; acids are taken to fill as much as the same mass of lye. How far a real batter is off is not known: measure
// one batch (mass over volume filled) and give its density.
func (w Wish) Volume(b Batter) (decimal.Decimal, error) {
	if b.Density.IsNegative() {
		return decimal.Zero, misfit(FieldMould, "a density of the batter of %s g/mL is negative; measure it again", b.Density)
	}
	p, err := w.exact()
	if err != nil {
		return decimal.Zero, err
	}
	liquid := alkaliGrams(p.Alkalis).Add(p.Water)
	acids := decimal.Zero
	for _, a := range w.Acids {
		acids = acids.Add(a.Grams)
	}
	if b.Density.IsPositive() {
		return divide(grams(p.Oils).Add(liquid).Add(acids), b.Density), nil
	}
	ml, err := lyeVolume(p, b.Celsius)
	if err != nil {
		return decimal.Zero, in(FieldMould, err)
	}
	ml = divide(ml.Mul(liquid.Add(acids)), liquid)
	for i, o := range w.Oils {
		density, err := o.density(b.Celsius)
		if err != nil {
			return decimal.Zero, err
		}
		ml = ml.Add(divide(p.Oils[i].Grams, density))
	}
	return ml, nil
}

// lyeVolume returns the millilitres of alkali and water.
func lyeVolume(p Pot, celsius decimal.Decimal) (decimal.Decimal, error) {
	ml := decimal.Zero
	for _, a := range p.Alkalis {
		density, err := lye.Density(a.Kind, p.Concentration.Mul(a.Purity), celsius)
		if err != nil {
			return decimal.Zero, err
		}
		ml = ml.Add(divide(divide(a.Grams, p.Concentration), density))
	}
	return ml, nil
}

var (
	lundBase        = decimal.RequireFromString("0.8475")
	lundSAP         = decimal.RequireFromString("0.00030")
	lundIodine      = decimal.RequireFromString("0.00014")
	densityPerDegC  = decimal.RequireFromString("0.00064") // g/cm³ less for each degree more
	waterAtFifteenC = decimal.RequireFromString("0.9991")  // g/cm³; from memory, high confidence
	fifteenC        = decimal.NewFromInt(15)
)

// density returns g/cm³ of the oil at a temperature: from its density at 15 °C if given, else from Lund's relation of
// specific gravity at 15/15 °C with saponification and iodine value, which holds for plain triglycerides (not for castor
// oil or waxes); less 0.00064 g/cm³ for each degree above (JAOCS 1999, 76, 1415-1419). A solid fat is taken as if melted.
func (o OilWish) density(celsius decimal.Decimal) (decimal.Decimal, error) {
	var at15 decimal.Decimal
	switch {
	case o.Density != nil:
		at15 = *o.Density
	case o.Iodine != nil:
		at15 = lundBase.Add(lundSAP.Mul(o.SAP())).Add(lundIodine.Mul(*o.Iodine)).Mul(waterAtFifteenC)
	default:
		return decimal.Zero, misfit(FieldOils, "%s has neither a density nor an iodine value to estimate one from; give either", o.Name)
	}
	at := at15.Sub(densityPerDegC.Mul(celsius.Sub(fifteenC)))
	if !at.IsPositive() {
		return decimal.Zero, misfit(FieldOils, "%s comes out with a density of %s g/cm³ at %s °C; check its density and the temperature", o.Name, at, celsius)
	}
	return at, nil
}
