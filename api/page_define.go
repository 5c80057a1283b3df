package api

import (
	"net/http"
	"slices"

	"github.com/go-chi/chi/v5"
	"github.com/shopspring/decimal"

	"ashbook/api/pages"
	"ashbook/ledger"
)

// kindNotes say in the list of kinds what belongs to each.
var kindNotes = map[string]string{"oil": "Fats, butters, waxes and fatty acids, with a saponification range", "alkali": "Sodium or potassium hydroxide",
	"water": "What the lye is made with", "scent": "Fragrances and essential oils", "colour": "Pigments, micas, clays for colour",
	"additive": "Sodium lactate, salt, sugar, honey, milk, oats, citric acid, vinegar", "spirit": "Alcohol, which leaves the soap", "packaging": "Wraps and boxes",
	"prepared": "Stock lye and premixes, made of the others"}

func kindChoice() []pages.Option {
	var list []pages.Option
	for _, kind := range ledger.MaterialKinds {
		list = append(list, pages.Option{Value: kind, Label: kindsInPlural[kind], Note: kindNotes[kind]})
	}
	return list
}

// defineForm describes a material of the kind that m has.
func defineForm(action string, m ledger.Material, parts []ledger.MaterialPart, all []ledger.Material, rows int) *pages.Form {
	f := pages.NewForm("define", action, "Keep the material", defineFields(m)...)
	if m.Kind != "prepared" {
		return f
	}
	part := func(i int) []pages.Field {
		row := []pages.Field{pages.In(pages.Select, "material", "Material", "").Of(pages.OrNone("none", materialOptions(all))...), pages.In(pages.Decimal, "share", "Per cent of the mass", "")}
		if i < len(parts) {
			row[0].Value, row[1].Value = digits(parts[i].Material), parts[i].Share.Shift(2).String()
		}
		return row
	}
	f.AddTable(&pages.Table{Name: "parts", Legend: "What it is made of", Hint: "The shares sum to 100.", Grows: true}, max(rows, len(parts)), part)
	return f
}

// defineFields are those that say something of the kind. What is known already stays to be seen in any case: a field
// that is not sent would be emptied.
func defineFields(m ledger.Material) []pages.Field {
	fields := []pages.Field{pages.In(pages.Hidden, "kind", "", "").Is(m.Kind), pages.In(pages.Text, "name", "Name at the bench", "").Is(m.Name).Must()}
	add := func(f pages.Field, kinds ...string) {
		if len(kinds) == 0 || slices.Contains(kinds, m.Kind) || f.Value != "" {
			fields = append(fields, f)
		}
	}
	add(pages.In(pages.Text, "us_name", "Name in a US ingredient statement", "").Is(m.USName))
	add(pages.In(pages.Text, "eu_name", "INCI name or CI number", "For a European ingredient list.").Is(m.EUName))
	add(pages.In(pages.Text, "cas", "CAS number", "From the safety data sheet.").Is(m.CAS))
	add(pages.In(pages.Decimal, "sap_min", "Least saponification value, mg KOH/g", "").Is(text(m.SAPMin)), "oil")
	add(pages.In(pages.Decimal, "sap_max", "Largest saponification value, mg KOH/g", "").Is(text(m.SAPMax)), "oil")
	add(pages.In(pages.Text, "sap_source", "Where the range comes from", "").Is(m.SAPSource), "oil")
	add(pages.In(pages.Check, "no_glycerol", "It gives no glycerol (a wax or free acid)", "").Is(yes(m.NoGlycerol)), "oil")
	add(pages.In(pages.Check, "free_acid", "It is a free fatty acid, as stearic acid", "With lye it forms water and no glycerol.").Is(yes(m.FreeAcid)), "oil")
	add(pages.In(pages.Decimal, "acid_equivalent", "If it takes up lye: g of acid per mol of alkali", "The molar mass of the acid over its acid groups. Empty: it takes none.").Is(text(m.AcidEquiv)), "additive")
	add(pages.In(pages.Decimal, "acid_share", "How much of it is that acid, %", "Vinegar: 5. Empty: all of it.").Is(hundredfold(m.AcidShare)), "additive")
	add(pages.In(pages.Decimal, "water_share", "How much of it is water, %", "It dries out of the bar. Milk: about 87; sodium lactate at 60 %: 40. Of an acid the rest is water already.").Is(hundredfold(m.WaterShare)), "additive")
	add(pages.In(pages.Select, "alkali", "Which alkali?", "").Is(m.Alkali).Must().Of(pages.OrNone("choose", pages.Same("NaOH", "KOH"))...), "alkali")
	addBulk(m, add)
	add(pages.In(pages.Area, "caution", "Caution", cautionHint(m.Kind)).Is(m.Caution))
	add(pages.In(pages.Check, "invented", "These data are invented, for demonstration", "").Is(yes(m.Invented)))
	return fields
}

