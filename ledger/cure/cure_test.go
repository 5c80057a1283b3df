package cure

import (
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func d(s string) decimal.Decimal { return decimal.RequireFromString(s) }

var cut = time.Date(2026, time.March, 1, 10, 0, 0, 0, time.UTC)

func after(days int) time.Time { return cut.AddDate(0, 0, days) }

// series is the synthetic check series of the reference notes: made from a drying curve with fixed
// small errors, not a measurement.
func series(bar string) []Weighing {
	var ws []Weighing
	for i, day := range []int{0, 1, 2, 3, 5, 7, 10, 14, 18, 21, 25, 28, 35, 42} {
		grams := []string{"135.0", "133.1", "131.7", "130.9", "129.1", "128.0", "126.4", "124.8", "123.8", "122.9", "122.3", "121.6", "120.9", "120.2"}[i]
		ws = append(ws, Weighing{after(day), d(grams), bar})
	}
	return ws
}

func perWeek(t *testing.T, ws []Weighing) string {
	rate, err := Rate(ws)
	require.NoError(t, err)
	return rate.Mul(week).StringFixed(3)
}

// 0.677 % a week over the last four weighings: computed beforehand with other software.
func TestRateOfTheCheckSeries(t *testing.T) {
	require.Equal(t, "0.677", perWeek(t, series("a")))
	ws := series("a")
	ws[0], ws[13] = ws[13], ws[0]
	require.Equal(t, "0.677", perWeek(t, ws), "the order of entry does not matter")
}

func TestRateOfExactLines(t *testing.T) {
	line := []Weighing{{after(0), d("101"), "a"}, {after(1), d("100"), "a"}, {after(2), d("99"), "a"}}
	rate, err := Rate(line)
	require.NoError(t, err)
	require.Equal(t, "1", rate.String())

	halfDays := []Weighing{{cut, d("100.5"), "a"}, {cut.Add(12 * time.Hour), d("99.5"), "a"}}
	rate, err = Rate(halfDays)
	require.NoError(t, err)
	require.Equal(t, "2", rate.String())

	gain := []Weighing{{after(0), d("99"), "a"}, {after(2), d("101"), "a"}}
	rate, err = Rate(gain)
	require.NoError(t, err)
	require.Equal(t, "-1", rate.String())
}

// A heavier bar weighed on the last day only must not look like a gain.
func TestBarsAreNotMixed(t *testing.T) {
	ws := append(series("a"), Weighing{after(49), d("180"), "b"})
	require.Equal(t, "0.677", perWeek(t, ws))

	double := series("a")
	for _, w := range series("b") {
		double = append(double, Weighing{w.Day, w.Grams.Mul(d("2")), "b"})
	}
	require.Equal(t, "0.677", perWeek(t, double), "bars of any mass count alike")
}

func TestRateRefuses(t *testing.T) {
	for name, ws := range map[string][]Weighing{
		"none": nil, "one": series("a")[:1],
		"one each":      {{after(0), d("100"), "a"}, {after(7), d("99"), "b"}},
		"twice at once": {{after(0), d("100"), "a"}, {after(0), d("99"), "a"}},
	} {
		_, err := Rate(ws)
		require.ErrorIs(t, err, ErrTooFew, name)
	}
	_, err := Rate([]Weighing{{after(0), d("100"), "a"}, {after(1), d("0"), "a"}})
	require.ErrorContains(t, err, "above zero")
}

// The slope does not depend on the unit of mass, nor on where the days start.
func TestRateIsRelative(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var ws, scaled []Weighing
		factor := decimal.New(int64(rapid.IntRange(1, 100_000).Draw(t, "factor")), -3)
		shift := rapid.IntRange(0, 1000).Draw(t, "shift")
		for day := range rapid.IntRange(2, 10).Draw(t, "weighings") {
			grams := decimal.New(int64(rapid.IntRange(500, 1500).Draw(t, "grams")), -1)
			ws = append(ws, Weighing{after(day), grams, "a"})
			scaled = append(scaled, Weighing{after(day + shift), grams.Mul(factor), "a"})
		}
		one, err := Rate(ws)
		require.NoError(t, err)
		other, err := Rate(scaled)
		require.NoError(t, err)
		require.True(t, one.Sub(other).Abs().LessThan(d("0.00000000001")), "%s, %s", one, other)
	})
}

func TestReady(t *testing.T) {
	rules := Rules{MinDays: 28, MaxLossPerWeekPercent: d("0.5")}
	loose := Rules{MinDays: 28, MaxLossPerWeekPercent: d("0.7")}
	for name, v := range map[string]struct {
		rules    Rules
		today    int
		ws       []Weighing
		ready    bool
		reasons  int
		contains string
		earliest int
	}{
		"too young and still losing":   {rules, 20, series("a"), false, 2, "Cut 20 days ago; 28 days", 28},
		"old enough, still losing":     {rules, 42, series("a"), false, 1, "still lose 0.68 %", 43},
		"old enough, slow enough":      {loose, 42, series("a"), true, 2, "Bars lose 0.68 %", 28},
		"on the very day":              {Rules{MinDays: 28}, 28, nil, true, 1, "Cut 28 days ago", 28},
		"a day early":                  {Rules{MinDays: 28}, 27, nil, false, 1, "Cut 27 days ago", 28},
		"slow enough but too young":    {Rules{60, d("0.7")}, 42, series("a"), false, 1, "60 days are asked for", 60},
		"never weighed":                {rules, 42, nil, false, 1, "weigh the same marked bar", 43},
		"later weighings do not count": {loose, 30, series("a"), false, 1, "still lose", 31},
		"gaining":                      {rules, 42, []Weighing{{after(30), d("100"), "a"}, {after(40), d("102"), "a"}}, false, 1, "gain 1.39 %", 43},
	} {
		got := Ready(v.rules, cut, after(v.today), v.ws)
		require.Equal(t, v.ready, got.Ready, name)
		require.Len(t, got.Reasons, v.reasons, "%s: %v", name, got.Reasons)
		require.Contains(t, got.Reasons[0]+got.Reasons[len(got.Reasons)-1], v.contains, name)
		require.Equal(t, date(after(v.earliest)), got.EarliestOn, name)
	}
}

func TestDaysAreCalendarDays(t *testing.T) {
	late := time.Date(2026, time.March, 1, 23, 50, 0, 0, time.FixedZone("west", -8*3600))
	early := time.Date(2026, time.March, 29, 0, 10, 0, 0, time.FixedZone("west", -7*3600)) // clocks went forward between
	require.True(t, Ready(Rules{MinDays: 28}, late, early, nil).Ready)
}
