package api

import (
	"net/http"
	"strconv"
	"time"

	"github.com/go-chi/chi/v5"

	"ashbook/api/pages"
	"ashbook/ledger"
)

const flashInIt = "flash" // session: what was just done, for the next page to say

// base is what every page has.
func (s *Server) base(r *http.Request, title string) (pages.Base, error) {
	ctx := r.Context()
	b := pages.Base{Title: title, Now: s.ledger.Now(), Zone: time.UTC, Person: s.actor(ctx), Flash: s.sessions.PopString(ctx, flashInIt)}
	if identityOf(ctx).mustChange {
		b.Person = ledger.Actor{} // no menu before the password is one's own
	}
	shop, err := s.shop(r)
	if err != nil || shop == nil {
		return b, err
	}
	b.Shop, b.Zone = shop.Name, shop.Zone()
	return b, nil
}

// shop is nil before it was set up.
func (s *Server) shop(r *http.Request) (*ledger.Shop, error) {
	shop, err := s.ledger.Shop(r.Context())
	if ledger.FaultOf(err) == ledger.NotFound && err != nil {
		return nil, nil
	}
	return &shop, err
}

// show draws a page.
func show(w http.ResponseWriter, status int, p pages.Page) error {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	return pages.Render(&late{w, status}, p)
}

// late writes the status only with the first bytes, so that a page that cannot be drawn is answered as a problem.
type late struct {
	http.ResponseWriter
	status int
}

func (l *late) Write(b []byte) (int, error) {
	if l.status != 0 {
		l.WriteHeader(l.status)
		l.status = 0
	}
	return l.ResponseWriter.Write(b)
}

// problemPage answers a problem to a person.
func (s *Server) problemPage(w http.ResponseWriter, r *http.Request, p *problem) {
	b := pages.Base{Title: p.Title, Now: s.ledger.Now(), Person: s.actor(r.Context())}
	page := &pages.Problem{Base: b, Status: p.Status, Message: p.Detail}
	if err := show(w, p.Status, page); err != nil {
		s.log.ErrorContext(r.Context(), "a problem could not be shown", "request", requestName(r.Context()), "error", err)
		http.Error(w, p.Title, p.Status)
	}
}

// number reads a number from the path. What is no number names nothing.
func number(r *http.Request, name string) (int64, error) {
	n, err := strconv.ParseInt(chi.URLParam(r, name), 10, 64)
	if err != nil || n < 1 {
		return 0, newProblem("not-found", "there is nothing at "+r.URL.Path+"; look whether the address is complete")
	}
	return n, nil
}

// toThing leads from the address of a form that came back with a fault, opened anew, to the page of the thing.
func toThing(room string) pageFunc {
	return func(w http.ResponseWriter, r *http.Request) error {
		id, err := number(r, "id")
		if err != nil {
			return err
		}
		http.Redirect(w, r, room+digits(id), http.StatusSeeOther)
		return nil
	}
}

// asked reads a number from the query; 0 when there is none.
func asked(r *http.Request, name string) int64 {
	n, err := strconv.ParseInt(r.URL.Query().Get(name), 10, 64)
	if err != nil {
		return 0
	}
	return n
}

// keep stores a value that was read, and remembers the first error of several reads.
func keep[T any](err *error, into *T) func(T, error) {
	return func(v T, e error) {
		if *err == nil {
			*into, *err = v, e
		}
	}
}

func digits(n int64) string { return strconv.FormatInt(n, 10) }

// today is the shop's calendar day, as dates are kept.
func today(b pages.Base) time.Time {
	zone := b.Zone
	if zone == nil {
		zone = time.UTC
	}
	y, m, d := b.Now.In(zone).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}
