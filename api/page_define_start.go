package api

import (
	"fmt"
	"net/url"
	"slices"

	"github.com/shopspring/decimal"

	"ashbook/api/pages"
	"ashbook/ledger/measure"
	"ashbook/ledger/soap"
)

// startFields offer what is published or usual for materials of a kind; nothing when there is nothing.
func startFields(kind string) []pages.Field {
	var fields []pages.Field
	if kind == "oil" {
		fields = append(fields, likeField())
	}
	if kind == "additive" {
		fields = append(fields, acidField())
	}
	if known := measure.UsualDensities(kind); len(known) > 0 {
		fields = append(fields, usualField(known))
	}
	for i := range fields {
		fields[i].Form = "start"
	}
	return fields
}

func likeField() pages.Field {
	f := pages.In(pages.Select, "like", "Published saponification range",
		"Wide limits, by which an oil is known as genuine. The certificate of the lot, typed when it comes in, goes before them.").Of(pages.Option{Label: "none"})
	for _, o := range soap.Published() {
		f.Options = append(f.Options, pages.Option{Value: o.Name, Label: fmt.Sprintf("%s: %s to %s mg KOH/g", o.Name, o.SAPMin, o.SAPMax)})
	}
	return f
}

// usualAcids are the acids that soap makers add. Vinegar and lactic acid at their usual strengths: common practice, no source.
var usualAcids = []struct {
	name  string
	acid  soap.Acid
	share decimal.Decimal
}{
	{"citric acid, anhydrous", soap.CitricAcid(one), one},
	{"citric acid monohydrate", soap.CitricAcidMonohydrate(one), one},
	{"lactic acid, 80 %", soap.LacticAcid(one), decimal.New(8, -1)},
	{"vinegar, 5 % acetic acid", soap.AceticAcid(one), decimal.New(5, -2)},
}

var one = decimal.NewFromInt(1)

func acidField() pages.Field {
	f := pages.In(pages.Select, "acid", "An acid that takes up lye", "The lye that it takes is then added to what is weighed. Sodium lactate is neutral: it takes none.").Of(pages.Option{Label: "none"})
	for _, a := range usualAcids {
		f.Options = append(f.Options, pages.Option{Value: a.name, Label: fmt.Sprintf("%s: %s g per mol", a.name, a.acid.EquivalentMass.Round(3))})
	}
	return f
}

func usualField(known []measure.UsualDensity) pages.Field {
	f := pages.In(pages.Select, "usual", "Usual density", "Yours may differ: its data sheet, or a level spoonful on the scale, goes before it.").Of(pages.Option{Label: "none"})
	for _, u := range known {
		f.Options = append(f.Options, pages.Option{Value: u.Name, Label: fmt.Sprintf("%s: %s g/mL at %s °C (%s)", u.Name, u.Density, u.Celsius, u.Basis)})
	}
	return f
}

// start fills in what the person chose to start from.
func start(f *pages.Form, kind string, chosen url.Values) {
	oils, usual := soap.Published(), measure.UsualDensities(kind)
	if i := slices.IndexFunc(oils, func(o soap.PublishedOil) bool { return o.Name == chosen.Get("like") }); i >= 0 && kind == "oil" {
		o := oils[i]
		f.Set("sap_min", o.SAPMin.String())
		f.Set("sap_max", o.SAPMax.String())
		f.Set("sap_source", sourceOf(o))
		f.Set("no_glycerol", yes(o.NoGlycerol))
		f.Set("free_acid", yes(o.FreeAcid))
	}
	for _, a := range usualAcids {
		if a.name == chosen.Get("acid") && kind == "additive" {
			f.Set("acid_equivalent", a.acid.EquivalentMass.String())
			f.Set("acid_share", a.share.Shift(2).String())
		}
	}
	if i := slices.IndexFunc(usual, func(u measure.UsualDensity) bool { return u.Name == chosen.Get("usual") }); i >= 0 {
		f.Set("density", usual[i].Density.String())
		f.Set("density_at_c", usual[i].Celsius.String())
	}
}

// sourceOf says where a range is from, as it is kept with the material.
func sourceOf(o soap.PublishedOil) string {
	if o.Retrieved {
		return o.Source
	}
	return o.Source + ", not seen in print: " + o.Mark
}
