package api

import (
	"context"
	"errors"
	"net/http"
	"time"

	"ashbook/api/pages"
	"ashbook/labels"
	"ashbook/ledger"
)

// cureCard shows how the bars of a batch of soap cure, with the masses of a day that the query asks about.
func (s *Server) cureCard(r *http.Request, p *pages.Batch) error {
	if p.Batch.CutAt == nil || p.Batch.Purpose != ledger.ForSoap {
		return nil
	}
	typed := r.URL.Query().Get("on")
	on, fault := askedDay(typed)
	c, err := s.ledger.Cure(r.Context(), p.Batch.ID, on)
	if e, ok := errors.AsType[*ledger.Error](err); ok && e.Fault == ledger.Invalid {
		fault = e.Message
		c, err = s.ledger.Cure(r.Context(), p.Batch.ID, time.Time{})
	}
	if err != nil {
		return err
	}
	p.Cure = pages.NewCure(c, labels.ChartOf)
	p.Cure.On, p.Cure.Fault = typed, fault
	return nil
}

// askedDay reads the day of a question; no day asks nothing.
func askedDay(typed string) (on time.Time, fault string) {
	if typed == "" {
		return on, ""
	}
	on, err := time.Parse(time.DateOnly, typed)
	if err != nil {
		return time.Time{}, "write the day as year, month and day, for example 2026-08-14"
	}
	return on, ""
}

// getCureSheet hands out the cure of a batch on paper.
func (s *Server) getCureSheet(w http.ResponseWriter, r *http.Request) error {
	id, err := number(r, "id")
	if err != nil {
		return err
	}
	b, err := s.ledger.Batch(r.Context(), id)
	if err != nil {
		return err
	}
	pdf, err := labels.CureSheet(r.Context(), s.ledger, id)
	if err != nil {
		return err
	}
	return handOut(w, fileOf("Cure of "+b.Code, "application/pdf", pdf))
}

// mostForecasts is how many curves a list of batches works out at most.
const mostForecasts = 60

// readyDays foretells for the batches of a list, the first of those that cure, when they can be ready.
func (s *Server) readyDays(ctx context.Context, list []ledger.Batch) (map[int64]time.Time, error) {
	var curing []ledger.Batch
	for _, b := range list {
		if b.Stage == ledger.Curing && len(curing) < mostForecasts {
			curing = append(curing, b)
		}
	}
	return s.ledger.ReadyDays(ctx, curing)
}
