package api

import (
	"errors"
	"net/http"
	"time"

	"ashbook/api/pages"
	"ashbook/ledger"
)

const drillInIt = "drill" // session: when a drill was started, in seconds since 1970; 0: none runs

func (s *Server) getAsk(w http.ResponseWriter, r *http.Request) error {
	p, status, err := s.askPage(r, r.URL.Query().Get("q"))
	if err != nil {
		return err
	}
	return show(w, status, p)
}

// askPage is the answer to what was asked. Nothing found is said on the page, with a status that says so too.
func (s *Server) askPage(r *http.Request, words string) (*pages.Ask, int, error) {
	b, err := s.base(r, "Ask")
	if err != nil {
		return nil, 0, err
	}
	b.Asked = words
	p := &pages.Ask{Base: b, Words: words}
	if started := s.sessions.GetInt64(r.Context(), drillInIt); started != 0 {
		p.Started, p.Drill = time.Unix(started, 0), drillForm(words)
	}
	if words == "" {
		return p, http.StatusOK, nil
	}
	answer, err := s.asked(r.Context(), words)
	if e, ok := errors.AsType[*ledger.Error](err); ok {
		p.Fault = e.Message
		return p, problems[problemNames[e.Fault]].status, nil
	}
	if err != nil {
		return nil, 0, err
	}
	p.Answer, p.Title = answer, "Answer about "+words
	sumBars(p)
	return p, http.StatusOK, nil
}

// sumBars adds up all lots of bars that were reached: what a recall has to account for.
func sumBars(p *pages.Ask) {
	for _, lot := range p.Answer.Reached {
		if lot.What != "bars" || lot.Struck {
			continue
		}
		p.Bars++
		p.Made, p.OnHand, p.Sent = p.Made.Add(lot.Made), p.OnHand.Add(lot.OnHand), p.Sent.Add(lot.Sent)
		p.Kept, p.Gone, p.Unaccounted = p.Kept.Add(lot.Kept), p.Gone.Add(lot.Gone), p.Unaccounted.Add(lot.Unaccounted)
	}
}

func drillForm(words string) *pages.Form {
	return pages.NewForm("drill", "/drills", "End the drill and record it",
		pages.In(pages.Text, "subject", "What was asked about", "").Is(words).Must(),
		pages.In(pages.Area, "notes", "What was found, and what is to be mended", "").Must())
}

func startForm() *pages.Form {
	return pages.NewForm("drill-start", "/drills/start", "Start the clock",
		pages.In(pages.Text, "subject", "Code, supplier's lot, invoice or buyer", "Take a bar from the shelf, or a supplier's notice.").Must())
}

func (s *Server) drillsPage(r *http.Request, start *pages.Form) (pages.Page, error) {
	p := &pages.Drills{}
	var err error
	keep(&err, &p.Base)(s.base(r, "Drills"))
	keep(&err, &p.Drills)(s.ledger.Drills(r.Context()))
	if p.May("sell") {
		p.Start = start
	}
	return p, err
}

func (s *Server) getDrills(w http.ResponseWriter, r *http.Request) error {
	p, err := s.drillsPage(r, startForm())
	if err != nil {
		return err
	}
	return show(w, http.StatusOK, p)
}

func (s *Server) postDrillStart(w http.ResponseWriter, r *http.Request) error {
	in, err := s.read(r, startForm())
	if err != nil {
		return err
	}
	words := in.text("subject")
	page := func() (pages.Page, error) { return s.drillsPage(r, in.form) }
	return in.do(w, page, func() (string, string, error) {
		if _, err := s.ledger.Ask(r.Context(), words); err != nil {
			return "", "", onField(err, "subject")
		}
		s.sessions.Put(r.Context(), drillInIt, s.ledger.Now().Unix())
		return "/ask?q=" + queryOf(words), "The clock runs.", nil
	})
}

// onField moves the blame of an error to the field of this form.
func onField(err error, field string) error {
	if e, ok := errors.AsType[*ledger.Error](err); ok {
		moved := *e
		moved.Field = field
		return &moved
	}
	return err
}

func (s *Server) postDrill(w http.ResponseWriter, r *http.Request) error {
	in, err := s.read(r, drillForm(""))
	if err != nil {
		return err
	}
	started := s.sessions.GetInt64(r.Context(), drillInIt)
	if started == 0 {
		return newProblem("conflict", "no drill is running; start one under Drills")
	}
	body := &ledger.DrillRecorded{Subject: in.text("subject"), StartedAt: time.Unix(started, 0), EndedAt: s.ledger.Now(), Notes: in.text("notes")}
	page := func() (pages.Page, error) {
		p, _, err := s.askPage(r, body.Subject)
		if err != nil {
			return nil, err
		}
		p.Drill = in.form
		return p, nil
	}
	return in.record(w, body, page, func(ledger.Body) (string, string) {
		s.sessions.Remove(r.Context(), drillInIt)
		return "/drills", "The drill is recorded."
	})
}
