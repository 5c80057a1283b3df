package compute

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/require"
)

// compiled is a schema of a calculation, as a foreign library understands it.
func compiled(t testing.TB, text []byte, err error) *jsonschema.Schema {
	t.Helper()
	require.NoError(t, err)
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(string(text)))
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	require.NoError(t, c.AddResource("https://ashbook.invalid/schema.json", doc))
	s, err := c.Compile("https://ashbook.invalid/schema.json") // checks it against the meta-schema of draft 2020-12
	require.NoError(t, err)
	return s
}

func inputSchema(t testing.TB, name string) *jsonschema.Schema {
	text, err := named(t, name).InputSchema()
	return compiled(t, text, err)
}

func validate(t testing.TB, s *jsonschema.Schema, text string) error {
	t.Helper()
	v, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
	require.NoError(t, err)
	return s.Validate(v)
}

// The schemas accept the examples and their answers.
func TestSchemasAcceptExamplesAndAnswers(t *testing.T) {
	for name, in := range examples(t) {
		require.NoError(t, validate(t, inputSchema(t, calculationOf(name)), in), name)
		text, err := named(t, calculationOf(name)).OutputSchema()
		out, failed := run(t, calculationOf(name), in)
		require.NoError(t, failed, name)
		require.NoError(t, validate(t, compiled(t, text, err), string(out)), name)
	}
}

// Every calculation has an example, and every field of every format is described.
func TestEveryFieldIsDescribed(t *testing.T) {
	var look func(s *shape, path string)
	look = func(s *shape, path string) {
		if s.elem != nil {
			look(s.elem, path)
		}
		known := map[string]bool{}
		for _, f := range s.fields {
			require.NotEmpty(t, f.doc, path+"."+f.name)
			require.Regexp(t, `^[a-z0-9_]+$`, f.name)
			require.Contains(t, rules, f.shape.rule)
			if f.shape.form == list {
				require.True(t, f.shape.most > 0 || strings.HasPrefix(path, "answer"), "%s.%s has no longest", path, f.name)
			}
			known[f.name] = true
			look(f.shape, path+"."+f.name)
		}
		for _, c := range s.choices {
			for _, name := range c.names() {
				require.True(t, known[name], "%s has no %s to choose", path, name)
			}
		}
	}
	with := map[string]bool{}
	for name := range examples(t) {
		with[calculationOf(name)] = true
	}
	for _, c := range Commands() {
		require.True(t, with[c.Name], c.Name)
		look(shapeOf(c.in, ""), c.Name)
		look(shapeOf(c.out, ""), "answer of "+c.Name)
	}
}

// mutated is an example with one field set, or removed where the value is "-".
func mutated(t testing.TB, example, path, value string) string {
	t.Helper()
	var doc any
	require.NoError(t, json.Unmarshal([]byte(examples(t)[example]), &doc))
	names := step.FindAllString(path, -1)
	v := doc
	for _, name := range names[:len(names)-1] {
		if m, ok := v.(map[string]any); ok {
			v = m[name]
		} else {
			v = v.([]any)[int(d(name).IntPart())]
		}
	}
	last := names[len(names)-1]
	set := json.RawMessage(value)
	switch v := v.(type) {
	case map[string]any:
		if v[last] = set; value == "-" {
			delete(v, last)
		}
	case []any:
		v[int(d(last).IntPart())] = set
	}
	text, err := json.Marshal(doc)
	require.NoError(t, err)
	return string(text)
}

