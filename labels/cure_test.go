package labels_test

import (
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"ashbook/labels"
	"ashbook/ledger/cure"
)

var cutOn = time.Date(2026, time.March, 1, 10, 0, 0, 0, time.UTC)

// checkSeries is the synthetic series of the reference notes on cure, and the same bar at 120/135 of its mass.
func checkSeries() []cure.Weighing {
	var ws []cure.Weighing
	for i, day := range []int{0, 1, 2, 3, 5, 7, 10, 14, 18, 21, 25, 28, 35, 42} {
		grams := decimal.RequireFromString([]string{"135.0", "133.1", "131.7", "130.9", "129.1", "128.0", "126.4", "124.8", "123.8", "122.9", "122.3", "121.6", "120.9", "120.2"}[i])
		at, step := cutOn.AddDate(0, 0, day), decimal.RequireFromString("0.1")
		ws = append(ws, cure.Weighing{Day: at, Grams: grams, Bar: "A", Step: step},
			cure.Weighing{Day: at, Grams: grams.Mul(decimal.NewFromInt(120)).DivRound(decimal.NewFromInt(135), 1), Bar: "B", Step: step})
	}
	return ws
}

// By the worked values of the notes m_inf/m_0 is 118.2465/135.0111 and day 49 lies at 119.756 g of 135.0111 g.
func TestCureChartOfTheCheckSeries(t *testing.T) {
	ws := checkSeries()
	c, err := cure.Fit(cutOn, ws)
	require.NoError(t, err)
	odd := []cure.Outlier{{Bar: "B", Day: cutOn.AddDate(0, 0, 7), Grams: decimal.RequireFromString("113.8")}}
	got := labels.CureChart(cutOn, ws, c, odd, cure.Rules{MinDays: 28, MaxLossPerWeekPercent: decimal.RequireFromString("0.5")})
	require.Len(t, got.Points, 2)
	require.Equal(t, "bar A", got.Points[0].Name)
	for i, a := range got.Points[0].Points {
		require.InDelta(t, a.Y, got.Points[1].Points[i].Y, 0.15, "a heavy and a light bar share one picture")
	}
	require.Contains(t, got.Points[1].Points, got.Odd[0])
	for i, at := range got.Curve {
		require.True(t, got.Band[i].Low < at.Y && at.Y < got.Band[i].High)
	}
	require.InDelta(t, 100, got.Curve[0].Y, 1e-9)
	last := got.Curve[len(got.Curve)-1]
	require.InDelta(t, 56, last.X, 1e-9)
	require.InDelta(t, 100*119.414/135.0111, last.Y, 0.05)
	require.Len(t, got.Limits, 2)
	require.Equal(t, "28 days", got.Limits[0].Label)
	require.Greater(t, got.Limits[1].At, 42.9, "no earlier than by the worked values without their doubt")
}

func TestCureChartWithoutACurve(t *testing.T) {
	got := labels.CureChart(cutOn, checkSeries()[:4], nil, nil, cure.Rules{})
	require.Empty(t, got.Curve)
	require.Equal(t, "mass of a bar, g", got.Y)
	require.InDelta(t, 133.1, got.Points[0].Points[1].Y, 1e-12)
	require.InDelta(t, 1, got.Points[0].Points[1].X, 1e-12)
	require.NotEmpty(t, got.Shapes(720, 400, 15))
}
