package compute

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// drying is the weighings of bars that follow a curve, each off by so many grams.
func drying(bars, each int, off func(n int) float64) string {
	var lines []string
	for b := range bars {
		for i := range each {
			day := float64(i) * 60 / float64(each)
			grams := 100*(0.87+0.13*math.Exp(-math.Pow(day/15, 0.75))) + off(len(lines))
			on := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC).Add(time.Duration(day * 24 * float64(time.Hour)))
			lines = append(lines, fmt.Sprintf(`{"bar": "bar %d", "on": %q, "grams": %.4f}`, b, on.Format(time.RFC3339), grams))
		}
	}
	return `{"cut_on": "2026-01-01", "weighings": [` + strings.Join(lines, ",") + `], "rules": {"min_days": 28, "max_loss_per_week": 0.005}, "today": "2026-03-01"}`
}

// wild is a third of the weighings off, by every size: the search for odd ones finds many.
func wild() func(int) float64 {
	r := rand.New(rand.NewPCG(1, 2))
	return func(n int) float64 {
		if n%3 == 0 {
			return 0.00001 * math.Pow(1.02, float64(n%700))
		}
		return 0.000001 * r.NormFloat64()
	}
}

// chain is batches in a row, each made with the one before and with new lots.
func chain(batches, lotsOfEach int) string {
	var lots, made []string
	for b := range batches {
		var uses []string
		if b > 0 {
			uses = append(uses, fmt.Sprintf(`{"lot": "made %d", "grams": 100.123456789}`, b-1))
		}
		for l := range lotsOfEach {
			name := fmt.Sprintf("lot %d of %d", l, b)
			what := `"oil": {"sap_min": 180, "sap_max": 200.123456789}`
			if l%2 == 1 {
				what = `"alkali": {"kind": "NaOH", "purity": 0.987654321}`
			}
			lots = append(lots, fmt.Sprintf(`{"lot": %q, %s}`, name, what))
			uses = append(uses, fmt.Sprintf(`{"lot": %q, "grams": 33.123456789}`, name))
		}
		made = append(made, fmt.Sprintf(`{"batch": "%d", "soap": true, "uses": [%s], "makes": [{"lot": "made %d"}]}`, b, strings.Join(uses, ","), b))
	}
	return fmt.Sprintf(`{"lots": [%s], "batches": [%s], "of": [{"lot": "made %d"}]}`, strings.Join(lots, ","), strings.Join(made, ","), batches-1)
}

// manyOils is a formula of as many oils as are read.
func manyOils(n int) string {
	var oils []string
	for i := range n {
		oils = append(oils, fmt.Sprintf(`{"name": "oil %d", "grams": %d.123456789012, "sap_min": 180.123456789012, "sap_max": 200.123456789012}`, i, i+1))
	}
	return `{"oils": [` + strings.Join(oils, ",") + `], "alkalis": [{"kind": "NaOH", "purity": 0.987654321098, "purity_half": 0.012345678901}],
		"superfat": 0.051234567891, "concentration": 0.331234567891, "scale": {"step_grams": 0.000000000001}}`
}

// The largest inputs that are read are answered, and in bounded time: seconds where nobody else works.
func TestLargestInputs(t *testing.T) {
	if testing.Short() {
		t.Skip("it takes seconds")
	}
	for name, v := range map[string]struct{ calculation, in string }{
		"oils":                 {"lye", manyOils(200)},
		"a long chain":         {"composition", chain(500, 2)},
		"weighings of 10 bars": {"cure", drying(10, 200, wild())},
		"weighings of 50 bars": {"cure", drying(50, 40, wild())},
	} {
		start := time.Now()
		out, err := run(t, v.calculation, v.in)
		require.NoError(t, err, name)
		require.True(t, json.Valid(out), name)
		require.Less(t, time.Since(start), time.Minute, name)
		t.Logf("%s: %v", name, time.Since(start).Round(time.Millisecond))
	}
}

// One more than that is refused before any work.
func TestMoreThanTheLargestIsRefused(t *testing.T) {
	for want, v := range map[string]struct{ calculation, in string }{
		"oils: 201 are given":               {"lye", manyOils(201)},
		"lots: 1002 are given":              {"composition", chain(501, 2)},
		"weighings: 2001 are given":         {"cure", drying(23, 87, wild())},
		"weighings: 51 bars":                {"cure", drying(51, 2, wild())},
		"weighings[200].bar: more than 200": {"cure", drying(1, 201, wild())},
		"batches: 5010 uses in all":         {"composition", manyUses(501, 10)},
	} {
		_, err := run(t, v.calculation, v.in)
		require.ErrorContains(t, err, want)
	}
}

// manyUses is batches that use one lot again and again.
func manyUses(batches, each int) string {
	var made []string
	for b := range batches {
		uses := strings.TrimSuffix(strings.Repeat(`{"lot": "water", "grams": 1},`, each), ",")
		made = append(made, fmt.Sprintf(`{"batch": "%d", "soap": false, "uses": [%s], "makes": [{"lot": "made %d"}]}`, b, uses, b))
	}
	return `{"lots": [{"lot": "water", "water": {}}], "batches": [` + strings.Join(made, ",") + `], "of": [{"lot": "water"}]}`
}

// A statistic that is no number is refused by a field, never answered.
func TestWhatIsNoNumberIsRefused(t *testing.T) {
	for _, f := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		work := func() (err error) {
			defer finitely("weighings", &err)
			statistic(f)
			return nil
		}
		require.ErrorContains(t, work(), "weighings: the figures are too far apart")
	}
	require.Panics(t, func() {
		var err error
		defer finitely("weighings", &err)
		panic("a fault of the program")
	})
	require.Equal(t, "1.2345679", statistic(1.23456789).String())
	require.Equal(t, "-0.00012345679", statistic(-0.000123456789).String())
	require.Equal(t, "123456790", statistic(123456789).String())
}
