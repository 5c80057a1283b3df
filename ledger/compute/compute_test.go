package compute

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"ashbook/testdata/reference"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
)

const testdata = "../../testdata"

func d(s string) decimal.Decimal { return decimal.RequireFromString(s) }

// run has a calculation answer.
func run(t testing.TB, name, in string) ([]byte, error) {
	t.Helper()
	return named(t, name).Run(strings.NewReader(in))
}

func named(t testing.TB, name string) Command {
	t.Helper()
	for _, c := range Commands() {
		if c.Name == name {
			return c
		}
	}
	require.Fail(t, "no such calculation", name)
	return Command{}
}

// examples are the files of testdata/compute: the calculation stands before the first dash of the name.
func examples(t testing.TB) map[string]string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(testdata, "compute", "*.json"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	out := map[string]string{}
	for _, f := range files {
		text, err := os.ReadFile(f)
		require.NoError(t, err)
		out[strings.TrimSuffix(filepath.Base(f), ".json")] = string(text)
	}
	return out
}

func calculationOf(example string) string {
	name, _, _ := strings.Cut(example, "-")
	return name
}

// answer is what an example is answered with.
func answer(t testing.TB, example string) any {
	t.Helper()
	out, err := run(t, calculationOf(example), examples(t)[example])
	require.NoError(t, err, example)
	var v any
	require.NoError(t, json.Unmarshal(out, &v))
	return v
}

var step = regexp.MustCompile(`[^.\[\]]+`)

// at finds a figure by its path in an answer, as lots[0].water.
func at(t testing.TB, v any, path string) decimal.Decimal {
	t.Helper()
	for _, name := range step.FindAllString(path, -1) {
		if i, err := strconv.Atoi(name); err == nil {
			v = v.([]any)[i]
			continue
		}
		inside, there := v.(map[string]any)[name]
		require.True(t, there, "%s: no %s", path, name)
		v = inside
	}
	return d(fmt.Sprint(v))
}

// The examples against the rows of chem-check-values.csv, which name their sources. scale turns the answer's unit into that of the row.
func TestExamplesAgainstTheCheckValues(t *testing.T) {
	const pour = "1435.789615161511" // g in the pot: oils, alkali and water of the worked recipe
	for _, v := range []struct{ example, path, scale, id string }{
		{"lye-four-oils", "exact.alkalis[0].grams", "1", "four_oil_naoh_weighed"},
		{"lye-four-oils", "exact.water_grams", "1", "four_oil_water_33"},
		{"lye-four-oils", "weigh.superfat", "1", "four_oil_superfat_entered"},
		{"lye-coconut-1908", "superfat.value", "1", "cold_process_1908_coconut_superfat"},
		{"solution-density-40c", "by_density.strength.value", "100", "inv_density_1"},
		{"solution-stock-lye", "by_density.strength.value", "100", "inv_density_2"},
		{"solution-stock-lye", "by_mass.expected.readings[0].reading", "1", "crc_density_20_30"},
		{"titration-free-alkali", "results[0].value", "100", "free_alkali_10g"},
		{"titration-saponification", "results[0].value", "1", "sap_titration_full_precision"},
	} {
		row := reference.Value(v.id)
		tolerance := decimal.Max(d(row["tolerance"]), d("1e-11")) // answers have 12 places
		reference.Within(t, d(row["expected"]), at(t, answer(t, v.example), v.path).Mul(d(v.scale)), tolerance, "%s %s; %s (%s)", v.example, v.path, row["source"], row["mark"])
	}
	usp := strings.Split(reference.Value("usp_total_alkali")["expected"], " / ") // factors of the USP-NF monograph
	for i, want := range usp {
		got := at(t, answer(t, "titration-usp-sodium-hydroxide"), fmt.Sprintf("results[%d].value", i))
		reference.Within(t, d(want), got.Shift(2), d("0.001"), "USP-NF, result %d", i)
	}
	bars := answer(t, "composition-four-oils")
	reference.Within(t, d(reference.Value("four_oil_glycerol")["expected"]), at(t, bars, "lots[0].as_poured.glycerol").Mul(d(pour)), d("0.000001"), "worked example 3")
	soap := decimal.Zero
	for _, p := range bars.(map[string]any)["lots"].([]any)[0].(map[string]any)["as_poured"].(map[string]any)["parts"].([]any) {
		if part := p.(map[string]any); part["what"] == "soap" {
			soap = soap.Add(d(part["share"].(string)))
		}
	}
	reference.Within(t, d(reference.Value("four_oil_soap")["expected"]), soap.Mul(d(pour)), d("0.000001"), "worked example 3, by mass conservation")
}

