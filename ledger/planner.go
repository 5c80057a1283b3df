package ledger

import (
	"context"
	"fmt"

	"github.com/shopspring/decimal"

	"ashbook/ledger/measure"
	"ashbook/ledger/soap"
)

// planner works out what to weigh.
type planner struct {
	formula   *FormulaDefined
	limits    BenchLimits
	materials map[int64]Material
	parts     map[int64][]MaterialPart // of prepared materials, as planned
	acids     []soap.Acid              // in the lines: they take alkali before the oils do
}

func newPlanner(f *FormulaDefined, limits BenchLimits) planner {
	return planner{formula: f, limits: limits, parts: map[int64][]MaterialPart{}, materials: map[int64]Material{}}
}

func (p *planner) load(ctx context.Context, q querier) error {
	f := p.formula
	ids := []int64{f.Alkali, f.Water}
	for _, id := range []int64{f.StockLye, f.SecondAlkali} {
		if id != 0 {
			ids = append(ids, id)
		}
	}
	for _, line := range f.Lines {
		ids = append(ids, line.Material)
	}
	for i := 0; i < len(ids); i++ { // ids grows by the parts of prepared materials
		if _, ok := p.materials[ids[i]]; ok {
			continue
		}
		m, err := readMaterial(ctx, q, ids[i])
		if err != nil {
			return err
		}
		p.materials[m.ID] = m
		if m.Kind != "prepared" {
			continue
		}
		if p.parts[m.ID], err = readParts(ctx, q, m.ID); err != nil {
			return err
		}
		for _, part := range p.parts[m.ID] {
			ids = append(ids, part.Material)
		}
	}
	return p.checkRoles()
}

func (p *planner) checkRoles() error {
	f := p.formula
	if p.materials[f.Alkali].Kind != "alkali" {
		return invalid("alkali", "%s is no alkali", p.materials[f.Alkali].Name)
	}
	if second := p.materials[f.SecondAlkali]; f.SecondAlkali != 0 && (second.Kind != "alkali" || second.Alkali == p.materials[f.Alkali].Alkali) {
		return invalid("second_alkali", "%s is not the other alkali: a mixture is of sodium and potassium hydroxide", second.Name)
	}
	if p.materials[f.Water].Kind != "water" {
		return invalid("water", "%s is no water", p.materials[f.Water].Name)
	}
	if f.StockLye != 0 && p.materials[f.StockLye].Kind != "prepared" {
		return invalid("stock_lye", "%s is not prepared here", p.materials[f.StockLye].Name)
	}
	names := map[string]bool{"": true}
	for _, portion := range f.Portions {
		names[portion.Name] = true
	}
	for i, line := range f.Lines {
		m := p.materials[line.Material]
		if m.Kind == "alkali" || line.Material == f.Water || line.Material == f.StockLye || m.Kind == "packaging" {
			return invalid("lines", "line %d: %s is worked out or is not part of the soap; leave it out of the lines", i+1, m.Name)
		}
		if !names[line.Portion] {
			return invalid("lines", "line %d: there is no portion %q", i+1, line.Portion)
		}
	}
	return nil
}

// plan resolves every line to grams, then the alkali for all oils, those inside prepared materials included, and the
// water. Sources of the arithmetic are with the soap package.
func (p *planner) plan() ([]PlanLine, error) {
	f := p.formula
	var plan []PlanLine
	var oils []soap.Oil
	direct := decimal.Zero
	for i := range f.Lines {
		line, m := &f.Lines[i], p.materials[f.Lines[i].Material]
		var err error
		if line.Grams, err = f.grams(*line, m); err != nil {
			return nil, invalid("lines", "line %d, %s: %s", i+1, m.Name, err)
		}
		if m.Kind == "oil" {
			direct = direct.Add(line.Grams)
		}
		oils = append(oils, p.oilsIn(m.ID, line.Grams)...)
		p.acids = append(p.acids, p.acidsIn(m.ID, line.Grams)...)
		plan = append(plan, planLine(m, false, line.Portion, p.rounded(line.Grams)))
	}
	// Lines by per cent may leave a trace of rounding; a tenth of a gram is less than a kitchen scale shows.
	if direct.Sub(f.OilGrams).Abs().GreaterThan(decimal.New(1, -1)) {
		return nil, invalid("oil_grams", "the oil lines sum to %s g, not to %s g; correct the total or the lines", direct, f.OilGrams)
	}
	first, err := p.lye(oils)
	if err != nil {
		return nil, err
	}
	plan = append(first, plan...)
	return plan, p.sure(plan)
}

