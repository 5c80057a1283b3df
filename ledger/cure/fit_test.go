package cure

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/optimize"
	"pgregory.net/rapid"
)

func fit(t require.TestingT, ws []Weighing) *Curve {
	c, err := Fit(cut, ws)
	require.NoError(t, err)
	return c
}

// The worked values of the check series: reference notes on cure, fitted beforehand with other software.
func TestFitOfTheCheckSeries(t *testing.T) {
	c := fit(t, series("a"))
	require.False(t, c.Held)
	require.Equal(t, 10, c.Freedom)
	bar := c.Bars[0]
	for name, v := range map[string]struct{ want, got, within float64 }{
		"m_inf": {118.2465, bar.Final.Value, 5e-5}, "se of m_inf": {0.304, bar.Final.SE, 5e-4},
		"m_0": {135.0111, bar.Cut.Value, 5e-5}, "se of m_0": {0.090, bar.Cut.SE, 5e-4},
		"tau": {15.4067, c.Tau.Value, 5e-5}, "se of tau": {0.702, c.Tau.SE, 5e-4},
		"beta": {0.7593, c.Beta.Value, 5e-5}, "se of beta": {0.0175, c.Beta.SE, 5e-5}, // the notes write 0.018; 0.01747 by Gauss and Newton with differences
		"sum of squares": {0.0900192, c.sum * c.means[0] * c.means[0], 5e-8},
		"s":              {0.09488, c.Scatter * c.means[0], 5e-6},
	} {
		require.InDelta(t, v.want, v.got, v.within, name)
	}
	for day, v := range map[float64][2]float64{49: {119.756, 0.302}, 56: {119.414, 0.344}, 84: {118.693, 0.495}} {
		got, ok := c.Mass(day, "a")
		require.True(t, ok)
		require.InDelta(t, v[0], got.Value, 5e-4, "day %v", day)
		require.InDelta(t, v[1], got.High-got.Value, 5e-4, "day %v", day)
		require.InDelta(t, v[1], got.Value-got.Low, 5e-4, "day %v", day)
		require.InDelta(t, got.Value, c.MeanMass(day).Value, 1e-9, "one bar is the mean bar")
		require.InDelta(t, got.Value/bar.Cut.Value, c.Share(day).Value, 1e-9)
	}
	for day, percent := range map[float64]float64{28.5: 1, 42.9: 0.5, 54.8: 0.3, 65.0: 0.2} {
		require.InDelta(t, percent, c.LossPerWeek(day).PerWeek, 0.005, "day %v", day)
	}
	_, ok := c.Mass(49, "b")
	require.False(t, ok)
}

func TestReadyOn(t *testing.T) {
	c := fit(t, series("a"))
	f := c.ReadyOn(Rules{28, d("0.5")})
	require.Equal(t, date(after(43)), f.ByPoint, "on day 42.9 by the worked values")
	require.True(t, f.On.After(f.ByPoint))
	n := int(f.On.Sub(date(cut)).Hours() / 24)
	require.LessOrEqual(t, c.LossPerWeek(float64(n)).Upper, 0.5)
	require.Greater(t, c.LossPerWeek(float64(n-1)).Upper, 0.5)
	require.Equal(t, Forecast{date(after(100)), date(after(100))}, c.ReadyOn(Rules{100, d("0.5")}))
	require.Equal(t, Forecast{date(after(28)), date(after(28))}, c.ReadyOn(Rules{MinDays: 28}), "bars need not be weighed")
	require.Zero(t, c.ReadyOn(Rules{28, d("0.000000001")}).On)
}

// simulated weighs bars of known truth on a 0.1 g scale, with noise in grams.
type truth struct{ stays, tau, beta float64 }

func (m truth) share(day float64) float64 {
	return m.stays + (1-m.stays)*math.Exp(-math.Pow(day/m.tau, m.beta))
}

var usual = truth{118.0 / 135, 16, 0.75} // of the check series

func (m truth) weigh(r *rand.Rand, firsts []float64, days []float64, noise float64) []Weighing {
	var ws []Weighing
	for b, first := range firsts {
		for _, day := range days {
			grams := decimal.NewFromFloat(first*m.share(day) + noise*r.NormFloat64()).Round(1)
			ws = append(ws, Weighing{cut.Add(time.Duration(day * 24 * float64(time.Hour))), grams, "bar " + strconv.Itoa(b+1), d("0.1")})
		}
	}
	return ws
}

