package chart

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func sample() Chart {
	return Chart{X: "days", Y: "grams", Points: []Series{{"one", []Point{{0, 100}, {7, 95}}}, {"two", []Point{{0, 90}, {7, 86}}}},
		Curve: []Point{{0, 100}, {5, 96}, {10, 94}}, Band: []Span{{0, 99, 101}, {10, 92, 96}},
		Limits: []Limit{{At: 90, Label: "low"}, {At: 8, Upright: true, Label: "day 8"}}, Odd: []Point{{7, 95}}, Names: Names{"curve", "band", "odd"}}
}

func of(shapes []Shape, kind Kind, role Role) (out []Shape) {
	for _, s := range shapes {
		if s.Kind == kind && s.Role == role {
			out = append(out, s)
		}
	}
	return out
}

func words(shapes []Shape) (out []string) {
	for _, s := range of(shapes, Text, Ink) {
		out = append(out, s.Words)
	}
	return out
}

func TestNiceMarks(t *testing.T) {
	for _, v := range []struct {
		from, to float64
		most     int
		want     string
	}{
		{0, 42, 8, "0 10 20 30 40 50"},
		{86.3, 101.2, 8, "86 88 90 92 94 96 98 100 102"},
		{0.12, 0.34, 5, "0.10 0.15 0.20 0.25 0.30 0.35"},
		{-3, 3, 4, "-4 -2 0 2 4"},
		{1200, 9100, 4, "0 2000 4000 6000 8000 10000"},
		{5, 5, 4, "4.5 5.0 5.5"},
		{-0.04, 0.01, 5, "-0.04 -0.03 -0.02 -0.01 0.00 0.01"},
	} {
		s := scale{from: v.from, to: v.to}.marked(v.most)
		var got []string
		for _, tick := range s.ticks() {
			got = append(got, s.words(tick))
		}
		require.Equal(t, v.want, strings.Join(got, " "))
	}
}

func TestPlacesAreTrueToTheAxes(t *testing.T) {
	shapes := sample().Shapes(720, 400, 15)
	p := sample().plan(720, 400, 15)
	require.Equal(t, scale{0, 10, 1}, p.x)
	marks := of(shapes, Polygon, Mark)
	require.Len(t, marks, 4+2, "four points, and two in the legend")
	a, b := middle(marks[0]), middle(marks[1])
	require.InDelta(t, 7.0/10*(p.right-p.left), b.X-a.X, 1e-9, "seven days of ten")
	require.InDelta(t, 5/(p.y.to-p.y.from)*(p.bottom-p.top), b.Y-a.Y, 1e-9, "lighter is lower")
	rings := of(shapes, Polygon, Ink)
	require.Len(t, rings, 2)
	require.InDelta(t, b.X, middle(rings[0]).X, 1e-9)
	require.InDelta(t, b.Y, middle(rings[0]).Y, 1e-9)
	require.Len(t, of(shapes, Polygon, Band)[0].Points, 4)
	require.Equal(t, Band, shapes[0].Role, "the band lies behind everything")
	require.Subset(t, words(shapes), []string{"one", "two", "curve", "band", "odd", "low", "day 8", "days", "grams", "0", "10"})
}

func middle(s Shape) (m Point) {
	for _, p := range s.Points {
		m.X, m.Y = m.X+p.X/float64(len(s.Points)), m.Y+p.Y/float64(len(s.Points))
	}
	return m
}

// What tells things apart does so without colour.
func TestDifferencesShowInBlackAndWhite(t *testing.T) {
	seen := map[string]bool{}
	for i := range 6 {
		m := mark(i, Point{}, 10)
		var form strings.Builder
		for _, p := range m.Points {
			form.WriteString(scale{step: 0.1}.words(p.X) + "," + scale{step: 0.1}.words(p.Y) + " ")
		}
		if m.Filled {
			form.WriteString("filled")
		}
		require.False(t, seen[form.String()], "mark %d is like one before it", i)
		seen[form.String()] = true
	}
	dashed, plain := 0, 0
	for _, s := range of(sample().Shapes(720, 400, 15), Line, Ink) {
		if s.Dashed {
			dashed++
		} else {
			plain++
		}
	}
	require.Equal(t, 2, dashed, "limits are dashed")
	require.Equal(t, 3, plain, "the frame, the curve, and its sign in the legend")
}

// Whatever comes in, every shape lies within the drawing and has finite places, in millimetres as in pixels.
func TestAllLiesWithinTheDrawing(t *testing.T) {
	number := rapid.OneOf(rapid.Float64Range(-200, 200), rapid.SampledFrom([]float64{0, math.NaN(), math.Inf(1), math.Inf(-1), 1e14, -1e300, 1e-12}))
	rapid.Check(t, func(t *rapid.T) {
		point := rapid.Custom(func(t *rapid.T) Point { return Point{number.Draw(t, "x"), number.Draw(t, "y")} })
		c := Chart{X: "days", Y: "g", Curve: rapid.SliceOfN(point, 0, 5).Draw(t, "curve"), Odd: rapid.SliceOfN(point, 0, 2).Draw(t, "odd"), Names: Names{"curve", "band", "odd"}}
		for range rapid.IntRange(0, 4).Draw(t, "series") {
			c.Points = append(c.Points, Series{"bar", rapid.SliceOfN(point, 0, 4).Draw(t, "points")})
		}
		for range rapid.IntRange(0, 3).Draw(t, "spans") {
			c.Band = append(c.Band, Span{number.Draw(t, "x"), number.Draw(t, "low"), number.Draw(t, "high")})
		}
		for range rapid.IntRange(0, 2).Draw(t, "limits") {
			c.Limits = append(c.Limits, Limit{number.Draw(t, "at"), rapid.Bool().Draw(t, "upright"), "limit"})
		}
		unit := rapid.SampledFrom([]float64{1, 0.25}).Draw(t, "unit")
		for _, s := range c.Shapes(720*unit, 400*unit, 15*unit) {
			require.NotEmpty(t, s.Points)
			for _, p := range s.Points {
				require.True(t, p.X >= -unit && p.X <= 721*unit && p.Y >= -unit && p.Y <= 401*unit, "%+v", s)
			}
		}
	})
}

func TestALongLegendTakesMoreRows(t *testing.T) {
	c := sample()
	for range 12 {
		c.Points = append(c.Points, Series{"a bar with a long mark", []Point{{3, 97}}})
	}
	few, many := sample().plan(720, 400, 15), c.plan(720, 400, 15)
	require.Greater(t, many.top, few.top)
	for _, s := range of(c.Shapes(720, 400, 15), Text, Ink) {
		if s.Words == "a bar with a long mark" {
			require.Less(t, s.Points[0].X+wide(s.Words, s.Size), 720.0)
			require.Less(t, s.Points[0].Y, many.top)
		}
	}
}

// Two upright limits that lie close have their words in rows of their own.
func TestWordsOfLimitsDoNotOverlap(t *testing.T) {
	c := sample()
	c.Limits = []Limit{{At: 4, Upright: true, Label: "day four"}, {At: 4.2, Upright: true, Label: "day four and more"}}
	rows := map[float64]int{}
	for _, s := range of(c.Shapes(330, 360, 13), Text, Ink) {
		if strings.HasPrefix(s.Words, "day four") {
			rows[s.Points[0].Y]++
		}
	}
	require.Len(t, rows, 2)
}
