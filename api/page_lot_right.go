package api

import (
	"fmt"
	"net/http"
	"slices"

	"ashbook/api/pages"
	"ashbook/ledger"
)

// rightForm puts right what was written when the lot came in or was made. Both stay on record, the wrong one struck
// through. of is the material, for lots that have one.
func rightForm(lot ledger.Lot, of *ledger.Material) *pages.Form {
	fields := []pages.Field{pages.In(pages.Hidden, "entry", "", "").Is(digits(lot.Entry))}
	switch lot.What {
	case "bought":
		fields = append(fields, pages.In(pages.Text, "supplier_lot", "Supplier's lot number", "Empty: none was given.").Is(lot.SupplierLot))
	case "bars":
		fields = append(fields, pages.In(pages.Count, "pieces", "How many bars there were", "").Is(lot.Amount.String()).Must().Large())
	}
	fields = append(fields, pages.In(pages.Decimal, "mass", "What all of it weighed", "").Is(lot.Grams.String()).Must().Large(), unitField("unit", massUnits()),
		pages.In(pages.Date, "best_before", "Best before", "").Is(dateOrNothing(lot)))
	fields = append(fields, certificateFields(lot, of)...)
	fields = append(fields, pages.In(pages.Text, "reason", "What was wrong?", "").Must())
	return pages.NewForm("right", "/lots/"+digits(lot.ID)+"/right", "Put it right", fields...)
}

// certificateFields are the figures that the certificate of a bought lot gives.
func certificateFields(lot ledger.Lot, of *ledger.Material) []pages.Field {
	switch {
	case lot.What != "bought" || of == nil:
		return nil
	case of.Kind == "alkali":
		return []pages.Field{purityField("Purity by the certificate, %", lot.Purity), purityHalfField(lot.PurityHalf)}
	case of.Kind == "oil":
		return []pages.Field{sapField("Saponification value by the certificate, mg KOH/g", lot.SAPValue), sapHalfField(lot.SAPHalf)}
	case of.Kind == "scent":
		return []pages.Field{limitField("At most in the finished bar by the certificate, %", lot.LimitShare), limitNoteField(lot.LimitNote)}
	}
	return nil
}

func dateOrNothing(lot ledger.Lot) string {
	if lot.BestBefore == nil {
		return ""
	}
	return lot.BestBefore.Format("2006-01-02")
}

func (s *Server) postRight(w http.ResponseWriter, r *http.Request) error {
	var found error
	form := func(lot ledger.Lot) *pages.Form {
		var of *ledger.Material
		of, found = s.lotMaterial(r.Context(), lot)
		return rightForm(lot, of)
	}
	lot, in, page, err := s.onLot(r, form, func(p *pages.Lot, f *pages.Form) { p.Right = f })
	if err == nil {
		err = found
	}
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
		body.Purity, body.PurityHalf = in.optionalShare("purity"), in.optionalShare("purity_half")
		body.SAPValue, body.SAPHalf = in.optional("sap_value"), in.optional("sap_half")
		body.LimitShare, body.LimitNote = in.optionalShare("limit_share"), in.text("limit_note")
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
