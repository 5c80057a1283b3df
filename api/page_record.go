package api

import (
	"errors"
	"net/http"

	"ashbook/api/pages"
	"ashbook/ledger"
)

// outcome says where to go after something was recorded, and what to say there.
type outcome func(ledger.Body) (to, say string)

// again makes the page on which the form stands, with the form as it is now.
type again func() (pages.Page, error)

// record records what a form says and goes on to where that is seen. What the person can mend is said in the form, on
// the page that it stands on, with everything typed kept.
func (in *input) record(w http.ResponseWriter, body ledger.Body, page again, done outcome) error {
	return in.do(w, page, func() (to, say string, err error) {
		in.req.Body = body
		receipt, err := in.s.ledger.Record(in.r.Context(), in.s.actor(in.r.Context()), in.req)
		if err != nil {
			return "", "", err
		}
		to, say = done(receipt.Record)
		return to, say, nil
	})
}

// do is record for what is not one entry.
func (in *input) do(w http.ResponseWriter, page again, work func() (to, say string, err error)) error {
	status := http.StatusUnprocessableEntity
	if !in.form.Faulty() {
		to, say, err := work()
		if err == nil {
			in.s.goOn(w, in.r, to, say)
			return nil
		}
		if status, err = in.blame(err); err != nil {
			return err
		}
	}
	return in.back(w, status, page)
}

// back shows the form again.
func (in *input) back(w http.ResponseWriter, status int, page again) error {
	p, err := page()
	if err != nil {
		return err
	}
	return show(w, status, p)
}

// blame puts an error into the form and gives the status of the answer. An error that the person cannot mend stays.
func (in *input) blame(err error) (int, error) {
	if p, ok := errors.AsType[*problem](err); ok && p.Status < http.StatusInternalServerError {
		in.form.Blame("", p.Detail)
		return p.Status, nil
	}
	e, ok := errors.AsType[*ledger.Error](err)
	if !ok || e.Fault == ledger.Internal {
		return 0, err
	}
	if e.Fault == ledger.Refused {
		in.form.Fault, in.form.Findings, in.form.Open = e.Message, e.Findings, true
		// A refusal that names a field is one that no reason passes.
		in.form.MayPass = e.Field == "" && in.s.actor(in.r.Context()).May(ledger.MayOverride)
	} else {
		in.form.Blame(e.Field, e.Message)
	}
	return problems[problemNames[e.Fault]].status, nil
}

// goOn leads to another page, which says what was done.
func (s *Server) goOn(w http.ResponseWriter, r *http.Request, to, say string) {
	if say != "" {
		s.sessions.Put(r.Context(), flashInIt, say)
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

func asTooLarge(err error) (*http.MaxBytesError, bool) {
	return errors.AsType[*http.MaxBytesError](err)
}
