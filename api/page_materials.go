package api

import (
	"context"
	"fmt"
	"net/http"

	"ashbook/api/pages"
	"ashbook/ledger"
)

func (s *Server) getMaterials(w http.ResponseWriter, r *http.Request) error {
	b, err := s.base(r, "Materials")
	var materials []ledger.Material
	var stocks []ledger.MaterialStock
	keep(&err, &materials)(s.ledger.Materials(r.Context()))
	keep(&err, &stocks)(s.ledger.MaterialStocks(r.Context()))
	if err != nil {
		return err
	}
	return show(w, http.StatusOK, &pages.Materials{Base: b, Groups: groupMaterials(materials, stocks)})
}

var kindsInPlural = map[string]string{"oil": "Oils and fats", "alkali": "Alkalis", "water": "Water", "scent": "Scents", "colour": "Colours",
	"additive": "Additives", "spirit": "Spirits", "packaging": "Packaging", "prepared": "Prepared here"}

// groupMaterials sorts materials by kind, in the order of kinds, with what is there of each.
func groupMaterials(materials []ledger.Material, stocks []ledger.MaterialStock) []pages.MaterialGroup {
	there := map[int64]ledger.MaterialStock{}
	for _, stock := range stocks {
		there[stock.Material] = stock
	}
	rows := map[string][]pages.MaterialRow{}
	for _, m := range materials {
		stock := there[m.ID]
		rows[m.Kind] = append(rows[m.Kind], pages.MaterialRow{Material: m, OnHand: stock.OnHand, Lots: stock.Lots, Held: stock.Held})
	}
	var groups []pages.MaterialGroup
	for _, kind := range ledger.MaterialKinds {
		if len(rows[kind]) > 0 {
			groups = append(groups, pages.MaterialGroup{Kind: kindsInPlural[kind], Rows: rows[kind]})
		}
	}
	return groups
}

func (s *Server) getMaterial(w http.ResponseWriter, r *http.Request) error {
	id, err := number(r, "id")
	if err != nil {
		return err
	}
	p := &pages.Material{}
	var lots []ledger.Lot
	keep(&err, &p.Material)(s.ledger.Material(r.Context(), id))
	keep(&err, &p.Base)(s.base(r, p.Material.Name))
	keep(&err, &lots)(s.ledger.Lots(r.Context(), ledger.LotQuery{Material: id}))
	keep(&err, &p.Lots)(s.lotRows(r.Context(), p.Base, lots))
	if err != nil {
		return err
	}
	if p.Parts, err = s.partsByName(r.Context(), id); err != nil {
		return err
	}
	return show(w, http.StatusOK, p)
}

func (s *Server) partsByName(ctx context.Context, material int64) ([]pages.Part, error) {
	parts, err := s.ledger.Parts(ctx, material)
	if err != nil {
		return nil, err
	}
	var list []pages.Part
	for _, part := range parts {
		m, err := s.ledger.Material(ctx, part.Material)
		if err != nil {
			return nil, err
		}
		list = append(list, pages.Part{Name: m.Name, Share: part.Share})
	}
	return list, nil
}

// materialOptions lists materials of some kinds; none named: of all.
func materialOptions(materials []ledger.Material, kinds ...string) []pages.Option {
	var list []pages.Option
	for _, m := range materials {
		for _, k := range kinds {
			if m.Kind == k {
				list = append(list, pages.Option{Value: digits(m.ID), Label: m.Name})
			}
		}
		if len(kinds) == 0 {
			list = append(list, pages.Option{Value: digits(m.ID), Label: fmt.Sprintf("%s (%s)", m.Name, m.Kind)})
		}
	}
	return list
}