// addBulk adds what lets the material be measured without a scale.
func addBulk(m ledger.Material, add func(f pages.Field, kinds ...string)) {
	hint, at := "For spoons and cups: the grams of 1 mL, as it lies in the spoon.", ""
	if m.Kind == "water" {
		hint = "For spoons and cups. Empty: that of pure water."
	}
	if m.Density != nil {
		at = m.DensityAtC.String()
	}
	dropped := []string{"oil", "scent", "colour", "additive", "spirit", "prepared"}
	add(pages.In(pages.Decimal, "density", "Density, g/mL", hint).Is(text(m.Density)), append(dropped, "alkali", "water")...)
	add(pages.In(pages.Decimal, "density_at_c", "Density measured at, °C", "Empty: 20.").Is(at), append(dropped, "alkali", "water")...)
	add(pages.In(pages.Decimal, "grams_per_drop", "One drop, g", "As the supplier states it, or: weigh 20 drops from your dropper and divide by 20.").Is(text(m.DropGrams)), dropped...)
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

// defining reads what a define page starts from: the material when one is described anew, else the kind that was chosen.
// While there is no kind, there is no form.
func (s *Server) defining(r *http.Request, rows int) (*pages.Define, error) {
	p := &pages.Define{}
	title, action := "Define a material", "/materials/new"
	var parts []ledger.MaterialPart
	m := ledger.Material{Kind: r.FormValue("kind")} // of the form that was sent, else of the address
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
	keep(&err, &p.Base)(s.base(r, title))
	if !slices.Contains(ledger.MaterialKinds, m.Kind) {
		p.Kinds = kindChoice()
		return p, err
	}
	var all []ledger.Material
	keep(&err, &all)(s.ledger.Materials(r.Context()))
	p.Kind, p.Action, p.Start = m.Kind, action, startFields(m.Kind)
	p.Form = defineForm(action, m, parts, all, rows)
	start(p.Form, m.Kind, r.URL.Query())
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
	if p.Form == nil {
		return show(w, http.StatusUnprocessableEntity, p)
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
		NoGlycerol: in.yes("no_glycerol"), FreeAcid: in.yes("free_acid"), AcidEquiv: in.optional("acid_equivalent"),
		AcidShare: in.optionalShare("acid_share"), WaterShare: in.optionalShare("water_share"), Alkali: in.text("alkali"), Density: in.optional("density"), DensityAtC: in.optional("density_at_c"),
		DropGrams: in.optional("grams_per_drop"), Caution: in.text("caution"), Invented: in.yes("invented")}
	for i := range n {
		row := "parts." + digits(int64(i))
		if material := in.pick(row + ".material"); material != 0 {
			m.Parts = append(m.Parts, ledger.MaterialPart{Material: material, Share: in.share(row + ".share")})
		}
	}
	return m
}

// cautionHint says what is usual for a kind. Common practice, no source.
func cautionHint(kind string) string {
	if kind == "scent" {
		return "Shown where it is weighed. For example: keep and weigh it in glass, it softens plastics; away from flames."
	}
	return "Shown where it is weighed."
}
