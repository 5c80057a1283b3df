package ledger

import (
	"errors"

	"github.com/shopspring/decimal"

	"ashbook/ledger/lye"
	"ashbook/ledger/soap"
)

// lye works out alkali and water for the oils, rounded to the step of the scale.
func (p *planner) lye(oils []soap.Oil) ([]PlanLine, error) {
	f := p.formula
	pot, err := p.work(oils)
	if err != nil {
		return nil, err
	}
	if f.StockLye != 0 {
		return p.fromStock(pot.Alkalis[0].Grams)
	}
	var plan []PlanLine
	for _, id := range []int64{f.Alkali, f.SecondAlkali} {
		for _, a := range pot.Alkalis {
			if m := p.materials[id]; a.Kind == m.Alkali {
				plan = append(plan, planLine(m, true, "", p.rounded(a.Grams)))
			}
		}
	}
	return append(plan, planLine(p.materials[f.Water], false, "", p.rounded(pot.Water))), nil
}

// massU is the standard uncertainty of one weighing on the shop's scale, in grams.
func (p *planner) massU(grams decimal.Decimal) decimal.Decimal {
	return soap.Scale{Step: p.limits.step(grams)}.U()
}

func (p *planner) rounded(grams decimal.Decimal) decimal.Decimal {
	return soap.ToStep(grams, p.limits.step(grams))
}

// wish says what the formula chose in the terms of the soap package.
func (p *planner) wish(oils []soap.Oil) soap.Wish {
	f := p.formula
	wish := soap.Wish{Alkalis: []soap.Alkali{{Kind: p.materials[f.Alkali].Alkali, Purity: f.AlkaliPurity}}, AlkaliGrams: f.AlkaliGrams,
		WaterRatio: f.WaterRatio, WaterGrams: f.WaterGrams, Acids: p.acids}
	for _, o := range oils {
		wish.Oils = append(wish.Oils, soap.OilWish{Oil: o})
	}
	if f.AlkaliGrams == nil {
		wish.Superfat = &f.Superfat
	}
	if f.WaterRatio == nil && f.WaterGrams == nil {
		wish.Concentration = &f.Concentration
	}
	if f.SecondAlkali != 0 {
		p.mix(&wish)
	}
	return wish
}

// work lets the soap package turn the wish into exact amounts, and fills in what the formula left to be worked out.
func (p *planner) work(oils []soap.Oil) (soap.Pot, error) {
	f := p.formula
	amounts, err := p.wish(oils).Work()
	if err != nil {
		return soap.Pot{}, p.blame(err)
	}
	exact := amounts.Exact
	f.Superfat, f.Concentration = exact.Superfat.Round(9), exact.Concentration.Round(9)
	if checkSuperfat(f.Superfat) != nil {
		return exact, invalid("alkali_grams", "%s g of alkali leave a superfat of %s %%; it is 0 to 50 %%, and below zero the soap would be lye-heavy",
			f.AlkaliGrams, Percent(f.Superfat))
	}
	return exact, f.checkStrength()
}

// mix adds the second alkali to the wish.
func (p *planner) mix(wish *soap.Wish) {
	f := p.formula
	second := p.materials[f.SecondAlkali].Alkali
	wish.Alkalis = append(wish.Alkalis, soap.Alkali{Kind: second, Purity: f.SecondPurity})
	koh := f.SecondShare
	if second != lye.KOH {
		koh = decimal.NewFromInt(1).Sub(koh)
	}
	wish.KOHShare = &koh
	if f.SecondBasis == "mass" {
		wish.Basis = soap.ByMass
	}
}

// blame names the field of the formula for what the soap package could not work with.
func (p *planner) blame(err error) error {
	field := "lines"
	if e, ok := errors.AsType[*soap.FieldError](err); ok {
		switch e.Field {
		case soap.FieldAlkali, soap.FieldSuperfat:
			field = e.Field
		case soap.FieldWater:
			field = p.formula.waterField()
		}
	}
	return invalid(field, "the lye cannot be worked out: %s", err)
}

// waterField is the field by which the formula says how much water there is.
func (f *FormulaDefined) waterField() string {
	switch {
	case f.WaterRatio != nil:
		return "water_ratio"
	case f.WaterGrams != nil:
		return "water_grams"
	}
	return "concentration"
}

// checkStrength keeps to lye that can be made and that makes soap: below 15 % it hardly does, above 50 % it does not dissolve.
func (f *FormulaDefined) checkStrength() error {
	if f.Concentration.LessThan(decimal.New(15, -2)) || f.Concentration.GreaterThan(decimal.New(5, -1)) {
		return invalid(f.waterField(), "a lye of %s is outside 0.15 to 0.50 (alkali in alkali and water)", f.Concentration)
	}
	return nil
}

// fromStock takes the alkali from a solution that was made before, and adds the water that it lacks.
func (p *planner) fromStock(alkali decimal.Decimal) ([]PlanLine, error) {
	f := p.formula
	stock, strength := p.materials[f.StockLye], decimal.Zero
	for _, part := range p.parts[f.StockLye] {
		if part.Material == f.Alkali {
			strength = part.Share
		}
	}
	if !strength.IsPositive() {
		return nil, invalid("stock_lye", "%s is not planned to hold %s", stock.Name, p.materials[f.Alkali].Name)
	}
	draw, err := lye.FromStock(alkali, strength, f.Concentration)
	if err != nil {
		return nil, invalid(f.waterField(), "%s", err)
	}
	plan := []PlanLine{planLine(stock, true, "", p.rounded(draw.Stock))}
	if more := p.rounded(draw.Water); more.IsPositive() {
		plan = append(plan, planLine(p.materials[f.Water], false, "", more))
	}
	return plan, nil
}

// sure works out what the rounded plan comes to, and how sure that is before any lot is chosen: oils over their published
// ranges, the alkali within the usual doubt of a certificate, each weighed once on the shop's scale.
func (p *planner) sure(plan []PlanLine) error {
	var oils []soap.Oil
	var alkalis []soap.Alkali
	alkali, water := decimal.Zero, decimal.Zero
	for _, line := range plan {
		u := p.massU(line.Grams)
		oils = append(oils, p.oilsIn(line.Material, line.Grams)...)
		for _, a := range p.alkalisIn(line.Material, line.Grams) {
			a.PurityHalf, a.GramsU = UsualPurityHalf, u
			alkalis, alkali = append(alkalis, a), alkali.Add(a.Grams)
		}
		for _, in := range p.inside(line.Material, line.Grams) {
			if p.materials[in.Material].Kind == "water" {
				water = water.Add(in.Share)
			}
		}
	}
	oils = merged(oils)
	for i := range oils {
		oils[i].GramsU = p.massU(oils[i].Grams)
	}
	budget, err := newLyeBudget(oils, alkalis, p.acids...)
	if err != nil {
		return invalid("lines", "the superfat cannot be worked out: %s", err)
	}
	strength, err := lye.Concentration(alkali, water)
	if err != nil {
		return invalid("concentration", "%s", err)
	}
	p.formula.Lye = &PlannedLye{LyeBudget: *budget, Asked: p.formula.Superfat, Concentration: strength.Round(9)}
	return nil
}

// merged adds up what is of one material: it will be of one lot, with one saponification value.
func merged(oils []soap.Oil) (list []soap.Oil) {
	at := map[string]int{}
	for _, o := range oils {
		i, known := at[o.Name]
		if !known {
			at[o.Name] = len(list)
			list = append(list, o)
			continue
		}
		list[i].Grams = list[i].Grams.Add(o.Grams)
	}
	return list
}
