package api

import (
	"context"
	"net/http"
	"slices"

	"ashbook/api/pages"
	"ashbook/ledger"
)

// soonDays is how long before its date a lot is shown as something that waits.
const soonDays = 30

func (s *Server) getHome(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	p := &pages.Home{}
	var open []ledger.Batch
	var first []ledger.Lot
	var deviations []ledger.Deviation
	var err error
	keep(&err, &p.Base)(s.base(r, "What waits"))
	keep(&err, &open)(s.openBatches(ctx))
	keep(&err, &p.Held)(s.ledger.Lots(ctx, ledger.LotQuery{OnHand: true, Held: true}))
	keep(&err, &first)(s.ledger.Lots(ctx, ledger.LotQuery{OnHand: true}))
	keep(&err, &deviations)(s.ledger.Deviations(ctx, 0))
	keep(&err, &p.First)(s.firstSteps(ctx, p.Shop != ""))
	if err != nil {
		return err
	}
	for _, stage := range stages {
		here := slices.DeleteFunc(slices.Clone(open), func(b ledger.Batch) bool { return b.Stage != stage })
		if len(here) > 0 {
			list, err := s.waiting(ctx, p.Base, here)
			if err != nil {
				return err
			}
			p.Groups = append(p.Groups, pages.StageGroup{Stage: stage, Batches: list})
		}
	}
	soon := today(p.Base).AddDate(0, 0, soonDays)
	for _, lot := range first {
		if !lot.Held && lot.BestBefore != nil && !lot.BestBefore.After(soon) {
			p.Expiring = append(p.Expiring, lot)
		}
	}
	for _, d := range deviations {
		b, err := s.ledger.Batch(ctx, d.Batch)
		if err != nil {
			return err
		}
		p.Deviations = append(p.Deviations, pages.OpenDeviation{Deviation: d, Code: b.Code, Name: b.Name})
	}
	return show(w, http.StatusOK, p)
}

func (s *Server) openBatches(ctx context.Context) ([]ledger.Batch, error) {
	var all []ledger.Batch
	for _, stage := range stages {
		list, err := s.ledger.Batches(ctx, stage, 0)
		if err != nil {
			return nil, err
		}
		all = append(all, list...)
	}
	return all, nil
}

// firstSteps are what a new shop does once; nil when all is done.
func (s *Server) firstSteps(ctx context.Context, shop bool) ([]pages.FirstStep, error) {
	var err error
	var suppliers []ledger.Supplier
	var materials []ledger.Material
	var lots []ledger.Lot
	var formulas []ledger.FormulaVersion
	keep(&err, &suppliers)(s.ledger.Suppliers(ctx))
	keep(&err, &materials)(s.ledger.Materials(ctx))
	keep(&err, &lots)(s.ledger.Lots(ctx, ledger.LotQuery{Limit: 1}))
	keep(&err, &formulas)(s.ledger.Formulas(ctx))
	steps := []pages.FirstStep{
		{Done: shop, Text: "Say who the shop is", Link: "/shop"},
		{Done: len(suppliers) > 0, Text: "Add a supplier", Link: "/suppliers"},
		{Done: len(materials) > 0, Text: "Define oils, lye and water", Link: "/materials/new"},
		{Done: len(lots) > 0, Text: "Receive a lot of each", Link: "/lots/receive"},
		{Done: len(formulas) > 0, Text: "Define a formula", Link: "/formulas/new"},
	}
	if !slices.ContainsFunc(steps, func(f pages.FirstStep) bool { return !f.Done }) {
		return nil, err
	}
	return steps, err
}
