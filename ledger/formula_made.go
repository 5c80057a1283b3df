package ledger

import (
	"context"

	"github.com/shopspring/decimal"

	"ashbook/ledger/made"
	"ashbook/ledger/trace"
)

// FormulaMade works out what a version of a formula will be made of when it is weighed as planned: as poured, and as now
// dried to the usual water. Oils stand at the middle of their published ranges, alkali at the purity that the formula plans
// with, prepared materials at their planned parts; portions count as mixed. It is worked out when it is asked for, by the
// materials as they are known now, and the lots that are weighed will differ.
func (l *Ledger) FormulaMade(ctx context.Context, version int64) (*MadeOf, error) {
	formula, err := readFormula(ctx, l.pool, version)
	if err != nil {
		return nil, err
	}
	p := newPlanner(formula, BenchLimits{})
	if err := p.load(ctx, l.pool); err != nil {
		return nil, err
	}
	f, pot, grams := p.family()
	all, err := f.made(pot)
	if err != nil {
		return nil, err
	}
	now := grams.DivRound(shrunkDry(all[pot].Share(made.AnyWater)), 6)
	m, err := f.madeOf(pot, all[pot], grams, massAt{Grams: now, From: "dried to " + usualWater.Shift(2).String() + " % of water, as a cured bar may be"})
	if err == nil {
		m.Pieces = decimal.NewFromInt(int64(formula.Bars))
	}
	return m, err
}

// family is the family of a pot that is filled as planned: each material is a lot of its own number, without a code, and
// each prepared one a batch of its planned parts. It gives the lot of the whole pot and its grams, without what evaporates.
func (p *planner) family() (f *family, pot int64, grams decimal.Decimal) {
	const soap = -1 // nothing has this number, as batch or as lot
	leaves := func(material int64) bool { return p.materials[material].Kind == "spirit" }
	f = &family{lots: map[int64]familyLot{}, materials: p.materials, soap: map[int64]bool{soap: true}}
	for id, m := range p.materials {
		lot := familyLot{ID: id, Material: id}
		if parts := p.parts[id]; len(parts) > 0 {
			lot.Batch = id
			f.Origins = append(f.Origins, trace.Origin{Lot: id, Batch: id})
			for _, part := range parts {
				f.Uses = append(f.Uses, trace.Use{Batch: id, Lot: part.Material, Grams: part.Share, Leaves: leaves(part.Material)})
			}
		}
		if purity := p.purity(id); m.Kind == "alkali" {
			lot.Purity = &purity
		}
		f.lots[id] = lot
	}
	for _, line := range p.formula.Plan {
		f.Uses = append(f.Uses, trace.Use{Batch: soap, Lot: line.Material, Grams: line.Grams, Leaves: leaves(line.Material)})
		if !leaves(line.Material) {
			grams = grams.Add(line.Grams)
		}
	}
	f.Origins = append(f.Origins, trace.Origin{Lot: soap, Batch: soap})
	return f, soap, grams
}
