package api

import (
	"fmt"
	"slices"
	"strconv"

	"ashbook/api/pages"
	"ashbook/ledger"
	"ashbook/ledger/assay"
)

// temperatureField are a temperature that goes with a reading, and its unit.
func temperatureField(label, hint string) []pages.Field {
	return []pages.Field{pages.In(pages.Decimal, "at", label, hint),
		pages.In(pages.Select, "at_unit", "Its unit", "").Is("C").Of(pages.Option{Value: "C", Label: "°C"}, pages.Option{Value: "F", Label: "°F"})}
}

// at is that temperature as typed; nil when it was left out.
func (in *input) at() *ledger.ReadAt {
	if in.text("at") == "" {
		return nil
	}
	return &ledger.ReadAt{Typed: in.text("at"), Unit: in.text("at_unit")}
}

// scaleLabels say what each scale of a hydrometer is.
var scaleLabels = map[string]string{"g/mL": "g/mL", "SG 60/60": "specific gravity, 60/60 °F", "Tw": "°Twaddell", "Be 145": "°Baumé, modulus 145 (US)",
	"Be 144.3": "°Baumé, modulus 144.3"}

func densityForm(action string) *pages.Form {
	scale := pages.In(pages.Select, "unit", "Scale of the hydrometer", "1.33 and 38 stand on more than one: look at what is printed in it.").Must()
	for _, s := range ledger.ReadingKinds[ledger.LyeDensity] {
		scale.Options = append(scale.Options, pages.Option{Value: s, Label: scaleLabels[s]})
	}
	warm := temperatureField("How warm was the lye?", "Let it come near 20 °C: that is where the table is surest.")
	warm[0] = warm[0].Must()
	return pages.NewForm("density", action, "Record the density", slices.Concat(
		[]pages.Field{pages.In(pages.Hidden, "type", "", "").Is(ledger.LyeDensity), pages.In(pages.Decimal, "typed", "As read", "").Must().Large(), scale}, warm,
		[]pages.Field{pages.In(pages.Decimal, "within", "How far the hydrometer may be off", "To either side, on its scale. Empty: one in the last place that you typed.").Under(""),
			pages.In(pages.Text, "instrument", "Hydrometer", "").Under("")})...).WithTime()
}

func titrationForm(b ledger.Batch) *pages.Form {
	method := pages.In(pages.Select, "titration.method", "By which method?", "").Must()
	kinds := ledger.SoapMethods()
	for _, m := range assay.Methods() {
		if kind, ok := kinds[string(m.Method)]; ok {
			method.Options = append(method.Options, pages.Option{Value: string(m.Method), Label: kind + ": " + m.Standard})
		}
	}
	return pages.NewForm("titration", actionOf(b, "titration"), "Work it out and record it", method,
		pages.In(pages.Decimal, "titration.sample", "Soap taken, g", "").Must().Large(),
		pages.In(pages.Decimal, "titration.volume", "Titrant used to the end point, mL", "Back titrations: the alkali for the acid that was left. Oven: none.").Large(),
		pages.In(pages.Decimal, "titration.titrant", "Titrant, mol/L", "By what it neutralises: 0.1 N is 0.1.").Is("0.1"),
		pages.In(pages.Decimal, "titration.factor", "Its factor", "From its standardisation. Empty: 1, taken as good to 1 %."), heldAgainst(),
		pages.In(pages.Decimal, "titration.blank", "Blank, mL", "What a blank used; not for back titrations.").Under(""),
		pages.In(pages.Decimal, "titration.acid", "Back titrations: acid added, mL", "").Under(""),
		pages.In(pages.Decimal, "titration.acid_titrant", "That acid, mol/L", "").Under(""),
		pages.In(pages.Decimal, "titration.acid_factor", "Its factor", "").Under(""),
		pages.In(pages.Decimal, "titration.dried", "Dried, g", "The dried potassium soap, or what is left after the oven.").Under(""),
		pages.In(pages.Select, "titration.as", "Back titrations: stated as", "").Is("NaOH").Of(pages.Same("NaOH", "KOH")...).Under("NaOH"),
		pages.In(pages.Decimal, "titration.volume_within", "How far a volume may be off, mL", "To either side. Empty: 0.05, one drop.").Under(""),
		ownLimit(), whoseLimit(), pages.In(pages.Text, "sample", "Which bar", "").Under("")).WithTime()
}

func heldAgainst() pages.Field {
	return pages.In(pages.Select, "limit", "Held against", "The law of your place goes before all of these.").
		Of(pages.OrNone("the limit of the shop, for free alkali; for others none", limitOptions())...)
}

func ownLimit() pages.Field {
	return pages.In(pages.Decimal, "own_percent", "A limit of your own, %", "Then say whose it is.").Under("")
}

func whoseLimit() pages.Field {
	return pages.In(pages.Text, "own_source", "Whose limit is that?", "The rule of your place, your buyer.").Under("")
}

