package ledger

import (
	"context"
	"slices"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"ashbook/ledger/measure"
)

// PortionMass is what one portion weighed when the pot was divided.
type PortionMass struct {
	Name  string          `json:"name"`
	Mass  measure.Mass    `json:"mass"`
	Share decimal.Decimal `json:"share" readOnly:"true" doc:"mass fraction of what was divided"`
}

// PortionsSplit says how the pot was really divided; until then the shares of the plan hold.
type PortionsSplit struct {
	Batch    int64         `json:"batch"`
	Portions []PortionMass `json:"portions" doc:"every portion of the batch with its mass"`
	// Density turns cups of batter into grams; a portion on the scale needs none.
	Density *decimal.Decimal `json:"batter_density,omitempty" doc:"g per mL of the batter, for portions measured by volume: weigh a full cup"`
}

// Kind names the entry.
func (*PortionsSplit) Kind() string { return "portions.split" }

// Right is what it asks for.
func (*PortionsSplit) Right() Right { return MayMake }

// Subjects is the batch.
func (p *PortionsSplit) Subjects() []int64 { return []int64{p.Batch} }

// Also are the lots that the batch gave and all that these went into: a correction may take their release back.
func (p *PortionsSplit) Also(ctx context.Context, tx *Tx) ([]int64, error) {
	return after(ctx, tx, p.Batch)
}

// Check wants every portion once, while the batter can still be divided.
func (p *PortionsSplit) Check(ctx context.Context, tx *Tx, e *Entry) error {
	b, err := readBatch(ctx, tx, p.Batch)
	if err != nil {
		return err
	}
	if e.Corrects == 0 {
		if err := b.mustBe("dividing the pot", Combined); err != nil {
			return err
		}
	}
	known, err := readPortions(ctx, tx, p.Batch)
	if err != nil {
		return err
	}
	if len(known) == 0 {
		return invalid("batch", "batch %s has no portions; plan them in the formula", b.Code)
	}
	if slices.ContainsFunc(known, func(k BatchPortion) bool { return k.Grams != nil }) {
		return conflict("the pot of batch %s is divided already; correct that entry", b.Code)
	}
	batter, err := p.batter()
	if err != nil {
		return err
	}
	masses, total := map[string]*PortionMass{}, decimal.Zero
	for i := range p.Portions {
		m := &p.Portions[i]
		if m.Mass, err = measure.ParseMass(m.Mass.Typed, m.Mass.Unit, batter); err != nil {
			return invalid("portions", "%s: %s", m.Name, err)
		}
		if err := positive("portions", m.Mass.Grams); err != nil {
			return err
		}
		masses[m.Name], total = m, total.Add(m.Mass.Grams)
	}
	pot, err := scalar[decimal.Decimal](ctx, tx, poured, p.Batch)
	if err != nil {
		return err
	}
	if total.GreaterThan(pot.Mul(decimal.New(102, -2))) { // as for what a batch gives: scales differ a little
		return invalid("portions", "the portions weigh %s g together, only %s g were weighed in; weigh again, without the vessels", total, pot)
	}
	return p.resolve(known, masses)
}

// batter is what is known of the soap in the pot. Batter is near 1 g/mL, whipped less; a figure far off is a slip.
// Common practice, no source.
func (p *PortionsSplit) batter() (measure.Bulk, error) {
	if p.Density == nil {
		if i := slices.IndexFunc(p.Portions, func(m PortionMass) bool { return m.Mass.Unit.IsVolume() }); i >= 0 {
			return measure.Bulk{}, invalid("batter_density", "%s is measured by volume; give the density of the batter, or weigh it", p.Portions[i].Name)
		}
		return measure.Bulk{}, nil
	}
	if p.Density.LessThan(decimal.New(4, -1)) || p.Density.GreaterThan(decimal.New(14, -1)) {
		return measure.Bulk{}, invalid("batter_density", "%s g/mL is no batter, which is 0.4 to 1.4; weigh a full cup and divide by its millilitres", p.Density)
	}
	return measure.Bulk{Density: *p.Density}, nil
}

func (p *PortionsSplit) resolve(known []BatchPortion, masses map[string]*PortionMass) error {
	list := make([]FormulaPortion, len(known))
	total := decimal.Zero
	for i, k := range known {
		m := masses[k.Name]
		if m == nil || len(p.Portions) != len(known) {
			return invalid("portions", "give the mass of each portion once; %q is missing or one is there twice", k.Name)
		}
		list[i] = FormulaPortion{Name: k.Name, Share: m.Mass.Grams}
		total = total.Add(m.Mass.Grams)
	}
	shares(list, total)
	for _, s := range list {
		masses[s.Name].Share = s.Share
	}
	return nil
}

// Apply sets the shares that were weighed.
func (p *PortionsSplit) Apply(ctx context.Context, tx *Tx, _ *Entry) error {
	batch := &pgx.Batch{}
	for _, m := range p.Portions {
		batch.Queue(`update batch_portion set share = $3, grams = $4 where batch_id = $1 and portion = $2`, p.Batch, m.Name, m.Share, m.Mass.Grams)
	}
	return tx.SendBatch(ctx, batch).Close()
}

// Strike goes back to the shares of the plan. A release that stood on the others is open again.
func (p *PortionsSplit) Strike(ctx context.Context, tx *Tx, _, by *Entry) error {
	_, err := tx.Exec(ctx, `update batch_portion bp set grams = null, share = fp.share from batch b, formula_portion fp
		where bp.batch_id = $1 and b.id = bp.batch_id and fp.version_id = b.formula_version_id and fp.portion = bp.portion`, p.Batch)
	if err != nil {
		return err
	}
	return tx.reopenAll(ctx, p.Batch, by)
}
