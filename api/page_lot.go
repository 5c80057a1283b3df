package api

import (
	"context"
	"net/http"
	"slices"

	"ashbook/api/pages"
	"ashbook/ledger"
)

func (s *Server) getLot(w http.ResponseWriter, r *http.Request) error {
	id, err := number(r, "id")
	if err != nil {
		return err
	}
	p, err := s.lotPage(r, id)
	if err != nil {
		return err
	}
	return show(w, http.StatusOK, p)
}

func (s *Server) lotPage(r *http.Request, id int64) (*pages.Lot, error) {
	ctx := r.Context()
	lot, err := s.ledger.Lot(ctx, id)
	if err != nil {
		return nil, err
	}
	p := &pages.Lot{}
	var rows []pages.LotRow
	var holdings []ledger.Holding
	keep(&err, &p.Base)(s.base(r, lot.Code))
	if err != nil {
		return nil, err
	}
	keep(&err, &rows)(s.lotRows(ctx, p.Base, []ledger.Lot{lot}))
	keep(&err, &holdings)(s.ledger.Holdings(ctx, id))
	keep(&err, &p.Papers)(s.ledger.Documents(ctx, id))
	if err != nil {
		return nil, err
	}
	p.Lot = rows[0]
	if p.Holdings, err = s.holdings(ctx, holdings); err != nil {
		return nil, err
	}
	if err := s.lotOrigin(ctx, p); err != nil {
		return nil, err
	}
	if p.Strength, err = s.ledger.StockStrength(ctx, lot); err != nil {
		return nil, err
	}
	s.lotForms(p)
	return p, nil
}

// lotOrigin says where the lot comes from: a supplier, or a batch.
func (s *Server) lotOrigin(ctx context.Context, p *pages.Lot) error {
	lot := p.Lot.Lot
	var err error
	if p.Material, err = s.lotMaterial(ctx, lot); err != nil {
		return err
	}
	if lot.SupplierID != nil {
		suppliers, err := s.ledger.Suppliers(ctx)
		if err != nil {
			return err
		}
		i := slices.IndexFunc(suppliers, func(sup ledger.Supplier) bool { return sup.ID == *lot.SupplierID })
		if i >= 0 {
			p.Supplier = suppliers[i].Name
		}
	}
	if lot.BatchID == nil {
		return nil
	}
	b, err := s.ledger.Batch(ctx, *lot.BatchID)
	if err != nil {
		return err
	}
	labels, err := s.ledger.Labels(ctx, b.ID)
	p.Batch = &b
	p.Labels = slices.DeleteFunc(labels, func(l ledger.Label) bool { return l.Lot != lot.ID })
	p.Proof = b.Stage != ledger.Released || lot.Held
	if err != nil {
		return err
	}
	p.Made, err = s.composition(s.ledger.Made(ctx, lot))
	return err
}

// composition shows what something is made of, or why that cannot be worked out.
func (s *Server) composition(m *ledger.MadeOf, err error) (*pages.Composition, error) {
	if ledger.FaultOf(err) == ledger.Conflict {
		return &pages.Composition{Fault: err.Error()}, nil
	}
	if err != nil {
		return nil, err
	}
	return &pages.Composition{Of: m, Today: s.ledger.Now()}, nil
}

// lotMaterial is what the lot is a lot of; nil for bars and remnants.
func (s *Server) lotMaterial(ctx context.Context, lot ledger.Lot) (*ledger.Material, error) {
	if lot.MaterialID == nil {
		return nil, nil
	}
	m, err := s.ledger.Material(ctx, *lot.MaterialID)
	return &m, err
}

