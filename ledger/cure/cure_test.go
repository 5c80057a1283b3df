package cure

import (
	"math"
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
		ws = append(ws, Weighing{after(day), d(grams), bar, d("0.1")})
	}
	return ws
}

func weighed(at time.Time, grams, bar string) Weighing { return Weighing{at, d(grams), bar, d("0.1")} }

// 0.677 % a week over the last four weighings, and no more than 0.914 % with 95 % confidence: reference notes on cure, computed
// beforehand with other software.
func TestRateOfTheCheckSeries(t *testing.T) {
	ws := series("a")
	got, err := Rate(ws)
	require.NoError(t, err)
	require.InDelta(t, 0.677, got.PerWeek, 0.0005)
	require.InDelta(t, 0.914, got.Upper, 0.0005)
	ws[0], ws[13] = ws[13], ws[0]
	again, err := Rate(ws)
	require.NoError(t, err)
	require.Equal(t, got, again, "the order of entry does not matter")
}

func TestRateOfExactLines(t *testing.T) {
	for name, v := range map[string]struct {
		hours  int
		grams  []string
		perDay float64
	}{
		"down":      {24, []string{"101.5", "100.5", "99.5", "98.5"}, 1},
		"half days": {12, []string{"101.5", "100.5", "99.5", "98.5"}, 2},
		"gain":      {48, []string{"98.5", "99.5", "100.5", "101.5"}, -0.5},
	} {
		var ws []Weighing
		for i, g := range v.grams {
			ws = append(ws, Weighing{cut.Add(time.Duration(i*v.hours) * time.Hour), d(g), "a", decimal.Zero})
		}
		got, err := Rate(ws)
		require.NoError(t, err, name)
		require.InDelta(t, 7*v.perDay, got.PerWeek, 1e-9, name)
		require.InDelta(t, 7*v.perDay, got.Upper, 1e-6, "%s: no scatter, no doubt", name)
	}
}

// Four equal weighings on a scale of 1 g: the slope is none, but its bound is that of rounding, 0.2887 g (a rectangle's standard
// deviation, GUM F.2.2.1) over Sxx = 5 weeks^2, times Student's 2.920 for two degrees of freedom (any table).
func TestRoundingIsNotForgotten(t *testing.T) {
	var ws []Weighing
	for i := range 4 {
		ws = append(ws, Weighing{after(7 * i), d("100"), "a", d("1")})
	}
	got, err := Rate(ws)
	require.NoError(t, err)
	require.Zero(t, got.PerWeek)
	require.InDelta(t, 2.920*0.28868/math.Sqrt(5), got.Upper, 0.0005)
}

// A heavier bar weighed on the last day only must not look like a gain.
func TestBarsAreNotMixed(t *testing.T) {
	alone, err := Rate(series("a"))
	require.NoError(t, err)
	got, err := Rate(append(series("a"), weighed(after(49), "180", "b")))
	require.NoError(t, err)
	require.InDelta(t, alone.PerWeek, got.PerWeek, 1e-9)

	double := series("a")
	for _, w := range series("b") {
		double = append(double, Weighing{w.Day, w.Grams.Mul(d("2")), "b", w.Step})
	}
	got, err = Rate(double)
	require.NoError(t, err)
	require.InDelta(t, alone.PerWeek, got.PerWeek, 1e-9, "bars of any mass count alike")
	require.Less(t, got.Upper, alone.Upper, "two bars say more than one")
}

func TestRateRefuses(t *testing.T) {
	for name, ws := range map[string][]Weighing{
		"none": nil, "one": series("a")[:1], "three": series("a")[:3],
		"one each":           {weighed(after(0), "100", "a"), weighed(after(7), "99", "b"), weighed(after(8), "99", "c"), weighed(after(9), "99", "d")},
		"two of two":         append(series("a")[:2], series("b")[:2]...),
		"four times at once": {weighed(cut, "100", "a"), weighed(cut, "99", "a"), weighed(cut, "99", "a"), weighed(cut, "99", "a")},
	} {
		_, err := Rate(ws)
		require.ErrorIs(t, err, ErrTooFew, name)
	}
	_, err := Rate([]Weighing{weighed(after(0), "100", "a"), weighed(after(1), "0", "a")})
	require.ErrorContains(t, err, "above zero")
}

