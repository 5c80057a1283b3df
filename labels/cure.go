package labels

import (
	"fmt"
	"math"
	"time"

	"ashbook/labels/chart"
	"ashbook/ledger/cure"
)

// beyond is how many days past the last weighing a curve is drawn, and farthest how many at most to show the day on which the bars can be ready.
const beyond, farthest = 14, 90

// CureChart is the picture of a cure: every weighing of each marked bar by days from the cut, and, where there is a curve, the
// curve with the 95 % interval of a further weighing and the days that the rules ask for. With a curve masses are in per cent
// of the bar's mass at the cut, so that a heavy and a light bar share one picture; without one (nil) they are in grams. odd
// are the weighings to be ringed.
func CureChart(cutOn time.Time, ws []cure.Weighing, c *cure.Curve, odd []cure.Outlier, rules cure.Rules) chart.Chart {
	out := chart.Chart{X: "days from the cut", Y: "mass of a bar, g", Names: chart.Names{Odd: "does not go with the others"}}
	place := func(bar string, day time.Time, grams float64) chart.Point {
		return chart.Point{X: day.Sub(cutOn).Hours() / 24, Y: grams / atCut(c, bar)}
	}
	series := map[string]int{}
	for _, w := range ws {
		i, seen := series[w.Bar]
		if !seen {
			i = len(out.Points)
			series[w.Bar] = i
			out.Points = append(out.Points, chart.Series{Name: "bar " + w.Bar})
		}
		out.Points[i].Points = append(out.Points[i].Points, place(w.Bar, w.Day, w.Grams.InexactFloat64()))
	}
	for _, o := range odd {
		out.Odd = append(out.Odd, place(o.Bar, o.Day, o.Grams.InexactFloat64()))
	}
	if rules.MinDays > 0 {
		out.Limits = append(out.Limits, chart.Limit{At: float64(rules.MinDays), Upright: true, Label: fmt.Sprintf("%d days", rules.MinDays)})
	}
	if c != nil {
		alongCurve(&out, c, rules)
	}
	return out
}

// alongCurve adds the curve, its interval, and the day on which the loss is slow enough by its bound.
func alongCurve(out *chart.Chart, c *cure.Curve, rules cure.Rules) {
	out.Y = "mass of a bar, % of its mass at the cut"
	out.Names.Curve, out.Names.Band = "drying curve", "95 % of weighings"
	last := c.LastDay + beyond
	if on := c.ReadyOn(rules).On; !on.IsZero() && rules.MaxLossPerWeekPercent.IsPositive() {
		y, m, d := c.CutOn.Date()
		day := on.Sub(time.Date(y, m, d, 0, 0, 0, 0, time.UTC)).Hours() / 24
		if day > float64(rules.MinDays) && day <= c.LastDay+farthest {
			last = max(last, day)
			out.Limits = append(out.Limits, chart.Limit{At: day, Upright: true, Label: "slow enough, " + on.Format("2 Jan")})
		}
	}
	const steps = 120
	for i := range steps + 1 {
		day := last * math.Pow(float64(i)/steps, 2) // close together where the curve bends
		share := c.Share(day)
		out.Curve = append(out.Curve, chart.Point{X: day, Y: 100 * share.Value})
		out.Band = append(out.Band, chart.Span{X: day, Low: 100 * share.Low, High: 100 * share.High})
	}
}

// atCut is what a mass is divided by: a hundredth of the bar's mass at the cut; one where that is not known.
func atCut(c *cure.Curve, mark string) float64 {
	if c != nil {
		for _, b := range c.Bars {
			if b.Mark == mark {
				return b.Cut.Value / 100
			}
		}
	}
	return 1
}
