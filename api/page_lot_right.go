package api

import (
	"fmt"
	"net/http"
	"slices"

	"ashbook/api/pages"
	"ashbook/ledger"
)

// rightForm puts right what was written when the lot came in or was made. Both stay on record, the wrong one struck
// through.
func rightForm(lot ledger.Lot) *pages.Form {
	f := pages.NewForm("right", "/lots/"+digits(lot.ID)+"/right", "Put it right")
	f.Fields = append(f.Fields, pages.In(pages.Hidden, "entry", "", "").Is(digits(lot.Entry)))
	switch lot.What {
	case "bought":
		f.Fields = append(f.Fields, pages.In(pages.Text, "supplier_lot", "Supplier's lot number", "Empty: none was given.").Is(lot.SupplierLot))
	case "bars":
		f.Fields = append(f.Fields, pages.In(pages.Count, "pieces", "How many bars there were", "").Is(lot.Amount.String()).Must().Large())
	}
	f.Fields = append(f.Fields, pages.In(pages.Decimal, "mass", "What all of it weighed", "").Is(lot.Grams.String()).Must().Large(), unitField("unit", massUnits()),
		pages.In(pages.Date, "best_before", "Best before", "").Is(dateOrNothing(lot)),
		pages.In(pages.Text, "reason", "What was wrong?", "").Must())
	return f
}

func dateOrNothing(lot ledger.Lot) string {
	if lot.BestBefore == nil {
		return ""
	}
	return lot.BestBefore.Format("2006-01-02")
}

func (s *Server) postRight(w http.ResponseWriter, r *http.Request) error {
	lot, in, page, err := s.onLot(r, rightForm, func(p *pages.Lot, f *pages.Form) { p.Right = f })
	if err != nil {
		return err
	}
	e, err := s.ledger.JournalEntry(r.Context(), in.count("entry"))
	if err != nil {
		return err
	}
	body, err := righted(lot, e, in)
	if err != nil {
		return err
	}
	in.req.Corrects, in.req.Reason = e.ID, in.text("reason")
	return in.record(w, body, page, toLot(lot, fmt.Sprintf("is put right; entry %d is struck through.", e.ID)))
}

// righted is the record of the lot with what was typed in place of what was wrong.
func righted(lot ledger.Lot, e ledger.JournalEntry, in *input) (ledger.Body, error) {
	switch was := e.Body.(type) {
	case *ledger.LotReceived:
		body := *was
		body.Mass, body.SupplierLot, body.BestBefore = in.mass("mass", "unit"), in.text("supplier_lot"), in.text("best_before")
		body.NoSupplierLot = body.SupplierLot == ""
		return &body, nil
	case *ledger.BatchYielded:
		body := *was
		body.Outputs = slices.Clone(was.Outputs)
		for i := range body.Outputs {
			if o := &body.Outputs[i]; o.ID == lot.ID {
				o.Mass, o.BestBefore = in.mass("mass", "unit"), in.text("best_before")
				if o.What == "bars" {
					o.Pieces = in.count("pieces")
				}
			}
		}
		return &body, nil
	}
	return nil, newProblem("conflict", "the lot was changed meanwhile; look at it again")
}
