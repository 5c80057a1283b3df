package ledger

import (
	"github.com/shopspring/decimal"

	"ashbook/ledger/soap"
)

// fifteenC is the temperature at which oils are compared by density.
var fifteenC = decimal.NewFromInt(15)

// usualPour is the temperature of batter when a formula has no window. Common practice, no source.
var usualPour = decimal.NewFromInt(40)

// oilsForMould are the grams of oils whose batch fills a mould of some millilitres. measured is the density of such a batter in
// g/mL where the maker found it; without one it is estimated from the oils and the lye, and everything else is taken to fill as
// much as the same mass of them.
func (p *planner) oilsForMould(ml decimal.Decimal, measured *decimal.Decimal) (decimal.Decimal, error) {
	total := decimal.Zero
	for _, line := range p.formula.Plan {
		if p.materials[line.Material].Kind != "spirit" { // it stays on the top and leaves
			total = total.Add(line.Grams)
		}
	}
	density, err := p.batter(measured)
	if err != nil {
		return density, err
	}
	return soap.ToStep(p.formula.OilGrams.Mul(ml).Mul(density).DivRound(total, 6), p.limits.ScaleStep), nil
}

// batter is the density of the fresh batter, g/mL.
func (p *planner) batter(measured *decimal.Decimal) (decimal.Decimal, error) {
	if measured != nil {
		return *measured, nil
	}
	var oils []soap.Oil
	known := map[string]decimal.Decimal{}
	for _, line := range p.formula.Plan {
		for _, in := range p.inside(line.Material, line.Grams) {
			m := p.materials[in.Material]
			if m.Kind != "oil" {
				continue
			}
			density, ok := m.DensityAt(fifteenC)
			if !ok {
				return density, invalid("mould_ml", "the density of %s is not known, so the batter's cannot be estimated; give it with the material, or measure a batter and give batter_density", m.Name)
			}
			oils, known[m.Name] = append(oils, oilOf(m, in.Share)), density
		}
	}
	wish, grams := p.wish(merged(oils)), decimal.Zero
	for i := range wish.Oils {
		density := known[wish.Oils[i].Name]
		wish.Oils[i].Density = &density
	}
	amounts, err := wish.Work()
	if err != nil {
		return grams, p.blame(err)
	}
	volume, err := wish.Volume(soap.Batter{Celsius: p.pour()})
	if err != nil {
		return grams, invalid("mould_ml", "the batter's density cannot be estimated: %s; measure it and give batter_density", err)
	}
	for _, o := range amounts.Exact.Oils {
		grams = grams.Add(o.Grams)
	}
	for _, a := range amounts.Exact.Alkalis {
		grams = grams.Add(a.Grams)
	}
	for _, a := range p.acids {
		grams = grams.Add(a.Grams)
	}
	return grams.Add(amounts.Exact.Water).DivRound(volume, 6), nil
}

// pour is the temperature at which the batter fills the mould: the middle of the formula's window.
func (p *planner) pour() decimal.Decimal {
	f := p.formula
	if f.TempMinC == nil {
		return usualPour
	}
	return f.TempMinC.Add(*f.TempMaxC).DivRound(decimal.NewFromInt(2), 1)
}
