package api

import (
	"context"
	"net/http"
	"slices"

	"github.com/shopspring/decimal"

	"ashbook/api/pages"
	"ashbook/ledger"
	"ashbook/ledger/measure"
)

var sorts = []pages.Option{{Label: "All on hand"}, {Value: "bought", Label: "Bought"}, {Value: "prepared", Label: "Prepared"},
	{Value: "bars", Label: "Bars"}, {Value: "remnants", Label: "Trimmings"}, {Value: "gone", Label: "Used up"}}

func (s *Server) getStock(w http.ResponseWriter, r *http.Request) error {
	what := r.URL.Query().Get("what")
	query := ledger.LotQuery{What: what, OnHand: true, After: asked(r, "after")}
	if what == "gone" {
		query.What, query.OnHand, query.UsedUp = "", false, true
	}
	p := &pages.Stock{What: what, Sorts: sorts}
	var lots []ledger.Lot
	var err error
	keep(&err, &p.Base)(s.base(r, "Stock"))
	keep(&err, &lots)(s.ledger.Lots(r.Context(), query))
	if err != nil {
		return err
	}
	if n := len(lots); n == ledger.LotsAtOnce {
		p.Next = lots[n-1].ID
	}
	if p.Lots, err = s.lotRows(r.Context(), p.Base, lots); err != nil {
		return err
	}
	return show(w, http.StatusOK, p)
}

// lotRows say of each lot what it may be used for today.
func (s *Server) lotRows(ctx context.Context, b pages.Base, lots []ledger.Lot) ([]pages.LotRow, error) {
	var rows []pages.LotRow
	stages := map[int64]string{}
	for _, lot := range lots {
		row := pages.LotRow{Lot: lot, State: lot.State()}
		if row.State == "usable" && lot.Expired(today(b)) {
			row.State = "past its date"
		}
		if lot.What == "bars" && row.State == "usable" {
			stage, err := s.stageOf(ctx, *lot.BatchID, stages)
			if err != nil {
				return nil, err
			}
			if stage != ledger.Released {
				row.State = stage
			}
		}
		rows = append(rows, row)
	}
	return rows, nil
}

func (s *Server) stageOf(ctx context.Context, batch int64, known map[int64]string) (string, error) {
	if stage, ok := known[batch]; ok {
		return stage, nil
	}
	b, err := s.ledger.Batch(ctx, batch)
	known[batch] = b.Stage
	return b.Stage, err
}

func unitOptions() []pages.Option {
	var list []pages.Option
	for _, u := range measure.Units() {
		list = append(list, pages.Option{Value: string(u), Label: string(u)})
	}
	return list
}

// massUnits are those that a scale shows.
func massUnits() []pages.Option {
	return pages.Same(string(measure.Gram), string(measure.Kilogram), string(measure.Ounce), string(measure.Pound), string(measure.PoundOunce))
}

// scoopUnits are those of what has a density but no drops.
func scoopUnits() []pages.Option {
	return slices.DeleteFunc(unitOptions(), func(o pages.Option) bool { return o.Value == string(measure.Drop) })
}

func unitField(name string, options []pages.Option) pages.Field {
	return pages.In(pages.Select, name, "Unit", "").Is(string(measure.Gram)).Of(options...)
}

func receiveForm(materials []ledger.Material, suppliers []ledger.Supplier, material int64) *pages.Form {
	var bought []ledger.Material
	for _, m := range materials {
		if m.Kind != "prepared" {
			bought = append(bought, m)
		}
	}
	var from []pages.Option
	for _, sup := range suppliers {
		from = append(from, pages.Option{Value: digits(sup.ID), Label: sup.Name})
	}
	chosen := ""
	if material != 0 {
		chosen = digits(material)
	}
	return pages.NewForm("receive", "/lots/receive", "Take it in",
		pages.In(pages.Select, "material", "What is it?", "").Is(chosen).Must().Of(pages.OrNone("choose", materialOptions(bought))...),
		pages.In(pages.Select, "supplier", "From whom?", "").Must().Of(pages.OrNone("choose", from)...),
		pages.In(pages.Text, "supplier_lot", "Supplier's lot number", "As it stands on the container."),
		pages.In(pages.Check, "no_supplier_lot", "The supplier gave none", "Ask for it; the record says that it is missing."),
		pages.In(pages.Decimal, "mass", "Net amount", "").Must().Large(),
		unitField("unit", unitOptions()),
		pages.In(pages.Date, "best_before", "Best before, or retest date", ""),
		pages.In(pages.Decimal, "cost", "Landed cost", "Freight and duty included, in the shop's currency."),
		purityField("Alkalis: purity by the certificate, %", nil), purityHalfField(nil),
		sapField("Oils: saponification value by the certificate, mg KOH/g", nil), sapHalfField(nil),
		limitField("Scents: at most in the finished bar by the certificate, %", nil), limitNoteField("")).WithTime()
}