// The uncertainty of the worked recipe as weighed exactly, against worked example 10 (a Monte Carlo of a million gives 0.012295). The
// example file adds the scale, which counts for less than a tenth of a per cent of it.
func TestUncertaintyAgainstTheCheckValue(t *testing.T) {
	row := reference.Value("four_oil_u_superfat")
	reference.Within(t, d(row["expected"]), at(t, answer(t, "lye-four-oils"), "budget.u"), d("0.00001"), row["source"])
}

// 71.4 °Tw is 32.64 % by the table of 1908 (Simmons & Appleton), which differs from the density table by 0.32 % at most.
func TestHydrometerOf1908(t *testing.T) {
	row := reference.Value("twaddell_1908")
	reference.Within(t, d(row["expected"]), at(t, answer(t, "solution-twaddell-1908"), "by_density.strength.value").Shift(2), d("0.33"), row["source"])
}

// The synthetic check series of the reference notes on cure, fitted beforehand with other software.
func TestCureOfTheCheckSeries(t *testing.T) {
	a := answer(t, "cure-check-series")
	for path, want := range map[string][2]string{
		"curve.bars[0].final_grams.value":          {"118.2465", "0.0001"},
		"curve.bars[0].final_grams.standard_error": {"0.304", "0.0005"},
		"curve.bars[0].cut_grams.value":            {"135.0111", "0.0001"},
		"curve.tau_days.value":                     {"15.4067", "0.0001"},
		"curve.beta.value":                         {"0.7593", "0.0001"},
		"predictions[0].mean_grams.value":          {"119.756", "0.0005"},
		"predictions[1].mean_grams.value":          {"119.414", "0.0005"},
		"predictions[2].bars[0].grams.value":       {"118.693", "0.0005"},
		"recent_loss.per_week":                     {"0.00677", "0.000005"},
		"recent_loss.upper_95":                     {"0.00914", "0.000005"},
	} {
		reference.Within(t, d(want[0]), at(t, a, path), d(want[1]), path)
	}
}

// What was in the pot, put right in one way, has the superfat that is wanted.
func TestMendedPotIsRight(t *testing.T) {
	a := answer(t, "lye-mould-two-alkalis")
	var in map[string]any
	require.NoError(t, json.Unmarshal([]byte(examples(t)["lye-mould-two-alkalis"]), &in))
	more := at(t, a, "in_pot.alkalis[0].more_grams")
	require.True(t, more.IsPositive())
	in["in_pot"].(map[string]any)["alkalis"].([]any)[0].(map[string]any)["grams"] = more.Add(d("200")).String()
	text, err := json.Marshal(in)
	require.NoError(t, err)
	out, err := run(t, "lye", string(text))
	require.NoError(t, err)
	var mended any
	require.NoError(t, json.Unmarshal(out, &mended))
	reference.Within(t, d("0.06"), at(t, mended, "in_pot.superfat.value"), d("1e-11"))
	reference.Within(t, d("2400"), at(t, a, "batter_ml"), d("0.001"), "it fills the mould")
}

// The same input gives the same bytes, and figures may be numbers or strings.
func TestAnswersAreTheSameForNumbersAndStrings(t *testing.T) {
	figure := regexp.MustCompile(`: "([0-9]+(?:\.[0-9]+)?)"`)
	for name, in := range examples(t) {
		want, err := run(t, calculationOf(name), in)
		require.NoError(t, err, name)
		got, err := run(t, calculationOf(name), figure.ReplaceAllString(in, ": $1"))
		require.NoError(t, err, name)
		require.Equal(t, string(want), string(got), name)
		require.NotContains(t, string(want), "NaN")
	}
}