// A second route: Nelder and Mead's simplex, without any gradient, over the plain figures of all bars.
func TestFitAgreesWithASimplex(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 3 {
		ws := usual.weigh(r, []float64{135, 128}, []float64{0, 2, 5, 9, 14, 21, 28, 35, 45}, 0.3)
		c := fit(t, ws)
		sum := func(x []float64) (total float64) {
			for b, bar := range bars(ws) {
				for _, w := range bar {
					m := truth{x[0], x[1], x[2]}
					total += square((w.Grams.InexactFloat64() - x[3+b]*m.share(w.Day.Sub(cut).Hours()/24)) / c.means[b])
				}
			}
			return total * 1e6
		}
		best := &optimize.Result{Location: optimize.Location{X: []float64{0.85, 12, 0.8, 134, 129}}}
		for range 4 { // a simplex may stall; begin anew where it did
			var err error
			best, err = optimize.Minimize(optimize.Problem{Func: sum}, best.X, &optimize.Settings{MajorIterations: 5000,
				Converger: &optimize.FunctionConverge{Absolute: 1e-12, Iterations: 500}}, &optimize.NelderMead{})
			require.NoError(t, err)
		}
		require.InEpsilon(t, best.F, c.sum*1e6, 1e-6)
		require.LessOrEqual(t, c.sum*1e6, best.F*(1+1e-9), "ours is the least")
		for i, got := range []float64{c.Stays.Value, c.Tau.Value, c.Beta.Value, c.Bars[0].Cut.Value, c.Bars[1].Cut.Value} {
			require.InEpsilon(t, best.X[i], got, 2e-4, "figure %d", i)
		}
	}
}

// The derivatives that everything rests on, against differences.
func TestSlopesAgreeWithDifferences(t *testing.T) {
	s := shape{0.87, math.Log(15), 0.7}
	for _, day := range []float64{0, 0.01, 1, 7, 30, 300} {
		_, slope := s.at(day)
		for i, move := range []func(h float64) shape{
			func(h float64) shape { return shape{s.stays + h, s.logTau, s.beta} },
			func(h float64) shape { return shape{s.stays, s.logTau + h, s.beta} },
			func(h float64) shape { return shape{s.stays, s.logTau, s.beta + h} },
		} {
			up, _ := move(1e-5).at(day)
			down, _ := move(-1e-5).at(day)
			require.InDelta(t, (up-down)/2e-5, slope[i], 1e-8, "day %v, figure %d", day, i)
		}
	}
}

// Without noise the truth comes back, whether all figures are fitted or beta is held at what it is.
func TestExactWeighingsGiveTheTruth(t *testing.T) {
	exact := func(days ...float64) (ws []Weighing) {
		for _, first := range []float64{120, 140} {
			for _, day := range days {
				ws = append(ws, Weighing{cut.Add(time.Duration(day * 24 * float64(time.Hour))), decimal.NewFromFloat(first * usual.share(day)), strconv.Itoa(int(first)), decimal.Zero})
			}
		}
		return ws
	}
	for _, c := range []*Curve{fit(t, exact(0, 1, 3, 7, 12, 20, 30)), fit(t, exact(0, 7, 14, 28))} {
		require.InDelta(t, usual.stays, c.Stays.Value, 1e-5)
		require.InDelta(t, usual.tau, c.Tau.Value, 5e-3)
		require.InDelta(t, usual.beta, c.Beta.Value, 1e-4)
		require.InDelta(t, 140, c.Bars[1].Cut.Value, 1e-3)
		m, _ := c.Mass(60, "120")
		require.InDelta(t, 120*usual.share(60), m.Value, 5e-3)
	}
	require.True(t, fit(t, exact(0, 7, 14, 28)).Held)
}

// With beta held its doubt stays in the forecast: a truth of another beta is still within the interval.
func TestHeldBetaKeepsItsDoubt(t *testing.T) {
	for _, beta := range []float64{0.65, 0.75, 0.85} {
		m := truth{usual.stays, 14, beta}
		c := fit(t, m.weigh(rand.New(rand.NewPCG(1, 2)), []float64{135, 128}, []float64{0, 10, 20, 35}, 0.05))
		require.True(t, c.Held)
		require.InDelta(t, usualBeta, c.Beta.Value, 1e-12)
		require.InDelta(t, normalTwoSided*betaDoubt, c.Beta.High-usualBeta, 1e-3)
		got := c.Share(49)
		require.True(t, got.Low < m.share(49) && m.share(49) < got.High, "beta %v: %v, %+v", beta, m.share(49), got)
	}
}

