package api

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"ashbook/api/pages"
	"ashbook/ledger"
)

func (s *Server) getBatch(w http.ResponseWriter, r *http.Request) error {
	id, err := number(r, "id")
	if err != nil {
		return err
	}
	line, err := strconv.Atoi(r.URL.Query().Get("line"))
	if err != nil {
		line = 0
	}
	p, err := s.batchPage(r, id, line)
	if err != nil {
		return err
	}
	return show(w, http.StatusOK, p)
}

// batchPage is the bench for a batch. line is the line of the weigh list that the person chose; 0: the next.
func (s *Server) batchPage(r *http.Request, id int64, line int) (*pages.Batch, error) {
	ctx := r.Context()
	batch, err := s.ledger.Batch(ctx, id)
	if err != nil {
		return nil, err
	}
	p := &pages.Batch{Batch: batch}
	keep(&err, &p.Base)(s.base(r, batch.Code+" "+batch.Name))
	keep(&err, &p.Lines)(s.weighList(ctx, batch))
	keep(&err, &p.Portions)(s.ledger.BatchPortions(ctx, id))
	if err != nil {
		return nil, err
	}
	for _, l := range p.Lines {
		if !l.Missing() {
			p.Done++
		}
	}
	if err := s.readRecord(ctx, p); err != nil {
		return nil, err
	}
	if err := s.making(ctx, p); err != nil {
		return nil, err
	}
	if err := s.cureCard(r, p); err != nil {
		return nil, err
	}
	p.Track = track(batch)
	if !p.May("make") && !p.May("release") && !p.May("sell") {
		p.Now = pages.Now{Title: batch.Stage}
		return p, nil
	}
	return p, s.whatNext(ctx, p, line)
}

// weighList is the weigh list with the bounds of each line.
func (s *Server) weighList(ctx context.Context, batch ledger.Batch) ([]*pages.Line, error) {
	lines, err := s.ledger.BatchLines(ctx, batch.ID)
	var list []*pages.Line
	for _, l := range lines {
		left := l.Planned.Sub(l.Weighed)
		if left.IsNegative() {
			left = left.Sub(left)
		}
		list = append(list, &pages.Line{BatchLine: l, Left: left, Least: left.Sub(l.Tolerance), Most: left.Add(l.Tolerance)})
	}
	return list, err
}

// making says what is made, and links to it.
func (s *Server) making(ctx context.Context, p *pages.Batch) error {
	b := p.Batch
	p.Making = b.Purpose
	switch {
	case b.FormulaVersion != nil:
		f, err := s.ledger.Formula(ctx, *b.FormulaVersion)
		if err != nil {
			return err
		}
		p.Making, p.MakingLink = fmt.Sprintf("%s, version %d", f.Name, f.Version), "/formulas/"+digits(f.ID)
	case b.Material != nil:
		m, err := s.ledger.Material(ctx, *b.Material)
		if err != nil {
			return err
		}
		p.Making, p.MakingLink = b.Purpose+": "+m.Name, "/materials/"+digits(m.ID)
	}
	return nil
}

// track is the way of a batch through its stages.
func track(b ledger.Batch) []pages.Stage {
	names := []string{ledger.Planned, ledger.Weighing, ledger.LyeMade, ledger.Combined, ledger.Poured, ledger.Unmoulded, ledger.Curing, ledger.Released}
	if b.Purpose != ledger.ForSoap {
		names = []string{ledger.Planned, ledger.Weighing, ledger.Made}
	}
	if b.Stage == ledger.Rejected {
		names[len(names)-1] = ledger.Rejected
	}
	at := slices.Index(names, b.Stage)
	list := make([]pages.Stage, len(names))
	for i, name := range names {
		list[i] = pages.Stage{Name: name, Past: i < at, Current: i == at}
	}
	return list
}

// bars are the lots of bars that a batch gave.
func bars(p *pages.Batch) []ledger.Lot {
	var list []ledger.Lot
	for _, o := range p.Outputs {
		if o.What == "bars" {
			list = append(list, o.Lot)
		}
	}
	return list
}
