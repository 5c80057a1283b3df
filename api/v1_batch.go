package api

import (
	"context"

	"ashbook/ledger"
)

// batchRecord is all that was recorded of a batch. It is gathered by several queries, so that an entry made at that
// moment may stand in one part and not yet in another.
type batchRecord struct {
	ledger.Batch
	Lines      []ledger.BatchLine    `json:"lines" doc:"the weigh list with what has been weighed"`
	Portions   []ledger.BatchPortion `json:"portions"`
	Weighings  []ledger.Weighed      `json:"weighings" doc:"those that were struck included"`
	Readings   []ledger.Reading      `json:"readings"`
	Steps      []ledger.BatchStep    `json:"steps"`
	Passings   []ledger.Passing      `json:"passings" doc:"gates passed against their word"`
	Yield      *ledger.Yielded       `json:"yield,omitempty" doc:"the cut or the filling; none before it"`
	Outputs    []ledger.Lot          `json:"outputs"`
	Deviations []ledger.Deviation    `json:"deviations"`
	Releases   []ledger.Release      `json:"releases"`
	Lye        ledger.LyeState       `json:"lye"`
	Mend       *ledger.Mend          `json:"mend,omitempty" doc:"how much alkali fits the oils that are in the pot, and what mends a slip; soap only"`
	Strength   *ledger.LyeStrength   `json:"lye_strength,omitempty" doc:"the lye by mass and by density; none without alkali"`
	Peak       *ledger.LyePeak       `json:"lye_peak,omitempty" doc:"how hot the lye may get while it is made, as a bound; none without alkali and water"`
}

func (a *v1) batch(ctx context.Context, id int64) (*batchRecord, error) {
	b, err := a.ledger.Batch(ctx, id)
	if err != nil {
		return nil, err
	}
	rec := &batchRecord{Batch: b}
	l := a.ledger
	for _, fill := range []func() error{
		part(ctx, id, &rec.Lines, l.BatchLines),
		part(ctx, id, &rec.Portions, l.BatchPortions),
		part(ctx, id, &rec.Weighings, l.Weighings),
		part(ctx, id, &rec.Readings, l.Readings),
		part(ctx, id, &rec.Steps, l.Steps),
		part(ctx, id, &rec.Passings, l.Passings),
		part(ctx, id, &rec.Yield, l.Yielded),
		part(ctx, id, &rec.Outputs, l.Outputs),
		part(ctx, id, &rec.Deviations, l.Deviations),
		part(ctx, id, &rec.Releases, l.Releases),
		part(ctx, id, &rec.Lye, l.Lye),
		part(ctx, id, &rec.Mend, l.Mend),
		part(ctx, id, &rec.Strength, l.LyeStrength),
		part(ctx, id, &rec.Peak, l.LyePeak),
	} {
		if err := fill(); err != nil {
			return nil, err
		}
	}
	return rec, nil
}

// part reads one part of a record into its place.
func part[T any](ctx context.Context, id int64, into *T, read func(context.Context, int64) (T, error)) func() error {
	return func() error {
		v, err := read(ctx, id)
		*into = v
		return err
	}
}