// lotForms are what the person may do with the lot now.
func (s *Server) lotForms(p *pages.Lot) {
	lot := p.Lot.Lot
	if p.May("sell") && !lot.Held {
		p.Hold = holdForm(lot.ID)
	}
	if p.May("release") && lot.Held {
		p.Free = freeForm(lot.ID)
	}
	if p.May("make") && lot.StruckBy == nil {
		p.Move, p.File, p.Right = moveForm(lot), paperForm(lot.ID), rightForm(lot, p.Material)
	}
	if p.May("make") && p.Strength != nil {
		p.Density = densityForm("/lots/" + digits(lot.ID) + "/density")
	}
	if p.May("sell") && lot.What == "bars" {
		p.Label = labelForm("/lots/"+digits(lot.ID)+"/label", []ledger.Lot{lot})
	}
}

// holdings put places into words, with the page of a place that has one.
func (s *Server) holdings(ctx context.Context, list []ledger.Holding) ([]pages.Holding, error) {
	words := map[string]string{"shelf": "on the shelf", "rack": "on the curing rack", "ready": "ready for sale", "kept": "kept as samples",
		"waste": "thrown away", "air": "evaporated", "supplier": "taken from the supplier", "count": "not found at the last count"}
	var out []pages.Holding
	for _, h := range list {
		line := pages.Holding{Where: words[h.Place], Amount: h.Amount}
		switch h.Place {
		case "supplier", "made":
			continue // where it came from stands above
		case "count":
			if h.Amount.IsNegative() {
				line.Where, line.Amount = "found beyond the books", h.Amount.Neg()
			}
		case "pot":
			b, err := s.ledger.Batch(ctx, h.PlaceID)
			if err != nil {
				return nil, err
			}
			line.Where, line.Link = "in batch "+b.Code, "/batches/"+digits(b.ID)
		case "sent":
			d, err := s.ledger.Dispatch(ctx, h.PlaceID)
			if err != nil {
				return nil, err
			}
			line.Where, line.Link = "sent with "+d.Code, "/dispatches/"+digits(d.ID)
		}
		out = append(out, line)
	}
	return out, nil
}

func holdForm(lot int64) *pages.Form {
	f := pages.NewForm("hold", "/lots/"+digits(lot)+"/hold", "Put on hold", pages.In(pages.Area, "reason", "Why?", "Nothing of the lot is used or sold until somebody frees it.").Must())
	f.Danger = true
	return f
}

func freeForm(lot int64) *pages.Form {
	return pages.NewForm("free", "/lots/"+digits(lot)+"/free", "Free the lot", pages.In(pages.Area, "reason", "Why may it be used again?", "").Must())
}

func moveForm(lot ledger.Lot) *pages.Form {
	label := "How many grams?"
	if lot.Unit == "piece" {
		label = "How many bars?"
	}
	return pages.NewForm("move", "/lots/"+digits(lot.ID)+"/move", "Record it",
		pages.In(pages.Choice, "way", "What happened?", "").Must().Of(
			pages.Option{Value: ledger.Discarded, Label: "Thrown away"}, pages.Option{Value: ledger.KeptBack, Label: "Kept as a sample"},
			pages.Option{Value: ledger.Missing, Label: "A count found less", Note: "how much less"},
			pages.Option{Value: ledger.Surplus, Label: "A count found more", Note: "how much more"},
			pages.Option{Value: ledger.Dried, Label: "It dried", Note: "the water that left; not for bars"}),
		pages.In(pages.Decimal, "amount", label, "").Must().Large(),
		pages.In(pages.Select, "from", "Where does it lie?", "").Of(pages.OrNone("wherever it is now", pages.Same("shelf", "rack", "ready", "kept"))...),
		pages.In(pages.Text, "reason", "Why, and how", "").Must()).WithTime()
}

func paperForm(lot int64) *pages.Form {
	return pages.NewForm("paper", "/lots/"+digits(lot)+"/papers", "File it",
		pages.In(pages.Select, "type", "What is it?", "").Must().Of(pages.Same(ledger.DocumentTypes...)...),
		pages.In(pages.Text, "title", "Title", "").Must(),
		pages.In(pages.Date, "expires_on", "Valid until", ""),
		pages.In(pages.Upload, "file", "File", "At most 10 MiB.").Must())
}
