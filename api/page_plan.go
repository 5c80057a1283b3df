package api

import (
	"fmt"
	"net/http"

	"github.com/shopspring/decimal"

	"ashbook/api/pages"
	"ashbook/ledger"
)

func planForm(formulas []ledger.FormulaVersion, chosen int64) *pages.Form {
	var options []pages.Option
	for _, f := range formulas {
		if !f.Latest && f.ID != chosen {
			continue
		}
		options = append(options, pages.Option{Value: digits(f.ID), Label: fmt.Sprintf("%s, version %d: %s g oils, %d bars", f.Name, f.Version, f.OilGrams, f.Bars)})
	}
	return pages.NewForm("plan", "/batches/plan", "Plan the batch",
		pages.In(pages.Select, "formula_version", "Formula", "").Is(some(chosen)).Must().Of(options...),
		pages.In(pages.Decimal, "oil_grams", "Oils, g", "Empty: as the formula has it. One figure scales every line."),
		pages.In(pages.Text, "name", "Name of the batch", "Empty: the name of the formula."),
		pages.In(pages.Decimal, "mould_ml", "Or fill a mould of, mL", "Measure it with water: grams of water are millilitres. Goes before the oils.").Under(""),
		pages.In(pages.Decimal, "batter_density", "Density of your batter, g/mL", "Empty: estimated from the oils and the lye, as if nothing shrank or took in air. Your own measurement is better.").Under("")).WithTime()
}

func prepForm(materials []ledger.Material, chosen int64, rows int) *pages.Form {
	f := pages.NewForm("prep", "/batches/prepare", "Plan it",
		pages.In(pages.Choice, "purpose", "What is it?", "").Must().Of(
			pages.Option{Value: ledger.ForPremix, Label: "A premix", Note: "a blend, a dispersion, an infusion"},
			pages.Option{Value: ledger.ForStockLye, Label: "Stock lye", Note: "lye solution for several batches"},
			pages.Option{Value: ledger.ForMerge, Label: "Two lots in one jug", Note: "what is left of one and another of the same"}),
		pages.In(pages.Select, "material", "Which material comes out?", "").Is(some(chosen)).Must().Of(pages.OrNone("choose", materialOptions(materials))...),
		pages.In(pages.Decimal, "total", "How much of it, g", "With this the rows are worked out from what the material is made of. Or fill in the rows."),
		pages.In(pages.Text, "name", "Name of the batch", "Empty: the name of the material.")).WithTime()
	options := pages.OrNone("none", materialOptions(materials))
	f.AddTable(&pages.Table{Name: "lines", Legend: "What goes in", Grows: true}, rows, func(int) []pages.Field {
		return []pages.Field{pages.In(pages.Select, "material", "Material", "").Of(options...), pages.In(pages.Decimal, "grams", "Grams", "")}
	})
	return f
}

func (s *Server) planPage(r *http.Request, lines int) (*pages.Plan, error) {
	p := &pages.Plan{}
	var formulas []ledger.FormulaVersion
	var materials []ledger.Material
	var err error
	keep(&err, &p.Base)(s.base(r, "Plan a batch"))
	keep(&err, &formulas)(s.ledger.Formulas(r.Context()))
	keep(&err, &materials)(s.ledger.Materials(r.Context()))
	if len(formulas) > 0 {
		p.Soap = planForm(formulas, asked(r, "formula"))
	}
	if len(materials) > 0 {
		p.Prep = prepForm(materials, asked(r, "material"), lines)
	}
	return p, err
}

func (s *Server) getPlan(w http.ResponseWriter, r *http.Request) error {
	p, err := s.planPage(r, 4)
	if err != nil {
		return err
	}
	return show(w, http.StatusOK, p)
}

func planned(b ledger.Body) (to, say string) {
	p := b.(*ledger.BatchPlanned)
	return "/batches/" + digits(p.ID), "The batch is " + p.Code + "."
}

func (s *Server) postPlanSoap(w http.ResponseWriter, r *http.Request) error {
	p, err := s.planPage(r, 4)
	if err != nil {
		return err
	}
	if p.Soap == nil {
		return newProblem("conflict", "there is no formula yet; define one first")
	}
	in, err := s.read(r, p.Soap)
	if err != nil {
		return err
	}
	body := &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: in.chosen("formula_version"), Name: in.text("name")}
	body.MouldML, body.BatterDensity = in.optional("mould_ml"), in.optional("batter_density")
	if oils := in.optional("oil_grams"); oils != nil {
		if body.MouldML != nil {
			in.form.Blame("mould_ml", "give either the oils or the mould; the other follows")
		}
		body.OilGrams = *oils
	}
	return in.record(w, body, func() (pages.Page, error) { return p, nil }, planned)
}

func (s *Server) postPlanPrep(w http.ResponseWriter, r *http.Request) error {
	if err := parseForm(r); err != nil {
		return err
	}
	n, more := rows(r, "lines", 4)
	p, err := s.planPage(r, n)
	if err != nil {
		return err
	}
	if p.Prep == nil {
		return newProblem("conflict", "there is no material yet; define one first")
	}
	in, err := s.read(r, p.Prep)
	if err != nil {
		return err
	}
	page := func() (pages.Page, error) { return p, nil }
	if more {
		return in.back(w, http.StatusOK, page)
	}
	body := &ledger.BatchPlanned{Purpose: in.text("purpose"), Material: in.chosen("material"), Name: in.text("name")}
	for i := range n {
		row := fmt.Sprintf("lines.%d.", i)
		if material := in.pick(row + "material"); material != 0 {
			body.Lines = append(body.Lines, ledger.PlanLine{Material: material, Grams: in.number(row + "grams")})
		}
	}
	if total := in.optional("total"); total != nil && len(body.Lines) == 0 {
		if body.Lines, err = s.linesFor(r, body.Material, *total); err != nil {
			return err
		}
	}
	if len(body.Lines) == 0 {
		in.form.Blame("lines", "say what goes in, or how much of a material whose parts are known")
	}
	return in.record(w, body, page, planned)
}

// linesFor works out what goes into an amount of a prepared material, to a hundredth of a gram.
func (s *Server) linesFor(r *http.Request, material int64, total decimal.Decimal) ([]ledger.PlanLine, error) {
	parts, err := s.ledger.Parts(r.Context(), material)
	var lines []ledger.PlanLine
	for _, part := range parts {
		lines = append(lines, ledger.PlanLine{Material: part.Material, Grams: total.Mul(part.Share).Round(2)})
	}
	return lines, err
}