// oilsIn are the oils in some grams of a material, those of a prepared one as planned, over their published ranges.
func (p *planner) oilsIn(material int64, grams decimal.Decimal) (list []soap.Oil) {
	for _, in := range p.inside(material, grams) {
		if m := p.materials[in.Material]; m.Kind == "oil" {
			list = append(list, oilOf(m, in.Share))
		}
	}
	return list
}

// acidsIn are the acids in some grams of a material.
func (p *planner) acidsIn(material int64, grams decimal.Decimal) (list []soap.Acid) {
	for _, in := range p.inside(material, grams) {
		list = append(list, acidsOf(p.materials[in.Material], in.Share)...)
	}
	return list
}

// alkalisIn are the alkalis in some grams of a material, at the purity that the formula plans with.
func (p *planner) alkalisIn(material int64, grams decimal.Decimal) (list []soap.Alkali) {
	for _, in := range p.inside(material, grams) {
		if m := p.materials[in.Material]; m.Kind == "alkali" {
			list = append(list, soap.Alkali{Kind: m.Alkali, Grams: in.Share, Purity: p.purity(in.Material)})
		}
	}
	return list
}

// inside are the grams of each part of a prepared material; any other is its own only part.
func (p *planner) inside(material int64, grams decimal.Decimal) []MaterialPart {
	parts := p.parts[material]
	if len(parts) == 0 {
		return []MaterialPart{{material, grams}}
	}
	list := make([]MaterialPart, len(parts))
	for i, part := range parts {
		list[i] = MaterialPart{part.Material, grams.Mul(part.Share)}
	}
	return list
}

// purity is what the formula takes an alkali for.
func (p *planner) purity(alkali int64) decimal.Decimal {
	if alkali == p.formula.SecondAlkali {
		return p.formula.SecondPurity
	}
	return p.formula.AlkaliPurity
}

func (f *FormulaDefined) grams(line FormulaLine, m Material) (decimal.Decimal, error) {
	if err := positive("amount", line.Amount); err != nil {
		return decimal.Zero, err
	}
	switch line.Basis {
	case ByMass:
		return line.Amount.Round(3), nil
	case ByPercent:
		return f.OilGrams.Mul(line.Amount).Shift(-2).Round(3), nil
	case BySpoon:
		return f.bySpoon(line, m)
	}
	return decimal.Zero, fmt.Errorf("the basis %q is not one of: %s, %s, %s", line.Basis, ByMass, ByPercent, BySpoon)
}

// bySpoon turns a kitchen rate into grams, for example one teaspoon per pound of oils. For powders it depends on packing by a
// factor of two: weighing one level spoon of the lot beats any table.
func (f *FormulaDefined) bySpoon(line FormulaLine, m Material) (decimal.Decimal, error) {
	if !line.Unit.IsVolume() && line.Unit != measure.Drop {
		return decimal.Zero, fmt.Errorf("unit: %q is no spoon, cup or drop", line.Unit)
	}
	each, err := m.bulk().GramsPer(line.Unit)
	if err != nil {
		return decimal.Zero, err
	}
	per, err := measure.Bulk{}.GramsPer(line.Per)
	if err != nil {
		return decimal.Zero, fmt.Errorf("per: %w", err)
	}
	return line.Amount.Mul(each).Mul(f.OilGrams).DivRound(per, 3), nil
}

// planLine sets how far a weighing may be off without a reason: lye, dry or from stock, by half a per cent or 1 g; oils and
// water by 2 % or 5 g; scents, colours and the rest by 2 % or half a gram, whichever is larger; never more than a
// tenth. Common practice, no source.
func planLine(m Material, lye bool, portion string, grams decimal.Decimal) PlanLine {
	part, least := decimal.New(2, -2), decimal.NewFromInt(5)
	switch {
	case lye:
		part, least = decimal.New(5, -3), decimal.NewFromInt(1)
	case m.Kind != "oil" && m.Kind != "water":
		least = decimal.New(5, -1)
	}
	tolerance := decimal.Min(decimal.Max(grams.Mul(part), least), grams.Mul(decimal.New(1, -1)))
	return PlanLine{Material: m.ID, Portion: portion, Grams: grams, Tolerance: tolerance.Round(3)}
}
