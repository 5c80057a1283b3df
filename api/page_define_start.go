package api

import (
	"fmt"
	"net/url"
	"slices"

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