// The figures of a certificate, as they are typed when a lot comes in and when it is put right.

func purityField(label string, is *decimal.Decimal) pages.Field {
	return pages.In(pages.Decimal, "purity", label, "").Is(hundredfold(is))
}

func purityHalfField(is *decimal.Decimal) pages.Field {
	return pages.In(pages.Decimal, "purity_half", "± per cent on that purity", "How far it may be off to either side. Empty: "+hundredfold(&ledger.UsualPurityHalf)+".").Is(hundredfold(is))
}

func sapField(label string, is *decimal.Decimal) pages.Field {
	return pages.In(pages.Decimal, "sap_value", label, "It narrows the lye sum of batches with this lot.").Is(text(is))
}

func sapHalfField(is *decimal.Decimal) pages.Field {
	return pages.In(pages.Decimal, "sap_half", "± mg KOH/g on that value", "How far it may be off to either side. Empty: "+ledger.UsualSAPHalf.String()+".").Is(text(is))
}

func limitField(label string, is *decimal.Decimal) pages.Field {
	return pages.In(pages.Decimal, "limit_share", label, "Of the cured bar, not of its oils. For soap that is rinsed off, IFRA certificates state it under category 9 (from memory); the supplier's certificate decides.").Is(hundredfold(is))
}

func limitNoteField(is string) pages.Field {
	return pages.In(pages.Text, "limit_note", "What that limit stands on", "Category, amendment and day of the certificate.").Is(is)
}

// hundredfold is a fraction as per cent, for a field.
func hundredfold(d *decimal.Decimal) string {
	if d == nil {
		return ""
	}
	return d.Shift(2).String()
}

func (s *Server) receivePage(r *http.Request) (*pages.Receive, error) {
	var materials []ledger.Material
	var suppliers []ledger.Supplier
	p := &pages.Receive{}
	var err error
	keep(&err, &p.Base)(s.base(r, "Receive a lot"))
	keep(&err, &materials)(s.ledger.Materials(r.Context()))
	keep(&err, &suppliers)(s.ledger.Suppliers(r.Context()))
	p.Suppliers = len(suppliers) > 0 && len(materials) > 0
	p.Form = receiveForm(materials, suppliers, asked(r, "material"))
	return p, err
}

func (s *Server) getReceive(w http.ResponseWriter, r *http.Request) error {
	p, err := s.receivePage(r)
	if err != nil {
		return err
	}
	return show(w, http.StatusOK, p)
}

func (s *Server) postReceive(w http.ResponseWriter, r *http.Request) error {
	p, err := s.receivePage(r)
	if err != nil {
		return err
	}
	in, err := s.read(r, p.Form)
	if err != nil {
		return err
	}
	body := &ledger.LotReceived{Material: in.chosen("material"), Supplier: in.chosen("supplier"), SupplierLot: in.text("supplier_lot"),
		NoSupplierLot: in.yes("no_supplier_lot"), BestBefore: in.text("best_before"), Mass: in.mass("mass", "unit"), Cost: in.optional("cost"),
		Purity: in.optionalShare("purity"), PurityHalf: in.optionalShare("purity_half"), SAPValue: in.optional("sap_value"), SAPHalf: in.optional("sap_half"),
		LimitShare: in.optionalShare("limit_share"), LimitNote: in.text("limit_note")}
	return in.record(w, body, func() (pages.Page, error) { return p, nil }, func(b ledger.Body) (string, string) {
		lot := b.(*ledger.LotReceived)
		return "/lots/" + digits(lot.ID), "The lot is " + lot.Code + ". Write the code on the container."
	})
}
