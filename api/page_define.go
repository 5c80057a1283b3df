package api

import (
	"net/http"

	"github.com/go-chi/chi/v5"
	"github.com/shopspring/decimal"

	"ashbook/api/pages"
	"ashbook/ledger"
)

func defineForm(action string, m ledger.Material, parts []ledger.MaterialPart, all []ledger.Material, rows int) *pages.Form {
	kind := pages.In(pages.Select, "kind", "Kind", "It cannot be changed later.").Is(m.Kind).Must().Of(pages.Same(ledger.MaterialKinds...)...)
	if m.ID != 0 {
		kind = pages.In(pages.Hidden, "kind", "", "").Is(m.Kind)
	}
	f := pages.NewForm("define", action, "Keep the material",
		pages.In(pages.Text, "name", "Name at the bench", "").Is(m.Name).Must(),
		kind,
		pages.In(pages.Text, "us_name", "Name in a US ingredient statement", "").Is(m.USName),
		pages.In(pages.Text, "eu_name", "INCI name or CI number", "For a European ingredient list.").Is(m.EUName),
		pages.In(pages.Text, "cas", "CAS number", "From the safety data sheet.").Is(m.CAS),
		pages.In(pages.Decimal, "density", "Density, g/mL", "For spoons and cups.").Is(text(m.Density)),
		pages.In(pages.Decimal, "sap_min", "Oils: least saponification value, mg KOH/g", "").Is(text(m.SAPMin)),
		pages.In(pages.Decimal, "sap_max", "Oils: largest saponification value", "").Is(text(m.SAPMax)),
		pages.In(pages.Text, "sap_source", "Oils: where the range comes from", "").Is(m.SAPSource),
		pages.In(pages.Check, "no_glycerol", "Oils: gives no glycerol (a wax or free acid)", "").Is(yes(m.NoGlycerol)),
		pages.In(pages.Select, "alkali", "Alkalis: which", "").Is(m.Alkali).Of(pages.OrNone("not an alkali", pages.Same("NaOH", "KOH"))...),
		pages.In(pages.Area, "caution", "Caution", "Shown where it is weighed.").Is(m.Caution),
		pages.In(pages.Check, "invented", "These data are invented, for demonstration", "").Is(yes(m.Invented)))
	part := func(i int) []pages.Field {
		row := []pages.Field{pages.In(pages.Select, "material", "Material", "").Of(pages.OrNone("none", materialOptions(all))...), pages.In(pages.Decimal, "share", "Per cent of the mass", "")}
		if i < len(parts) {
			row[0].Value, row[1].Value = digits(parts[i].Material), parts[i].Share.Shift(2).String()
		}
		return row
	}
	f.AddTable(&pages.Table{Name: "parts", Legend: "Prepared here: what it is made of", Hint: "Only for the kind prepared. The shares sum to 100.", Grows: true}, max(rows, len(parts)), part)
	return f
}

func text(d *decimal.Decimal) string {
	if d == nil {
		return ""
	}
	return d.String()
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return ""
}

// defining reads what a define page starts from: the material when one is described anew.
func (s *Server) defining(r *http.Request, rows int) (*pages.Define, error) {
	p := &pages.Define{}
	title, action := "Define a material", "/materials/new"
	var m ledger.Material
	var parts []ledger.MaterialPart
	var err error
	if chi.URLParam(r, "id") != "" {
		id, err := number(r, "id")
		keep(&err, &m)(s.ledger.Material(r.Context(), id))
		keep(&err, &parts)(s.ledger.Parts(r.Context(), id))
		if err != nil {
			return nil, err
		}
		title, action, p.Known = "Describe "+m.Name+" anew", "/materials/"+digits(id)+"/edit", &m
	}
	var all []ledger.Material
	keep(&err, &p.Base)(s.base(r, title))
	keep(&err, &all)(s.ledger.Materials(r.Context()))
	p.Form = defineForm(action, m, parts, all, rows)
	return p, err
}

func (s *Server) getDefine(w http.ResponseWriter, r *http.Request) error {
	p, err := s.defining(r, 3)
	if err != nil {
		return err
	}
	return show(w, http.StatusOK, p)
}

func (s *Server) postDefine(w http.ResponseWriter, r *http.Request) error {
	if err := parseForm(r); err != nil {
		return err
	}
	n, more := rows(r, "parts", 3)
	p, err := s.defining(r, n)
	if err != nil {
		return err
	}
	in, err := s.read(r, p.Form)
	if err != nil {
		return err
	}
	page := func() (pages.Page, error) { return p, nil }
	if more {
		return in.back(w, http.StatusOK, page)
	}
	body := in.material(n)
	if p.Known != nil {
		body.ID = p.Known.ID
	}
	return in.record(w, body, page, func(b ledger.Body) (string, string) {
		return "/materials/" + digits(b.(*ledger.MaterialDefined).ID), body.Name + " is kept."
	})
}

func (in *input) material(n int) *ledger.MaterialDefined {
	m := &ledger.MaterialDefined{Name: in.text("name"), Type: in.text("kind"), USName: in.text("us_name"), EUName: in.text("eu_name"),
		CAS: in.text("cas"), SAPMin: in.optional("sap_min"), SAPMax: in.optional("sap_max"), SAPSource: in.text("sap_source"),
		NoGlycerol: in.yes("no_glycerol"), Alkali: in.text("alkali"), Density: in.optional("density"), Caution: in.text("caution"),
		Invented: in.yes("invented")}
	for i := range n {
		row := "parts." + digits(int64(i))
		if material := in.pick(row + ".material"); material != 0 {
			m.Parts = append(m.Parts, ledger.MaterialPart{Material: material, Share: in.share(row + ".share")})
		}
	}
	return m
}