// soapLimits are the published limits for tests of soap.
func soapLimits() []assay.Limit {
	return slices.DeleteFunc(assay.Limits(), func(l assay.Limit) bool {
		return slices.Contains([]assay.Test{assay.LyeTotalAlkali, assay.LyeHydroxide, assay.LyeCarbonate, assay.Saponification}, l.Test)
	})
}

func limitOptions() []pages.Option {
	var list []pages.Option
	for i, l := range soapLimits() {
		list = append(list, pages.Option{Value: strconv.Itoa(i + 1), Label: fmt.Sprintf("%s, %s: %s (%s)", l, l.Name, l.Source, l.Mark)})
	}
	return list
}

// limit is what was chosen, or typed as one's own.
func (in *input) limit() *ledger.TestLimit {
	if own := in.optional("own_percent"); own != nil {
		if in.text("own_source") == "" {
			in.form.Blame("own_source", "is empty; say whose limit that is")
		}
		return &ledger.TestLimit{Percent: *own, Source: in.text("own_source")}
	}
	i, limits := in.pick("limit"), soapLimits()
	if i < 1 || i > int64(len(limits)) {
		return nil
	}
	l := limits[i-1]
	return &ledger.TestLimit{Percent: l.Percent, AtLeast: l.AtLeast, As: l.As, Source: l.Source + ", " + l.Name, Mark: l.Mark}
}

func (in *input) titrated() *ledger.Titrated {
	get := func(name string) string { return in.text("titration." + name) }
	t := &ledger.Titrated{Method: get("method"), Sample: get("sample"), Volume: get("volume"), Blank: get("blank"), Titrant: get("titrant"), Factor: get("factor"),
		Acid: get("acid"), AcidTitrant: get("acid_titrant"), AcidFactor: get("acid_factor"), Dried: get("dried"), As: get("as"),
		VolumeWithin: in.optional("titration.volume_within")}
	if assay.Method(t.Method) == assay.OvenMethod { // the form offers the usual titrant, and there is none
		t.Titrant = ""
	}
	return t
}

func passedField(hint string) pages.Field {
	return pages.In(pages.Choice, "passed", "Against the limit of that method or rule", hint).Must().Of(
		pages.Option{Value: "yes", Label: "It passed"}, pages.Option{Value: "no", Label: "It failed"})
}

func phForm(b ledger.Batch) *pages.Form {
	return pages.NewForm("ph", actionOf(b, "ph"), "Record the pH", slices.Concat(
		[]pages.Field{pages.In(pages.Hidden, "type", "", "").Is(ledger.PH), pages.In(pages.Decimal, "typed", "pH", "").Must().Large(),
			pages.In(pages.Choice, "way", "Measured with", "").Must().Of(
				pages.Option{Value: ledger.WithMeter, Label: "A meter", Note: "calibrated that day"}, pages.Option{Value: ledger.WithStrip, Label: "A strip", Note: "half a unit at best"}),
			pages.In(pages.Decimal, "solution", "Soap in the solution, %", "1: one gram of soap in 99 g of water.").Is("1").Must()},
		temperatureField("How warm was it?", "Empty: 20 °C."),
		[]pages.Field{passedField("A pH alone is too weak for a release."), pages.In(pages.Text, "instrument", "Meter or strips", "")})...).WithTime()
}

func testForm(b ledger.Batch) *pages.Form {
	kinds := []pages.Option{{Value: ledger.FreeAlkali, Label: "Free alkali", Note: "% NaOH"}, {Value: ledger.TotalAlkali, Label: "Total alkali", Note: "% NaOH"},
		{Value: ledger.FattyMatter, Label: "Fatty matter", Note: "%"}, {Value: ledger.Chloride, Label: "Chloride", Note: "% NaCl"}, {Value: ledger.Moisture, Label: "Moisture", Note: "%"},
		{Value: ledger.AlkaliTongueTest, Label: "Tongue test", Note: "0 or 1; never enough for a release"}}
	return pages.NewForm("test", actionOf(b, "test"), "Record the result",
		pages.In(pages.Choice, "type", "What was measured?", "").Must().Of(kinds...),
		pages.In(pages.Decimal, "typed", "Figure", "").Must().Large(),
		pages.In(pages.Text, "method", "Method", "How it was measured, by which standard.").Must(),
		pages.In(pages.Text, "measured_by", "Who measured it", "The laboratory or the person. Empty: you."),
		passedField("What the test says. A figure above its limit fails, whatever is chosen."), heldAgainst(),
		pages.In(pages.Decimal, "within", "How far the figure may be off", "To either side, with 95 % confidence, as the laboratory states it. Empty: judged by its value alone.").Under(""),
		ownLimit(), whoseLimit(), pages.In(pages.Text, "instrument", "Instrument", "").Under("")).WithTime()
}
