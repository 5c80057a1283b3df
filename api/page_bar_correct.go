package api

import (
	"fmt"
	"net/http"
	"slices"
	"time"

	"ashbook/api/pages"
	"ashbook/ledger"
)

// barWeighed is the weighing of a bar of an entry, with its batch, which the query names.
func (s *Server) barWeighed(r *http.Request) (ledger.Batch, ledger.Reading, error) {
	entry, err := number(r, "id")
	if err != nil {
		return ledger.Batch{}, ledger.Reading{}, err
	}
	b, err := s.ledger.Batch(r.Context(), asked(r, "batch"))
	if err != nil {
		return b, ledger.Reading{}, err
	}
	list, err := s.ledger.Readings(r.Context(), b.ID)
	if err != nil {
		return b, ledger.Reading{}, err
	}
	i := slices.IndexFunc(list, func(r ledger.Reading) bool { return r.Entry == entry && r.Type == ledger.BarMass })
	if i < 0 {
		return b, ledger.Reading{}, newProblem("not-found", fmt.Sprintf("entry %d is no weighing of a bar of batch %s", entry, b.Code))
	}
	return b, list[i], nil
}

// barCorrectPage offers the form of the weighing, filled with what was recorded, and the reason.
func (s *Server) barCorrectPage(r *http.Request, b ledger.Batch, was ledger.Reading) (*pages.Correct, error) {
	outputs, err := s.ledger.Outputs(r.Context(), b.ID)
	if err != nil {
		return nil, err
	}
	base, err := s.base(r, "Put a weighing right")
	if err != nil {
		return nil, err
	}
	form := barForm(b, barsOf(outputs), "The mark of the bar that was on the scale.")
	why := whyField()
	why.Form = form.ID
	form.Fields = slices.Insert(form.Fields, 0, why)
	form.Action, form.Button = fmt.Sprintf("/bars/%d/correct?batch=%d", was.Entry, b.ID), "Record what is true"
	for name, value := range map[string]string{"lot": digits(*was.Lot), "sample": was.Sample, "typed": was.Typed, "unit": was.TypedUnit, "instrument": was.Instrument,
		"happened_at": was.HappenedAt.In(base.Zone).Format(momentLayout)} {
		form.Set(name, value)
	}
	back := "/batches/" + digits(b.ID)
	what := fmt.Sprintf("bar %s: %s %s, by %s, %s", was.Sample, was.Typed, was.TypedUnit, was.Person, base.When(was.HappenedAt))
	return &pages.Correct{Base: base, Entry: was.Entry, What: what, Back: back, Form: form, Strike: strikeForm(was.Entry, back)}, nil
}

func (s *Server) getBarCorrect(w http.ResponseWriter, r *http.Request) error {
	b, was, err := s.barWeighed(r)
	if err != nil {
		return err
	}
	p, err := s.barCorrectPage(r, b, was)
	if err != nil {
		return err
	}
	return show(w, http.StatusOK, p)
}

func (s *Server) postBarCorrect(w http.ResponseWriter, r *http.Request) error {
	b, was, err := s.barWeighed(r)
	if err != nil {
		return err
	}
	p, err := s.barCorrectPage(r, b, was)
	if err != nil {
		return err
	}
	in, err := s.read(r, p.Form)
	if err != nil {
		return err
	}
	in.req.Corrects, in.req.Reason = was.Entry, in.text("reason")
	if in.text("happened_at") == was.HappenedAt.In(p.Zone).Format(momentLayout) {
		in.req.HappenedAt = time.Time{} // not changed: the very moment of the corrected entry, which may be seconds after the cut
	}
	page := func() (pages.Page, error) { p.Form = in.form; return p, nil }
	return in.record(w, in.reading(b), page, toBatch(b, fmt.Sprintf("Entry %d is put right.", was.Entry)))
}