// What the reader refuses with a line that names the field, and what the schema refuses with it. bySchema is false for what fields
// say about one another in figures, which no schema can see.
func TestWrongInputIsRefusedByName(t *testing.T) {
	for _, v := range []struct {
		example, path, value string
		line                 string
		bySchema             bool
	}{
		{"lye-four-oils", "oils[2].sap_mim", "190", "oils[2].sap_mim: unknown field", true},
		{"lye-four-oils", "oils[2].Grams", "190", `oils[2]."Grams": unknown field`, true},
		{"lye-four-oils", "oils[1].grams", "-5", "oils[1].grams: -5 is not a number of zero or more", true},
		{"lye-four-oils", "oils[1].grams", `"-5"`, `oils[1].grams: "-5" is not a number of zero or more`, true},
		{"lye-four-oils", "oils[1].grams", `"12,5"`, "oils[1].grams:", true},
		{"lye-four-oils", "oils[1].grams", "null", "oils[1].grams: null", true},
		{"lye-four-oils", "oils[1].grams", `1e999999999`, "oils[1].grams: 1e999999999", true},
		{"lye-four-oils", "oils[1].grams", `[]`, "oils[1].grams: a list", true},
		{"lye-four-oils", "oils[1].published", "-", "oils[1].sap_min: missing; give sap_min and sap_max, or published, or sap and sap_half", true},
		{"lye-four-oils", "oils[1].sap_max", "265", "oils[1].published: does not go with sap_max", true},
		{"lye-four-oils", "oils[1].published", `"coconuts"`, `oils[1].published: "coconuts" is not known`, true},
		{"lye-four-oils", "oils[1].name", `"olive"`, `oils[1].name: "olive" is used twice`, false},
		{"lye-four-oils", "oils[1].name", `"a\nb"`, `oils[1].name: "a\nb"; give 1 to 100 characters`, true},
		{"lye-four-oils", "oils", "[]", "oils: an empty list", true},
		{"lye-four-oils", "oils", "{}", "oils: an object; give a list", true},
		{"lye-four-oils", "oils", "-", "oils: missing", true},
		{"lye-four-oils", "superfat", "1", "superfat: 1 is not a share of at least 0 and below 1", true},
		{"lye-four-oils", "superfat", "5", "superfat: 5 is not a share", true},
		{"lye-four-oils", "alkali_grams", "5", "alkali_grams: does not go with superfat", true},
		{"lye-four-oils", "concentration", "-", "concentration: missing; give concentration, or water_ratio, or water_grams", true},
		{"lye-four-oils", "koh_share", "0.4", "koh_share_by: missing; it goes with koh_share", true},
		{"lye-four-oils", "alkalis[0].kind", `"LiOH"`, `alkalis[0].kind: "LiOH" is not known; give one of NaOH, KOH`, true},
		{"lye-four-oils", "alkalis[0].purity", "98", "alkalis[0].purity: 98 is not a share above 0", true},
		{"lye-four-oils", "alkalis[0].purity_half", "0.99", "alkalis[0].purity_half: 0.99 is not below the purity", false},
		{"lye-four-oils", "scale.step_grams", "0", "scale.step_grams: 0 is not a number above zero", true},
		{"lye-four-oils", "scale.step_grams", `"0.000"`, "scale.step_grams:", true},
		{"lye-four-oils", "scale.step_grams", "400000", "scale: ", false},
		{"lye-coconut-1908", "oils[0].sap_max", "200", "oils[0].sap_max: 200 is below sap_min, 259.7", false},
		{"lye-coconut-1908", "oils[0].sap_max", "-", "oils[0].sap_max: missing; it goes with sap_min", true},
		{"lye-mould-two-alkalis", "oils[0].share", "0.6", "oils: the shares sum to 1.1, not to 1", false},
		{"lye-mould-two-alkalis", "oil_grams", "-", "oils[0].share: it needs the mass of all oils", false},
		{"lye-mould-two-alkalis", "oils[1].iodine", "-", "oils[1].iodine: missing; a volume needs the density", false},
		{"lye-mould-two-alkalis", "oils[1].sap_half", "30", "oils[1].sap_half: 30 is not a half-width of a saponification value of at least 0 and below 30", true},
		{"lye-mould-two-alkalis", "oils[1].sap_half", `"30.5"`, "oils[1].sap_half:", true},
		{"lye-mould-two-alkalis", "oils[1].sap", "0.19", "oils[1].sap: 0.19 is not a saponification value from 50 to 450 mg KOH per g", true},
		{"lye-mould-two-alkalis", "oils[1].sap", "19000", "oils[1].sap: 19000 is not", true},
		{"lye-mould-two-alkalis", "oils[1].sap", `"450.1"`, `oils[1].sap: "450.1" is not`, true},
		{"lye-mould-two-alkalis", "oils[1].sap", `"49.99"`, `oils[1].sap: "49.99" is not`, true},
		{"lye-coconut-1908", "oils[0].sap_min", "0.26", "oils[0].sap_min: 0.26 is not", true},
		{"lye-coconut-1908", "oils[0].sap_max", "451", "oils[0].sap_max: 451 is not", true},
		{"lye-mould-two-alkalis", "koh_share_by", `"volume"`, "koh_share_by:", true},
		{"lye-mould-two-alkalis", "acids[0].name", `"tartaric acid"`, "acids[0].equivalent_mass: missing", false},
		{"lye-mould-two-alkalis", "resize.oil_grams", "5", "resize.batter_celsius: does not go with", true},
		{"lye-mould-two-alkalis", "resize.batter_celsius", "-", "resize.batter_celsius: missing; it goes with mould_ml", true},
		{"lye-mould-two-alkalis", "resize.batter_celsius", "400", "resize: ", false},
		{"lye-mould-two-alkalis", "in_pot.oils[0].name", `"neem"`, `in_pot.oils[0].name: "neem" is not an oil of the formula`, false},
		{"lye-mould-two-alkalis", "in_pot.oils[1].name", `"olive"`, `in_pot.oils[1].name: "olive" is given twice`, false},
		{"lye-mould-two-alkalis", "in_pot.oils", `[{"name": "olive", "grams": 0}]`, "in_pot.oils: no oil with a mass", false},
		{"lye-mould-two-alkalis", "in_pot.alkalis", `[{"kind": "KOH", "grams": 1}, {"kind": "KOH", "grams": 1}]`, "in_pot.alkalis[1].kind: KOH is given twice", false},
		{"lye-four-oils", "in_pot", `{"oils": [{"name": "olive", "grams": 1}], "alkalis": [{"kind": "KOH", "grams": 1}]}`, "in_pot.alkalis[0].kind: KOH is not an alkali of the formula", false},
		{"lye-four-oils", "alkalis", `[{"kind": "NaOH", "purity": 1}, {"kind": "NaOH", "purity": 1}]`, "alkalis: NaOH is given twice", false},
		{"lye-four-oils", "alkalis", `[{"kind": "NaOH", "purity": 1}, {"kind": "KOH", "purity": 1}]`, "koh_share: NaOH and KOH are given but not how they share", false},
		{"lye-four-oils", "oil_grams", "1000", "oils[0].grams: oil_grams is given", false},
		{"lye-coconut-1908", "in_pot", `{"oils": [{"name": "coconut", "grams": 90}], "alkalis": [{"kind": "NaOH", "grams": 40}], "superfat": 1}`, "in_pot.superfat: 1 is not a share", true},
		{"lye-coconut-1908", "oils[0].name", `"` + strings.Repeat("x", 101) + `"`, "oils[0].name: ", true},
		{"solution-stock-lye", "by_mass.purity.u", "0.1", "by_mass.purity.half: does not go with u", true},
		{"solution-stock-lye", "by_mass.purity.half", "0.99", "by_mass.purity: how far it may be off is not below the purity", false},
		{"solution-stock-lye", "by_mass.purity.value", "1.2", "by_mass.purity.value: 1.2 is not a share above 0", true},
		{"solution-stock-lye", "by_mass.expect_at_celsius", "140", "by_mass.expect_at_celsius: no density is known", false},
		{"solution-stock-lye", "by_mass.dissolve.ice_grams", "700", "by_mass.dissolve.ice_grams: 700 g are more than all the water", false},
		{"solution-stock-lye", "by_density.celsius.value", "140", "by_density.celsius: no density is known", false},
		{"solution-stock-lye", "by_density.reading.value", "1.9", "by_density.reading: ", false},
		{"solution-stock-lye", "by_density.scale", `"Brix"`, "by_density.scale:", true},
		{"solution-twaddell-1908", "by_density", "-", "by_mass: missing; give by_mass, or by_density, or by_mass and by_density", true},
		{"titration-free-alkali", "caustic_by_ethanol.titrant_ml", "1001", "caustic_by_ethanol.titrant_ml: 1001 is not a volume from 0 to 1000 mL", true},
		{"titration-free-alkali", "caustic_by_ethanol.titrant_mol_per_l", `"20.1"`, "caustic_by_ethanol.titrant_mol_per_l:", true},
		{"titration-free-alkali", "caustic_by_ethanol.sample_grams", "-", "caustic_by_ethanol.sample_grams: missing", true},
		{"titration-free-alkali", "chloride", "{}", "chloride.titrant_ml: missing", true},
		{"titration-free-alkali", "hold_against[0].test", `"chloride"`, "hold_against[0].test: chloride was not tested for here", false},
		{"titration-free-alkali", "hold_against[0].as", `"NaCl"`, "hold_against[0].as: ", false},
		{"titration-free-alkali", "hold_against[0].at_least", "0.1", "hold_against[0].at_least: does not go with at_most", true},
		{"titration-saponification", "saponification_value.sample_ml", "30", "saponification_value: the sample took 30 mL", false},
		{"titration-usp-sodium-hydroxide", "two_indicators.after_ml", "20", "two_indicators: ", false},
		{"cure-check-series", "cut_on", `"2026-02-30"`, `cut_on: "2026-02-30" is not a date`, false},
		{"cure-check-series", "cut_on", `"1 January"`, "cut_on: ", true},
		{"cure-check-series", "weighings[3].on", `"2025-12-31"`, "weighings[3].on: 2025-12-31T00:00:00Z is before the cut", false},
		{"cure-check-series", "weighings[3].on", `"2046-12-31"`, "weighings[3].on: 2046-12-31T00:00:00Z is more than 3650 days after the cut", false},
		{"cure-check-series", "weighings[3].grams", "0", "weighings[3].grams: 0 is not a number above zero", true},
		{"cure-check-series", "rules.min_days", "2.5", "rules.min_days: not a whole number", true},
		{"cure-check-series", "rules.min_days", `"28"`, "rules.min_days: not a whole number", true},
		{"cure-check-series", "today", "-", "today: missing; it goes with rules", true},
		{"composition-four-oils", "lots[0].oil", "-", "lots[0].oil: missing; give oil, or alkali, or water, or acid, or other", true},
		{"composition-four-oils", "lots[5].water", "true", "lots[5].water: true or false; give an object", true},
		{"composition-four-oils", "batches[0].uses[0].lot", `"oliv"`, `batches[0].uses[0].lot: "oliv" is neither in lots nor made by a batch`, false},
		{"composition-four-oils", "batches[0].uses[0].lot", `"bars"`, `batches: a lot is among its own ancestors: "bars"`, false},
		{"composition-four-oils", "batches[0].uses[0].portion", `"red"`, `batches[0].uses[0].portion: "red" is not a portion of this batch`, false},
		{"composition-four-oils", "batches[0].makes[0].lot", `"olive"`, `batches[0].makes[0].lot: "olive" is given twice`, false},
		{"composition-four-oils", "batches[0].soap", `"yes"`, "batches[0].soap: text; give true or false", true},
		{"composition-four-oils", "lots[0].oil.sap", "0.00001", "lots[0].oil.sap: 0.00001 is not a saponification value", true},
		{"composition-four-oils", "of[0].water_share", "0.9", "of[0].water_share: soap with 0.2", false},
		{"composition-portions-rework", "batches[1].portions[0].share", "0.5", "batches[1].portions: the shares sum to 1.1, not to 1", false},
		{"composition-portions-rework", "batches[1].portions[1].portion", `"red"`, `batches[1].portions[1].portion: "red" is given twice`, false},
		{"composition-portions-rework", "of[0].grams_now", "50", "of[0].grams_now: a bar poured with 120 g weighs 50 g", false},
		{"composition-portions-rework", "of[0].grams_now", "-", "of[0].grams_now: missing; it goes with grams_poured", true},
	} {
		in := mutated(t, v.example, v.path, v.value)
		_, err := run(t, calculationOf(v.example), in)
		var w *WrongInput
		require.ErrorAs(t, err, &w, "%s %s", v.example, v.path)
		found := false
		for line := range strings.SplitSeq(w.Error(), "\n") {
			found = found || strings.HasPrefix(line, v.line)
		}
		require.True(t, found, "%s %s: wanted %q, got\n%s", v.example, v.path, v.line, w)
		if v.value == "1e999999999" { // the foreign library would work it out
			continue
		}
		require.Equal(t, v.bySchema, validate(t, inputSchema(t, calculationOf(v.example)), in) != nil, "%s %s = %s: the schema", v.example, v.path, v.value)
	}
}

