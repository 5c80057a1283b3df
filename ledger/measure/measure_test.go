package measure

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
)

func d(s string) decimal.Decimal { return decimal.RequireFromString(s) }

// equal compares values, not representations.
func equal(t *testing.T, want string, got decimal.Decimal, note ...any) {
	t.Helper()
	require.Equal(t, d(want).String(), got.String(), note...)
}

func TestParseNumberReads(t *testing.T) {
	for typed, want := range map[string]string{
		"12": "12", " 12.5 ": "12.5", "12,5": "12.5", "0": "0", "0.0": "0", ".5": "0.5", ",5": "0.5", "5.": "5",
		"1,5": "1.5", "1,25": "1.25", "1,2345": "1.2345", "0,125": "0.125", "1.234": "1.234", "1234,125": "1234.125",
		"1/2": "0.5", "1 1/2": "1.5", "3/4": "0.75", "5/4": "1.25", "1½": "1.5", "½": "0.5", "2 ¾": "2.75", "1⁄4": "0.25",
		"1/3": "0.3333333333333333", "007": "7", "123456.789012": "123456.789012",
	} {
		got, err := ParseNumber(typed)
		require.NoError(t, err, "%q", typed)
		equal(t, want, got, "%q", typed)
	}
}

func TestParseNumberRefusesAndSaysWhy(t *testing.T) {
	for typed, why := range map[string]string{
		"":                         "no digit",
		"   ":                      "no digit",
		".":                        "no digit",
		"1,234":                    "1234 or 1.234?",
		"12,500":                   "12500 or 12.500?",
		"1,234.5":                  "thousands marks",
		"1.234,5":                  "thousands marks",
		"1,234,567":                "thousands marks",
		"1 234":                    "space inside",
		"1e3":                      "exponent",
		"1E3":                      "exponent",
		"-1":                       "negative",
		"−1":                       "negative",
		"+1":                       "type digits",
		"12 g":                     "type digits",
		"٣":                        "type digits",
		"NaN":                      "type digits",
		"1/0":                      "a fraction is typed",
		"1/":                       "a fraction is typed",
		"/2":                       "a fraction is typed",
		"1/2/3":                    "a fraction is typed",
		"1 2 3/4":                  "a fraction is typed",
		"1 5/4":                    "less than 1",
		"1.5 1/2":                  "whole number",
		"1234567890123":            "13 digits",
		strings.Repeat("9", 10000): "10000 digits",
	} {
		_, err := ParseNumber(typed)
		require.ErrorIs(t, err, ErrNumber, "%q", typed)
		require.ErrorContains(t, err, why, "%q", typed)
		require.Less(t, len(err.Error()), 250, "%q", typed)
	}
}

// Expected grams: exact definitions of the pound (0.45359237 kg, international agreement of 1959)
// and of the US gallon (231 cubic inches), spoons as in NIST Handbook 44 appendix C.
func TestParseMassAgainstDefinitions(t *testing.T) {
	for _, v := range []struct {
		typed         string
		unit          Unit
		density, want string
	}{
		{"500", Gram, "0", "500"},
		{"500 g", Gram, "0", "500"},
		{"1,5", Kilogram, "0", "1500"},
		{"1", Ounce, "0", "28.349523"},
		{"17.6", Ounce, "0", "498.951607"},
		{"1", Pound, "0", "453.59237"},
		{"2.5", Pound, "0", "1133.980925"},
		{"2 8", PoundOunce, "0", "1133.980925"},
		{"2 lb 8 oz", PoundOunce, "0", "1133.980925"},
		{"2lbs. 8oz.", PoundOunce, "0", "1133.980925"},
		{"2 LB", PoundOunce, "0", "907.18474"},
		{"8.5 oz", PoundOunce, "0", "240.970947"},
		{"8 1/2 oz", PoundOunce, "0", "240.970947"},
		{"0 lb 15 3/4 oz", PoundOunce, "0", "446.504989"},
		{"1", Teaspoon, "1", "4.928922"},
		{"1", Tablespoon, "1", "14.786765"},
		{"1", FluidOunce, "1", "29.57353"},
		{"1 fl. oz.", FluidOunce, "1", "29.57353"},
		{"1", Cup, "1", "236.588237"},
		{"16", Cup, "1", "3785.411784"},
		{"768", Teaspoon, "1", "3785.411784"},
		{"1½ tsp", Teaspoon, "1.33", "9.833199"},
		{"250", Millilitre, "0.9", "225"},
		{"1.5 l", Litre, "0.9982", "1497.3"},
		{"3 cups", Cup, "0.9982", "708.487133"},
		{"0", Gram, "0", "0"},
	} {
		got, err := ParseMass(v.typed, v.unit, Bulk{Density: d(v.density)})
		require.NoError(t, err, "%q %s", v.typed, v.unit)
		equal(t, v.want, got.Grams, "%q %s", v.typed, v.unit)
		require.Equal(t, v.typed, got.Typed)
		require.Equal(t, v.unit, got.Unit)
	}
}

