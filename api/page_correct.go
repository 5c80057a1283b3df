package api

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"

	"ashbook/api/pages"
	"ashbook/ledger"
)

func whyField() pages.Field {
	return pages.In(pages.Area, "reason", "Why is it put right?", "What was wrong, and how it was found.").Must()
}

// weighed is the weighing of an entry, with its batch, which the query names.
func (s *Server) weighed(r *http.Request) (ledger.Batch, ledger.Weighed, error) {
	entry, err := number(r, "id")
	if err != nil {
		return ledger.Batch{}, ledger.Weighed{}, err
	}
	b, err := s.ledger.Batch(r.Context(), asked(r, "batch"))
	if err != nil {
		return b, ledger.Weighed{}, err
	}
	list, err := s.ledger.Weighings(r.Context(), b.ID)
	if err != nil {
		return b, ledger.Weighed{}, err
	}
	i := slices.IndexFunc(list, func(w ledger.Weighed) bool { return w.Entry == entry })
	if i < 0 {
		return b, ledger.Weighed{}, newProblem("not-found", fmt.Sprintf("entry %d is no weighing of batch %s", entry, b.Code))
	}
	return b, list[i], nil
}

// correctForm is the form of the weighing, filled with what was recorded, and the reason.
func (s *Server) correctForm(r *http.Request, b ledger.Batch, was ledger.Weighed) (*pages.Form, error) {
	number := ""
	if was.Line != nil {
		number = digits(int64(*was.Line))
	}
	line, err := s.lineOf(r.Context(), b, number)
	if err != nil {
		return nil, err
	}
	portions, err := s.ledger.BatchPortions(r.Context(), b.ID)
	if err != nil {
		return nil, err
	}
	form, err := s.weighForm(r.Context(), b, line, portions)
	if err != nil {
		return nil, err
	}
	form.Fields = slices.Insert(form.Fields, 0, func() pages.Field { f := whyField(); f.Form = form.ID; return f }())
	form.Offer("lot", pages.Option{Value: digits(was.Lot), Label: was.LotCode, Note: was.Name + ", as recorded"})
	form.Action, form.Button = fmt.Sprintf("/weighings/%d/correct?batch=%d", was.Entry, b.ID), "Record what is true"
	for name, value := range map[string]string{"lot": digits(was.Lot), "mass": was.Typed, "unit": was.TypedUnit, "second_check": was.SecondCheck,
		"scale": was.Scale, "portion": was.Portion, "happened_at": was.HappenedAt.Format(momentLayout)} {
		form.Set(name, value)
	}
	if was.Unit == "piece" {
		form.Set("pieces", was.Amount.String())
	}
	return form, nil
}

func strikeForm(entry int64, back string) *pages.Form {
	f := pages.NewForm("strike", fmt.Sprintf("/entries/%d/strike?back=%s", entry, url.QueryEscape(back)), "Strike the entry", whyField())
	f.Danger = true
	return f
}

func (s *Server) correctPage(r *http.Request, b ledger.Batch, was ledger.Weighed, form *pages.Form) (*pages.Correct, error) {
	base, err := s.base(r, "Put a weighing right")
	back := "/batches/" + digits(b.ID)
	what := fmt.Sprintf("%s %s of %s, lot %s, by %s, %s", was.Typed, was.TypedUnit, was.Name, was.LotCode, was.Person, base.When(was.HappenedAt))
	return &pages.Correct{Base: base, Entry: was.Entry, What: what, Back: back, Form: form, Strike: strikeForm(was.Entry, back)}, err
}

func (s *Server) getCorrect(w http.ResponseWriter, r *http.Request) error {
	b, was, err := s.weighed(r)
	if err != nil {
		return err
	}
	form, err := s.correctForm(r, b, was)
	if err != nil {
		return err
	}
	p, err := s.correctPage(r, b, was, form)
	if err != nil {
		return err
	}
	form.Set("happened_at", was.HappenedAt.In(p.Zone).Format(momentLayout))
	return show(w, http.StatusOK, p)
}

func (s *Server) postCorrect(w http.ResponseWriter, r *http.Request) error {
	b, was, err := s.weighed(r)
	if err != nil {
		return err
	}
	form, err := s.correctForm(r, b, was)
	if err != nil {
		return err
	}
	in, err := s.read(r, form)
	if err != nil {
		return err
	}
	in.req.Corrects, in.req.Reason = was.Entry, in.text("reason")
	page := func() (pages.Page, error) { return s.correctPage(r, b, was, in.form) }
	return in.record(w, in.weighing(b.ID), page, toBatch(b, fmt.Sprintf("Entry %d is put right.", was.Entry)))
}

func (s *Server) strikePage(r *http.Request, form func(entry int64, back string) *pages.Form) (*pages.Correct, error) {
	id, err := number(r, "id")
	if err != nil {
		return nil, err
	}
	e, err := s.ledger.JournalEntry(r.Context(), id)
	if err != nil {
		return nil, err
	}
	b, err := s.base(r, "Strike an entry")
	if err != nil {
		return nil, err
	}
	back := r.URL.Query().Get("back")
	if back == "" {
		back = "/journal"
	}
	back = localPath(back)
	line := journalLine(s.actor(r.Context()), e)
	return &pages.Correct{Base: b, Entry: id, What: line.Kind + " " + line.What + ", by " + line.Person, Back: back, Strike: form(id, back)}, nil
}

func (s *Server) getStrike(w http.ResponseWriter, r *http.Request) error {
	p, err := s.strikePage(r, strikeForm)
	if err != nil {
		return err
	}
	return show(w, http.StatusOK, p)
}

func (s *Server) postStrike(w http.ResponseWriter, r *http.Request) error {
	p, err := s.strikePage(r, strikeForm)
	if err != nil {
		return err
	}
	in, err := s.read(r, p.Strike)
	if err != nil {
		return err
	}
	in.req.Corrects, in.req.Reason = p.Entry, in.text("reason")
	return in.record(w, &ledger.EntryStruck{}, func() (pages.Page, error) { return p, nil }, func(ledger.Body) (string, string) {
		return p.Back, fmt.Sprintf("Entry %d is struck.", p.Entry)
	})
}