// Every answer says what it rests on, and that lye burns or what else to mind.
func TestAnswersHaveSourcesAndCautions(t *testing.T) {
	for name := range examples(t) {
		a := answer(t, name).(map[string]any)
		require.Equal(t, "ashbook compute "+calculationOf(name), a["calculation"])
		require.Equal(t, Version, a["version"])
		require.NotEmpty(t, a["sources"], name)
		require.Contains(t, a["cautions"], informs, name)
	}
	require.Contains(t, string(must(run(t, "lye", examples(t)["lye-four-oils"]))), "Lye burns")
	heavy := `{"oils": [{"name": "any", "grams": 100, "sap_min": 190, "sap_max": 190}], "alkalis": [{"kind": "NaOH", "purity": 1}], "alkali_grams": 20, "water_grams": 40}`
	require.Contains(t, string(must(run(t, "lye", heavy))), "lye-heavy soap, which burns")
	for grams, burns := range map[string]bool{"50": true, "90": false} {
		pot := mutated(t, "lye-coconut-1908", "in_pot", `{"oils": [{"name": "coconut", "grams": `+grams+`}], "alkalis": [{"kind": "NaOH", "grams": 16.32}]}`)
		require.Equal(t, burns, strings.Contains(string(must(run(t, "lye", pot))), potBurns), grams)
	}
}

func must(out []byte, err error) []byte {
	if err != nil {
		panic(err)
	}
	return out
}

// A published fatty acid is one in the composition, too: it makes water, and no glycerol.
func TestPublishedFattyAcidsAreFree(t *testing.T) {
	for name, formed := range map[string]bool{"stearic acid (commercial, C16/C18 mix)": true, "palmitic acid (pure C16:0, theory)": true,
		"beeswax (yellow or white)": false, "coconut": false} {
		in := fmt.Sprintf(`{"lots": [{"lot": "fat", "oil": {"published": %q}}, {"lot": "soda", "alkali": {"kind": "NaOH", "purity": 1}}],
			"batches": [{"batch": "b", "soap": true, "uses": [{"lot": "fat", "grams": 100}, {"lot": "soda", "grams": 5}], "makes": [{"lot": "bars"}]}], "of": [{"lot": "bars"}]}`, name)
		require.Equal(t, formed, strings.Contains(string(must(run(t, "composition", in))), "water that formed"), name)
	}
}

// Each test by its formula, as package assay lists it with its standard, worked out by hand.
func TestEveryTitration(t *testing.T) {
	for in, want := range map[string]string{
		`"caustic_by_ethanol": {"titrant_ml": 1, "titrant_mol_per_l": 0.1, "sample_grams": 2}`:                                             "0.002",    // 1 × 0.1 × 4.00 / 2 %
		`"caustic_by_barium": {"titrant_ml": 1, "titrant_mol_per_l": 0.1, "sample_grams": 2}`:                                              "0.002805", // 1 × 0.1 × 5.61 / 2 %
		`"free_alkali": {"acid_ml": 10, "acid_mol_per_l": 0.1, "alkali_ml": 9, "alkali_mol_per_l": 0.1, "sample_grams": 10, "as": "NaOH"}`: "0.0004",   // 0.1 × 4.00 / 10 %
		`"whole_alkali": {"acid_ml": 50, "acid_mol_per_l": 1, "alkali_ml": 30, "alkali_mol_per_l": 0.5, "sample_grams": 5, "as": "KOH"}`:   "0.3927",   // 35 × 5.61 / 5 %
		`"fatty_matter": {"dried_grams": 4, "alkali_ml": 10, "alkali_mol_per_l": 1, "sample_grams": 5}`:                                    "0.724",    // (4 - 0.38) / 5
		`"chloride": {"titrant_ml": 5, "titrant_mol_per_l": 0.1, "sample_grams": 5}`:                                                       "0.00585",  // 0.5 × 5.85 / 5 %
		`"moisture": {"before_grams": 10, "after_grams": 8.5}`:                                                                             "0.15",
	} {
		out, err := run(t, "titration", "{"+in+"}")
		require.NoError(t, err, in)
		var v any
		require.NoError(t, json.Unmarshal(out, &v))
		reference.Within(t, d(want), at(t, v, "results[0].value"), decimal.Zero, in)
	}
	out, err := run(t, "titration", `{"moisture": {"before_grams": 10, "after_grams": 8.5}, "hold_against": [{"name": "ours", "test": "moisture", "at_least": 0.2}]}`)
	require.NoError(t, err)
	require.Contains(t, string(out), `"verdict": "fail"`)
	out, err = run(t, "titration", examples(t)["titration-usp-sodium-hydroxide"])
	require.NoError(t, err)
	require.NotContains(t, string(out), `"as": "KOH"`, "soda is not held against the limits of potash")
}