// The slope does not depend on the unit of mass, nor on where the days start.
func TestRateIsRelative(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var ws, scaled []Weighing
		factor := decimal.New(int64(rapid.IntRange(1, 100_000).Draw(t, "factor")), -3)
		shift := rapid.IntRange(0, 1000).Draw(t, "shift")
		for day := range rapid.IntRange(4, 10).Draw(t, "weighings") {
			grams := decimal.New(int64(rapid.IntRange(500, 1500).Draw(t, "grams")), -1)
			ws = append(ws, Weighing{after(day), grams, "a", d("0.1")})
			scaled = append(scaled, Weighing{after(day + shift), grams.Mul(factor), "a", d("0.1").Mul(factor)})
		}
		one, err := Rate(ws)
		require.NoError(t, err)
		other, err := Rate(scaled)
		require.NoError(t, err)
		require.InDelta(t, one.PerWeek, other.PerWeek, 1e-9)
		require.InDelta(t, one.Upper, other.Upper, 1e-9)
	})
}

// dropped is a series that a curve cannot follow: nothing lost for three weeks, then a jump.
func dropped(last ...string) []Weighing {
	var ws []Weighing
	for i, g := range append([]string{"116.0", "115.9", "115.8", "112.0"}, last...) {
		ws = append(ws, weighed(after(7*i), g, "a"))
	}
	return ws
}

func TestReady(t *testing.T) {
	half := Rules{MinDays: 28, MaxLossPerWeekPercent: d("0.5")}
	loose := Rules{MinDays: 28, MaxLossPerWeekPercent: d("0.7")}
	// By the worked values the loss of the last week falls to 0.5 % on day 42.9, so on day 42 it is a little above, and on
	// day 28 it is 1.02 %.
	for name, v := range map[string]struct {
		rules    Rules
		today    int
		ws       []Weighing
		ready    bool
		reasons  int
		contains string
		earliest int
	}{
		"too young and still losing":       {half, 20, series("a"), false, 2, "Cut 20 days ago; 28 days", 28},
		"old enough, still losing":         {half, 42, series("a"), false, 1, "still lose 0.52 %", 43},
		"slow by the point, not the bound": {half, 43, series("a"), false, 1, "it may be as much as 0.5", 44},
		"old enough, slow enough":          {loose, 42, series("a"), true, 2, "no more than 0.5", 28},
		"on the very day":                  {Rules{MinDays: 28}, 28, nil, true, 1, "Cut 28 days ago", 28},
		"a day early":                      {Rules{MinDays: 28}, 27, nil, false, 1, "Cut 27 days ago", 28},
		"slow enough but too young":        {Rules{60, d("0.7")}, 42, series("a"), false, 1, "60 days are asked for", 60},
		"never weighed":                    {half, 42, nil, false, 1, "weigh one marked bar on 4 days", 43},
		"later weighings do not count":     {loose, 30, series("a"), false, 1, "still lose", 31},
		"a curve reaches a week":           {half, 49, series("a"), true, 2, "no more than 0.4", 28},
		"and no more than a week":          {Rules{28, d("0.25")}, 90, series("a"), false, 1, "weighed last more than 7 days ago", 91},
		"gaining": {half, 44, []Weighing{weighed(after(30), "100", "a"), weighed(after(34), "100.6", "a"),
			weighed(after(37), "101.2", "a"), weighed(after(40), "102", "a")}, false, 1, "gain 1.37 %", 45},
		"no curve, still losing":      {half, 28, dropped(), false, 1, "still lose", 29},
		"no curve, slow in the end":   {half, 42, dropped("111.9", "111.8", "111.7"), true, 2, "lose 0.09 %", 28},
		"no curve, and too few times": {half, 28, dropped()[:3], false, 1, "two on three days each", 29},
	} {
		got := Ready(v.rules, cut, after(v.today), v.ws)
		require.Equal(t, v.ready, got.Ready, "%s: %v", name, got.Reasons)
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