// What is no JSON, or no object, or beyond all size.
func TestHostileTextIsRefused(t *testing.T) {
	deep := strings.Repeat("[", 5000) + strings.Repeat("]", 5000)
	for in, want := range map[string]string{
		"":                       "input: it is empty",
		"  \n":                   "input: it is empty",
		"{\n\"oils\": [,]}":      "input: line 2 is not JSON",
		"{} {}":                  "input: line 1 is not JSON",
		"[]":                     "input: a list; give an object",
		"12":                     "input: a number; give an object",
		"\xff\xfe{}":             "input: it is not UTF-8",
		`{"oils": 1, "oils": 2}`: "oils: given twice",
		deep:                     "deep in one another",
		`[{"a": 1, "a": 2}]`:     "input[0].a: given twice",
		`{"a": ` + deep + `}`:    "deep in one another",
		`{"` + strings.Repeat("x", 500) + `": 1}`:          `xxx…": unknown field`,
		strings.Repeat(" ", mostBytes+1):                   "input: more than 4194304 bytes",
		`{"oils": [` + strings.Repeat("{},", 200) + `{}]}`: "oils: 201 are given; give no more than 200",
		`{"superfat": 0.` + strings.Repeat("1", 100) + `}`: "superfat: 0.111",
		`{"superfat": 1e-30}`:                              "superfat: 1e-30",
		`{"water_grams": 0e99999}`:                         "water_grams: 0e99999",
	} {
		_, err := run(t, "lye", in)
		var w *WrongInput
		require.ErrorAs(t, err, &w, cut(in))
		require.Contains(t, w.Error(), want)
		require.LessOrEqual(t, len(w.Error()), 12_000)
	}
	_, err := run(t, "lye", `{"oils": [`+strings.Repeat(`{"x": 1},`, 99)+`{}]}`)
	require.Contains(t, err.Error(), "more; correct these first")
	for name, in := range map[string]string{
		"cure":        `{"weighings": [` + strings.Repeat("{},", 2000) + `{}]}`,
		"composition": `{"lots": [` + strings.Repeat("{},", 1000) + `{}]}`,
	} {
		_, err := run(t, name, in)
		require.Contains(t, err.Error(), "give no more than", name)
	}
}

// A reader of a type without a place in the format would be a fault of the program.
func TestShapesAreOfKnownTypes(t *testing.T) {
	require.Panics(t, func() { shapeOf(reflect.TypeFor[map[string]int](), "") })
}
