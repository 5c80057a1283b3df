package netcontents

import (
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ashbook/labels/statement"
)

func d(s string) decimal.Decimal { return decimal.RequireFromString(s) }

// The "print (down)" column of the conversion table in the project's notes on United States rules, section 3.4,
// computed there from 1 oz = 28.349523125 g. The nearest gram would overstate 4.5, 5 and 5.5 oz and 1 lb.
func TestConversionTable(t *testing.T) {
	for _, row := range []struct{ ounces, grams, text string }{
		{"3", "85", "NET WT 3 oz (85 g)"},
		{"3.5", "99", "NET WT 3.5 oz (99 g)"},
		{"4", "113", "NET WT 4 oz (113 g)"},
		{"4.25", "120", "NET WT 4.2 oz (120 g)"},
		{"4.5", "127", "NET WT 4.5 oz (127 g)"},
		{"5", "141", "NET WT 5 oz (141 g)"},
		{"5.5", "155", "NET WT 5.5 oz (155 g)"},
		{"6", "170", "NET WT 6 oz (170 g)"},
		{"16", "453", "NET WT 16 oz (1 lb) 453 g"},
		{"24", "680", "NET WT 24 oz (1 lb 8 oz) 680 g"},
	} {
		got, err := Declare(statement.US, d(row.ounces).Mul(d("28.349523125")))
		require.NoError(t, err)
		require.Equal(t, row.text, got.Text)
		require.Equal(t, row.grams, got.Metric.String())
	}
}

// Metric-led rows of the same section: 100 g, 120 g and 125 g. The larger of the two figures is what bars are held to.
func TestMetricLed(t *testing.T) {
	for grams, text := range map[string]string{
		"100": "NET WT 3.5 oz (100 g)", "120": "NET WT 4.2 oz (120 g)", "125": "NET WT 4.4 oz (125 g)",
	} {
		got, err := Declare(statement.US, d(grams))
		require.NoError(t, err)
		require.Equal(t, text, got.Text)
		require.Equal(t, grams, got.Grams.String())
	}
	got, err := Declare(statement.US, d("113.9"))
	require.NoError(t, err)
	require.Equal(t, "NET WT 4 oz (113 g)", got.Text)
	require.Equal(t, "113.3980925", got.Grams.String(), "4 oz is more than 113 g")
	require.Contains(t, got.Notes[2], "held to 113.398 g")
}

// Digits of 16 CFR 500.19(b): three figures, two below 100 g, final zeros dropped.
func TestForms(t *testing.T) {
	for _, row := range []struct {
		style       statement.Style
		grams, text string
	}{
		{statement.EU, "120", "120 g"},
		{statement.EU, "120.99", "120 g"},
		{statement.EU, "99.99", "99 g"},
		{statement.EU, "9.96", "9.9 g"},
		{statement.EU, "0.0567", "0.056 g"},
		{statement.EU, "999.9", "999 g"},
		{statement.EU, "1000", "1 kg"},
		{statement.EU, "1239.9", "1.23 kg"},
		{statement.US, "20", "NET WT 0.7 oz (20 g)"},
		{statement.US, "453.59236", "NET WT 15.9 oz (453 g)"},
		{statement.US, "453.59237", "NET WT 16 oz (1 lb) 453 g"},
		{statement.US, "1500", "NET WT 52.9 oz (3 lb 4.9 oz) 1.5 kg"},
		{statement.US, "1814.36948", "NET WT 4 lb (1.81 kg)"},
		{statement.US, "2000", "NET WT 4 lb 6.5 oz (2 kg)"},
	} {
		got, err := Declare(row.style, d(row.grams))
		require.NoError(t, err)
		require.Equal(t, row.text, got.Text)
	}
}

func TestNothingToDeclare(t *testing.T) {
	_, err := Declare(statement.US, d("0"))
	require.ErrorContains(t, err, "weigh the bars")
	_, err = Declare(statement.EU, d("-3"))
	require.ErrorContains(t, err, "-3 g")
	_, err = Declare(statement.US, d("0.2"))
	require.ErrorContains(t, err, "rounds down to nothing")
	_, err = Declare(statement.Style(0), d("120"))
	require.ErrorContains(t, err, "choose US or EU")
	small, err := Declare(statement.EU, d("4.9"))
	require.NoError(t, err)
	require.Contains(t, small.Notes[1], "under 5 g")
}

// No figure overstates, and none throws away more than its last printed place.
func TestNeverOverstates(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		grams := decimal.New(rapid.Int64Range(1, 50_000_000).Draw(t, "mass"), -rapid.Int32Range(0, 4).Draw(t, "places"))
		if rapid.Bool().Draw(t, "on a whole tenth of an ounce") {
			grams = decimal.New(rapid.Int64Range(1, 2000).Draw(t, "tenths"), -1).Mul(d("28.349523125"))
		}
		for _, style := range []statement.Style{statement.US, statement.EU} {
			got, err := Declare(style, grams)
			if err != nil {
				require.ErrorContains(t, err, "rounds down to nothing")
				require.True(t, grams.LessThan(d("0.2834952313")))
				continue
			}
			inchPound := got.Ounces.Mul(d("28.349523125"))
			require.False(t, got.Metric.GreaterThan(grams), "%s for %s g", got.Text, grams)
			require.False(t, inchPound.GreaterThan(grams), "%s for %s g", got.Text, grams)
			require.True(t, got.Grams.Equal(decimal.Max(got.Metric, inchPound)))
			require.True(t, got.Metric.Mul(d("1.1")).GreaterThan(grams), "%s for %s g", got.Text, grams)
			if style == statement.US {
				require.True(t, inchPound.Add(d("2.8349523125")).GreaterThan(grams), "%s for %s g", got.Text, grams)
			}
		}
	})
}