func TestStepIsTheLastDecimal(t *testing.T) {
	for _, v := range []struct {
		typed string
		unit  Unit
		want  string
	}{
		{"112.9", Gram, "0.1"}, {"112.0 g", Gram, "0.1"}, {"112,90", Gram, "0.01"}, {"113", Gram, "1"}, {"120", Gram, "1"}, {".125", Kilogram, "1"},
		{"4.05", Ounce, "0.28349523125"}, {"4", Ounce, "28.349523125"},
		{"4 1/4", Ounce, "7.08738078125"}, {"4¼ oz", Ounce, "7.08738078125"}, {"1/2", Kilogram, "500"}, {"2 lb", Pound, "453.59237"},
		{"0 4.2", PoundOunce, "2.8349523125"}, {"1 lb 3 oz", PoundOunce, "28.349523125"}, {"2 lb", PoundOunce, "28.349523125"}, {"2 lbs 8 1/2 oz", PoundOunce, "14.1747615625"},
		{"3.05 oz", PoundOunce, "0.28349523125"}, {"1.5", Cup, "0"}, {"3", Drop, "0"}, {"1 lb 17 oz", PoundOunce, "0"}, {"heavy", Gram, "0"},
	} {
		equal(t, v.want, Step(v.typed, v.unit), "%q %s", v.typed, v.unit)
	}
}

func TestParseMassRefusesAndSaysWhy(t *testing.T) {
	for _, v := range []struct {
		typed   string
		unit    Unit
		density string
		why     string
	}{
		{"5", "stone", "0", "use one of g, kg, oz"},
		{"5", "", "0", "not known"},
		{"5", Teaspoon, "0", "density of this material is not known"},
		{"5", Millilitre, "-1", "not possible"},
		{"5 oz", Gram, "0", "the unit of this field is g"},
		{"5 ml", Gram, "0", "the unit of this field is g"},
		{"1,234", Gram, "0", "1234 or 1.234?"},
		{"-5", Gram, "0", "negative"},
		{"", Gram, "0", "no digit"},
		{"2.8", PoundOunce, "0", "two numbers"},
		{"8 1/2", PoundOunce, "0", "two numbers"},
		{"2", PoundOunce, "0", "two numbers"},
		{"2.5 lb 8 oz", PoundOunce, "0", "whole number"},
		{"2 lb 16 oz", PoundOunce, "0", "below 16"},
		{"2 lb x oz", PoundOunce, "0", "type digits"},
		{"lb oz", PoundOunce, "0", "whole number"},
		{"-2 lb 8 oz", PoundOunce, "0", "whole number"},
	} {
		got, err := ParseMass(v.typed, v.unit, Bulk{Density: d(v.density)})
		require.ErrorContains(t, err, v.why, "%q %s", v.typed, v.unit)
		require.Zero(t, got)
	}
}

func TestMassInJSON(t *testing.T) {
	m, err := ParseMass("17.6", Ounce, Bulk{})
	require.NoError(t, err)
	text, err := json.Marshal(m)
	require.NoError(t, err)
	require.JSONEq(t, `{"typed":"17.6","unit":"oz","grams":"498.951607"}`, string(text))
	var back Mass
	require.NoError(t, json.Unmarshal(text, &back))
	require.True(t, m.Grams.Equal(back.Grams))
}

func TestUnits(t *testing.T) {
	for _, u := range Units() {
		require.True(t, u.Known(), "%s", u)
		_, err := u.Millilitres()
		require.Equal(t, u.IsVolume(), err == nil, "%s", u)
	}
	tsp, err := Teaspoon.Millilitres()
	require.NoError(t, err)
	equal(t, "4.92892159375", tsp, "3785.411784/768, exact")
}