// The worked recipe at half the size takes half of everything, by oils and by a mould at a measured density.
func TestResizedFormula(t *testing.T) {
	want := at(t, answer(t, "lye-four-oils"), "exact.water_grams").Div(d("2"))
	for _, resize := range []string{`{"oil_grams": 500}`, `{"mould_ml": 717.894807580755, "batter_density": 1}`} { // half the mass in the pot
		out, err := run(t, "lye", mutated(t, "lye-four-oils", "resize", resize))
		require.NoError(t, err)
		var v any
		require.NoError(t, json.Unmarshal(out, &v))
		reference.Within(t, want, at(t, v, "exact.water_grams"), d("1e-9"), resize)
	}
}

// 40 % of the mass is 32 % of the equivalents: package soap.
func TestShareOfPotashByMassAndByEquivalents(t *testing.T) {
	both := mutated(t, "lye-four-oils", "alkalis", `[{"kind": "NaOH", "purity": 1}, {"kind": "KOH", "purity": 1}]`)
	grams := func(share, by string) decimal.Decimal {
		out, err := run(t, "lye", strings.Replace(both, "{", fmt.Sprintf(`{"koh_share": %s, "koh_share_by": %q,`, share, by), 1))
		require.NoError(t, err)
		var v any
		require.NoError(t, json.Unmarshal(out, &v))
		return at(t, v, "exact.alkalis[1].grams")
	}
	require.InDelta(t, grams("0.4", "mass").InexactFloat64(), grams("0.3222", "equivalents").InexactFloat64(), 0.01)
}

// An acid that is not known is taken by its equivalent mass.
func TestOtherAcids(t *testing.T) {
	soda := func(acid string) decimal.Decimal {
		out, err := run(t, "lye", mutated(t, "lye-four-oils", "acids", "["+acid+"]"))
		require.NoError(t, err)
		var v any
		require.NoError(t, json.Unmarshal(out, &v))
		return at(t, v, "exact.alkalis[0].grams")
	}
	reference.Within(t, soda(`{"name": "citric acid", "grams": 10}`), soda(`{"name": "lemon salt", "grams": 10, "equivalent_mass": 64.041}`), d("1e-9"))
}

// What is in the pot is weighed on the same scales as what is to be weighed: equal masses give an equal budget, with and without a scale
// of its own for alkali.
func TestPotIsAsDoubtfulAsWhatIsToBeWeighed(t *testing.T) {
	for _, scales := range []string{`"scale": {"step_grams": 20}`, `"scale": {"step_grams": 1}, "alkali_scale": {"step_grams": 10, "limit_grams": 5}`} {
		out, err := run(t, "lye", `{"oils": [{"name": "olive", "grams": 500, "sap_min": 184, "sap_max": 196}, {"name": "coconut", "grams": 500, "sap": 257, "sap_half": 2}],
			"alkalis": [{"kind": "NaOH", "purity": 0.98, "purity_half": 0.01}], "alkali_grams": 160, "concentration": 0.33, `+scales+`,
			"in_pot": {"oils": [{"name": "olive", "grams": 500}, {"name": "coconut", "grams": 500}], "alkalis": [{"kind": "NaOH", "grams": 160}]}}`)
		require.NoError(t, err)
		var v any
		require.NoError(t, json.Unmarshal(out, &v))
		for _, figure := range []string{"u", "low_95", "high_95", "lye_heavy_chance"} {
			reference.Within(t, at(t, v, "budget."+figure), at(t, v, "in_pot.budget."+figure), decimal.Zero, figure)
		}
		require.True(t, at(t, v, "in_pot.budget.u").GreaterThan(d("0.02")), "the masses count") // ranges and purity alone: 0.013
	}
}
