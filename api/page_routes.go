package api

import (
	"fmt"
	"net/http"

	"github.com/go-chi/chi/v5"

	"ashbook/ledger"
)

// mountStatic mounts what every page loads, outside the sessions.
func (s *Server) mountStatic(chi.Router) {}

// mountPages mounts the pages; each says which right it needs.
func (s *Server) mountPages(r chi.Router) {
	r.Get("/", s.page(ledger.MayRead, func(w http.ResponseWriter, r *http.Request) error {
		_, err := fmt.Fprintf(w, "Good day, %s.\n", s.actor(r.Context()).Name)
		return err
	}))
}

// problemPage answers a problem to a person.
func (s *Server) problemPage(w http.ResponseWriter, _ *http.Request, p *problem) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.WriteHeader(p.Status)
	fmt.Fprintf(w, "%s\n\n%s\n", p.Title, p.Detail)
}