// Fixed points and the pairs of household leaflets (98 °F = 36.7 °C, 125 °F = 51.7 °C).
func TestParseTemperature(t *testing.T) {
	for _, v := range []struct{ typed, unit, want string }{
		{"212", "F", "100"}, {"32", "F", "0"}, {"-40", "F", "-40"}, {"98", "F", "36.67"}, {"125 F", "F", "51.67"},
		{"40", "C", "40"}, {"40,5 °C", "C", "40.5"}, {"−5", "C", "-5"}, {"100.4°F", "F", "38"},
	} {
		got, err := ParseTemperature(v.typed, v.unit)
		require.NoError(t, err, "%q", v.typed)
		equal(t, v.want, got.Celsius, "%q", v.typed)
	}
	for _, v := range []struct{ typed, unit, why string }{
		{"40", "K", "use C or F"}, {"40 F", "C", "the unit of this field is C"}, {"500", "C", "outside"}, {"-41", "C", "outside"},
		{"900", "F", "outside"}, {"--5", "C", "negative"}, {"", "C", "no digit"}, {"warm", "C", "the unit of this field is C"},
	} {
		_, err := ParseTemperature(v.typed, v.unit)
		require.ErrorContains(t, err, v.why, "%q", v.typed)
	}
}

func TestSlipNamesTheSlip(t *testing.T) {
	for _, v := range []struct {
		planned, typed string
		unit           Unit
		words          string
	}{
		{"125", "1250", Gram, "10 times the plan"},
		{"125", "12.5", Gram, "a tenth of the plan"},
		{"125", "12600", Gram, "100 times the plan"},
		{"125", "1.25", Gram, "a hundredth of the plan"},
		{"500", "17.6", Gram, "as if ounces had been typed as grams"},
		{"500", "16.1", Gram, "as if troy ounces had been typed as grams"},
		{"500", "500", Ounce, "as if grams had been typed as ounces"},
		{"500", "500", Kilogram, "as if grams had been typed as kilograms"},
		{"1000", "2.2", Kilogram, "as if pounds had been typed as kilograms"},
		{"1000", "1", Pound, "as if kilograms had been typed as pounds"},
		{"1000", "1", Gram, "as if kilograms had been typed as grams"},
		{"100", "2834.95", Gram, "as if ounces had been converted to grams twice"},
		{"100", "3110.35", Gram, "as if troy ounces had been converted to grams twice"},
		{"1133.98", "2.8", Pound, "as if 2 lb 8 oz had been typed as 2.8 lb"},
		{"1247.38", "2.12", Pound, "as if 2 lb 12 oz had been typed as 2.12 lb"},
		{"4.93", "1", Tablespoon, "as if teaspoons had been typed as tablespoons"},
		{"14.79", "1", Teaspoon, "as if tablespoons had been typed as teaspoons"},
		{"10", "1 10", PoundOunce, ""},
		{"73.7", "1 10", PoundOunce, "10 times the plan"},
		{"500", "495", Gram, ""},
		{"500", "514", Gram, ""},
		{"125", "1300", Gram, ""}, // 4 % beside ten times the plan
		{"500", "700", Gram, ""},
		{"0", "700", Gram, ""},
		{"500", "0", Gram, ""},
	} {
		actual, err := ParseMass(v.typed, v.unit, Bulk{Density: decimal.NewFromInt(1)})
		require.NoError(t, err)
		words, found := Slip(d(v.planned), actual.Grams, v.unit)
		require.Equal(t, v.words != "", found, "%s typed %s %s: %s", v.planned, v.typed, v.unit, words)
		require.Contains(t, words, v.words, "%s typed %s %s", v.planned, v.typed, v.unit)
	}
}

func FuzzParseMass(f *testing.F) {
	for _, s := range []string{"12", "1,5", "1 1/2", "½", "2 lb 8 oz", "2lb", "lb", "oz", "-1", "1e9", "9/9", "١٢", "1,234", "3 fl oz"} {
		for i := range Units() {
			f.Add(s, i)
		}
	}
	bulk := Bulk{Density: d("0.95"), GramsPerDrop: d("0.03")}
	f.Fuzz(func(t *testing.T, typed string, unit int) {
		units := Units()
		u := units[(unit%len(units)+len(units))%len(units)]
		m, err := ParseMass(typed, u, bulk)
		if err != nil {
			require.Zero(t, m)
			return
		}
		require.False(t, m.Grams.IsNegative())
		require.True(t, m.Grams.Equal(m.Grams.Round(6)))
		require.Equal(t, strings.TrimSpace(typed), m.Typed)
		again, err := ParseMass(m.Typed, u, bulk)
		require.NoError(t, err)
		require.True(t, again.Grams.Equal(m.Grams))
		_, err = json.Marshal(m)
		require.NoError(t, err)
		Slip(d("100"), m.Grams, u)
	})
}
