package api

import (
	"context"
	"slices"

	"github.com/shopspring/decimal"

	"ashbook/api/pages"
	"ashbook/ledger"
)

// readRecord reads what was done so far.
func (s *Server) readRecord(ctx context.Context, p *pages.Batch) error {
	id := p.Batch.ID
	var err error
	var outputs []ledger.Lot
	var yield *ledger.Yielded
	keep(&err, &p.Weighings)(s.ledger.Weighings(ctx, id))
	keep(&err, &p.Readings)(s.ledger.Readings(ctx, id))
	keep(&err, &p.Steps)(s.ledger.Steps(ctx, id))
	keep(&err, &p.Passings)(s.ledger.Passings(ctx, id))
	keep(&err, &p.Deviations)(s.ledger.Deviations(ctx, id))
	keep(&err, &p.Releases)(s.ledger.Releases(ctx, id))
	keep(&err, &p.Labels)(s.ledger.Labels(ctx, id))
	keep(&err, &yield)(s.ledger.Yielded(ctx, id))
	keep(&err, &outputs)(s.ledger.Outputs(ctx, id))
	if err != nil {
		return err
	}
	if yield != nil {
		p.Yield = pages.NewYield(*yield)
	}
	if p.Outputs, err = s.lotRows(ctx, p.Base, outputs); err != nil {
		return err
	}
	if err := s.reopened(ctx, p); err != nil {
		return err
	}
	if err := s.lyeCard(ctx, p); err != nil {
		return err
	}
	return s.madeOf(ctx, p)
}

// madeOf works out what the lots of the batch are made of, or before there are any, its pot once all oils are in: alkali
// whose oils still wait would read as free. Trimmings are of the same pot as the bars.
func (s *Server) madeOf(ctx context.Context, p *pages.Batch) error {
	for _, lot := range p.Outputs {
		if lot.What == "remnants" {
			continue
		}
		c, err := s.composition(s.ledger.Made(ctx, lot.Lot))
		if err != nil {
			return err
		}
		c.Title, c.Link = lot.Code, "/lots/"+digits(lot.ID)
		p.Made = append(p.Made, c)
	}
	stands := func(w ledger.Weighed) bool { return w.StruckBy == nil }
	if len(p.Made) > 0 || p.OilsOpen || !slices.ContainsFunc(p.Weighings, stands) {
		return nil
	}
	c, err := s.composition(s.ledger.MadeOfBatch(ctx, p.Batch.ID))
	p.Made = []*pages.Composition{c}
	return err
}

// lyeCard sums the lye as weighed, and says what the sum counts.
func (s *Server) lyeCard(ctx context.Context, p *pages.Batch) error {
	var err error
	if p.Strength, err = s.ledger.LyeStrength(ctx, p.Batch.ID); err != nil {
		return err
	}
	if p.Batch.Purpose != ledger.ForSoap {
		return nil
	}
	if slices.Contains([]string{ledger.Weighing, ledger.LyeMade, ledger.Combined}, p.Batch.Stage) {
		if p.Mend, err = s.ledger.Mend(ctx, p.Batch.ID); err != nil {
			return err
		}
	}
	if len(p.Weighings) == 0 {
		return nil
	}
	lye, err := s.ledger.Lye(ctx, p.Batch.ID)
	if err != nil {
		return err
	}
	p.Lye = &lye
	p.OilsOpen = slices.ContainsFunc(p.Lines, func(l *pages.Line) bool { return l.Kind == "oil" && l.Missing() })
	for _, w := range p.Weighings {
		if w.StruckBy != nil || w.Line == nil || !slices.ContainsFunc(p.Lines, func(l *pages.Line) bool { return l.Line == *w.Line && l.Lye }) {
			continue
		}
		if slices.ContainsFunc(p.Alkalis, func(l ledger.Lot) bool { return l.ID == w.Lot }) {
			continue
		}
		lot, err := s.ledger.Lot(ctx, w.Lot)
		if err != nil {
			return err
		}
		if lot.What == "bought" { // the alkali of a stock lye has its certificate further back
			p.Alkalis = append(p.Alkalis, lot)
		}
	}
	return nil
}

// reopened finds the release that a correction took back while the batch waits for another, and how many of its bars
// are out meanwhile.
func (s *Server) reopened(ctx context.Context, p *pages.Batch) error {
	if p.Batch.Stage != ledger.Curing {
		return nil
	}
	for _, r := range slices.Backward(p.Releases) {
		if r.Decision == ledger.Released && r.ReopenedBy != nil {
			p.Reopened = &r
			break
		}
	}
	if p.Reopened == nil {
		return nil
	}
	answer, err := s.ledger.Ask(ctx, p.Batch.Code)
	if err != nil {
		return err
	}
	p.Out = barsOut(answer, p.Batch.ID)
	return nil
}

// barsOut counts the bars of a batch that were sent and did not come back.
func barsOut(a *ledger.Answer, batch int64) decimal.Decimal {
	var out decimal.Decimal
	for _, lot := range a.Reached {
		if lot.BatchID == batch && lot.What == "bars" {
			out = out.Add(lot.Sent)
		}
	}
	return out
}
