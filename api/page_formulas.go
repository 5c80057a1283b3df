package api

import (
	"context"
	"fmt"
	"net/http"
	"strings"

	"ashbook/api/pages"
	"ashbook/ledger"
)

func (s *Server) getFormulas(w http.ResponseWriter, r *http.Request) error {
	p := &pages.Formulas{Older: map[int64][]ledger.FormulaVersion{}}
	var all []ledger.FormulaVersion
	var err error
	keep(&err, &p.Base)(s.base(r, "Formulas"))
	keep(&err, &all)(s.ledger.Formulas(r.Context()))
	for _, v := range all {
		if v.Latest {
			p.Latest = append(p.Latest, v)
		} else {
			p.Older[v.Formula] = append(p.Older[v.Formula], v)
		}
	}
	if err != nil {
		return err
	}
	return show(w, http.StatusOK, p)
}

func (s *Server) getFormula(w http.ResponseWriter, r *http.Request) error {
	id, err := number(r, "id")
	p := &pages.Formula{}
	var all []ledger.FormulaVersion
	var materials map[int64]ledger.Material
	keep(&err, &p.Formula)(s.ledger.Formula(r.Context(), id))
	keep(&err, &all)(s.ledger.Formulas(r.Context()))
	keep(&err, &materials)(s.materialsByID(r.Context()))
	if err != nil {
		return err
	}
	if p.Made, err = s.composition(s.ledger.FormulaMade(r.Context(), id)); err != nil {
		return err
	}
	p.Made.Planned = true
	if p.Base, err = s.base(r, p.Formula.Name); err != nil {
		return err
	}
	for _, v := range all {
		if v.Formula == p.Formula.Formula {
			p.Versions = append(p.Versions, v)
			p.Latest = p.Latest || v.Latest && v.ID == id
		}
	}
	fillFormula(p, materials)
	return show(w, http.StatusOK, p)
}

// fillFormula puts names beside the numbers of materials.
func fillFormula(p *pages.Formula, materials map[int64]ledger.Material) {
	f := p.Formula
	p.Alkali, p.Second = materials[f.Alkali].Name, materials[f.SecondAlkali].Name
	p.Water, p.StockLye = materials[f.Water].Name, materials[f.StockLye].Name
	for _, line := range f.Lines {
		p.Lines = append(p.Lines, pages.FormulaRow{Name: materials[line.Material].Name, Portion: line.Portion, Typed: asStated(line), Grams: line.Grams})
	}
	for _, line := range f.Plan {
		m := materials[line.Material]
		p.Plan = append(p.Plan, pages.PlanRow{Name: m.Name, Kind: m.Kind, Portion: line.Portion, Grams: line.Grams, Tolerance: line.Tolerance})
		p.Total = p.Total.Add(line.Grams)
	}
}

func asStated(l ledger.FormulaLine) string {
	switch l.Basis {
	case ledger.ByPercent:
		return l.Amount.String() + " % of the oils"
	case ledger.BySpoon:
		return fmt.Sprintf("%s %s per %s of oils", l.Amount, l.Unit, l.Per)
	}
	return l.Amount.String() + " g"
}

func (s *Server) materialsByID(ctx context.Context) (map[int64]ledger.Material, error) {
	list, err := s.ledger.Materials(ctx)
	byID := map[int64]ledger.Material{}
	for _, m := range list {
		byID[m.ID] = m
	}
	return byID, err
}

// editing is the page on which a formula, or its next version, is defined.
func (s *Server) editing(r *http.Request, lines, portions int) (*pages.FormulaEdit, error) {
	p := &pages.FormulaEdit{}
	title, action := "Define a formula", "/formulas/new"
	var err error
	if strings.HasSuffix(r.URL.Path, "/next") {
		id, err := number(r, "id")
		keep(&err, &p.Known)(s.ledger.Formula(r.Context(), id))
		if err != nil {
			return nil, err
		}
		title, action = "Next version of "+p.Known.Name, "/formulas/"+digits(id)+"/next"
	}
	var materials []ledger.Material
	keep(&err, &p.Base)(s.base(r, title))
	keep(&err, &materials)(s.ledger.Materials(r.Context()))
	p.Form = formulaForm(action, p.Known, materials, lines, portions)
	return p, err
}

func (s *Server) getFormulaEdit(w http.ResponseWriter, r *http.Request) error {
	p, err := s.editing(r, 6, 3)
	if err != nil {
		return err
	}
	return show(w, http.StatusOK, p)
}

func (s *Server) postFormula(w http.ResponseWriter, r *http.Request) error {
	if err := parseForm(r); err != nil {
		return err
	}
	lines, moreLines := rows(r, "lines", 6)
	portions, morePortions := rows(r, "portions", 3)
	p, err := s.editing(r, lines, portions)
	if err != nil {
		return err
	}
	in, err := s.read(r, p.Form)
	if err != nil {
		return err
	}
	page := func() (pages.Page, error) { return p, nil }
	if moreLines || morePortions {
		return in.back(w, http.StatusOK, page)
	}
	body := in.formula(lines, portions)
	if p.Known != nil {
		body.Formula = p.Known.Formula
	}
	return in.record(w, body, page, func(b ledger.Body) (string, string) {
		f := b.(*ledger.FormulaDefined)
		return "/formulas/" + digits(f.ID), fmt.Sprintf("%s, version %d, is kept. Look at what there is to weigh.", f.Name, f.Version)
	})
}