func TestFitRefuses(t *testing.T) {
	all := series("a")
	flat := usual
	flat.stays = 0.9999
	r := rand.New(rand.NewPCG(3, 4))
	for name, v := range map[string]struct {
		ws   []Weighing
		is   error
		says string
	}{
		"none":            {nil, ErrTooFew, "mark a bar and weigh it on the day of the cut"},
		"three":           {all[:3], ErrTooFew, "it is 3 so far, on 3 days, over 2. Weigh the same bar again on 2026-03-06"},
		"five days":       {all[:5], ErrTooFew, "over 5"},
		"one of each bar": {[]Weighing{weighed(after(0), "100", "a"), weighed(after(9), "99", "b")}, ErrTooFew, "it is 1 so far"},
		"nothing lost":    {flat.weigh(r, []float64{120}, []float64{0, 3, 7, 14, 21, 28, 35}, 0), ErrUndetermined, "Weigh the same bars again"},
		"a jump":          {dropped(), ErrUndetermined, `look at the marks on the bars and at the scale`},
		"not yet bent":    {truth{0.8, 200, 1}.weigh(r, []float64{120}, []float64{0, 2, 4, 7, 10}, 0.1), ErrUndetermined, "again on 2026-03-14"},
		"begun too late":  {usual.weigh(r, []float64{120}, []float64{30, 35, 40, 45, 50, 55, 60}, 0.1), ErrUndetermined, "nothing was weighed in the first 30 days"},
	} {
		_, err := Fit(cut, v.ws)
		require.ErrorIs(t, err, v.is, name)
		require.ErrorContains(t, err, v.says, name)
	}
	_, err := Fit(cut, append(all, weighed(cut.Add(-time.Hour), "136", "a")))
	require.ErrorContains(t, err, "before the cut")
	_, err = Fit(cut, append(all, weighed(after(50), "-1", "a")))
	require.ErrorContains(t, err, "above zero")
}

// Grams doubled, weighings shuffled: the same curve.
func TestFitIsRelativeAndWithoutOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		ws := usual.weigh(r, []float64{135, 90}, []float64{0, 2, 5, 9, 14, 21, 28, 35}, 0.1)
		one := fit(t, ws)
		double := slices.Clone(ws)
		for i := range double {
			double[i].Grams, double[i].Step = double[i].Grams.Mul(d("2")), double[i].Step.Mul(d("2"))
		}
		r.Shuffle(len(double), func(i, j int) { double[i], double[j] = double[j], double[i] })
		other := fit(t, double)
		require.InDelta(t, one.Tau.Value, other.Tau.Value, 1e-6)
		require.InDelta(t, one.Scatter, other.Scatter, 1e-12)
		require.InDelta(t, one.LossPerWeek(40).Upper, other.LossPerWeek(40).Upper, 1e-9)
		require.InDelta(t, 2*one.MeanMass(40).Low, other.MeanMass(40).Low, 1e-6)
		r.Shuffle(len(ws), func(i, j int) { ws[i], ws[j] = ws[j], ws[i] })
		require.Equal(t, one.Share(50), fit(t, ws).Share(50), "to the last figure")
	})
}

// Whatever was typed, there is an answer or a refusal, and no figure that is none.
func FuzzFit(f *testing.F) {
	f.Add([]byte{0, 200, 10, 190, 30, 180, 60, 176, 90, 174, 120, 173, 200, 172, 240, 172}, uint8(1), int64(0))
	f.Add([]byte{0, 100, 0, 100, 0, 100, 0, 100}, uint8(2), int64(10))
	f.Add([]byte{0, 1, 255, 255, 0, 255, 255, 1, 128, 3, 129, 4, 77, 5}, uint8(1), int64(1000))
	f.Fuzz(func(t *testing.T, raw []byte, count uint8, step int64) {
		var ws []Weighing
		for i := 0; i+1 < min(len(raw), 120); i += 2 {
			ws = append(ws, Weighing{cut.Add(time.Duration(raw[i]) * 6 * time.Hour), decimal.New(int64(raw[i+1])+1, 0),
				strconv.Itoa(i % (int(count)%5 + 1)), decimal.New(step%1000, -2).Abs()})
		}
		v := Ready(Rules{28, d("0.5")}, cut, after(60), ws)
		require.NotEmpty(t, v.Reasons)
		c, err := Fit(cut, ws)
		if err != nil {
			return
		}
		soundly(t, c)
		if _, rest := c.Outliers(); rest != nil {
			soundly(t, rest)
		}
	})
}

func soundly(t *testing.T, c *Curve) {
	t.Helper()
	for day := 0.0; day < 500; day += 17.3 {
		loss := c.LossPerWeek(day)
		for _, e := range []Estimate{c.Share(day), c.MeanMass(day), c.Stays, c.Tau, c.Beta, c.Bars[0].Cut, c.Bars[0].Final} {
			require.True(t, finite(e.Value, e.Low, e.High, e.SE, loss.PerWeek, loss.Upper))
			require.True(t, e.Low <= e.Value && e.Value <= e.High && loss.PerWeek <= loss.Upper)
		}
	}
}

// The target is 2 ms.
func BenchmarkFit(b *testing.B) {
	days := []float64{0, 1, 2, 3, 4, 5, 7, 9, 11, 14, 16, 18, 21, 24, 28, 32, 36, 40, 45, 50}
	ws := usual.weigh(rand.New(rand.NewPCG(7, 8)), []float64{135, 128, 140}, days, 0.1)
	require.Len(b, ws, 60)
	for b.Loop() {
		if _, err := Fit(cut, ws); err != nil {
			b.Fatal(err)
		}
	}
}
