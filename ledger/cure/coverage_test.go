package cure

import (
	"math/rand/v2"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
)

// tally counts, over 2,000 simulated batches of known truth, how often what was said held.
type tally struct{ fits, held, forecast, stays, tau, beta, first, bound, pointed atomic.Int64 }

const runs = 2000

// coverage simulates two bars of 135 g and 128 g on a 0.1 g scale with noise of 0.1 g besides, and asks about day 42.
func coverage(t *testing.T, m truth, days []float64) *tally {
	t.Helper()
	var got tally
	var wait sync.WaitGroup
	var next atomic.Int64
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for {
				run := next.Add(1)
				if run > runs {
					return
				}
				got.one(rand.New(rand.NewPCG(2026, uint64(run))), m, days)
			}
		})
	}
	wait.Wait()
	return &got
}

func (got *tally) one(r *rand.Rand, m truth, days []float64) {
	const day = 42
	ws := m.weigh(r, []float64{135, 128}, days, 0.1)
	future := m.weigh(r, []float64{135}, []float64{day}, 0.1)[0].Grams.InexactFloat64()
	loss := 100 * (1 - m.share(day)/m.share(day-7))
	c, err := Fit(cut, ws)
	if err != nil {
		return
	}
	count := func(n *atomic.Int64, holds bool) {
		if holds {
			n.Add(1)
		}
	}
	in := func(e Estimate, truth float64) bool { return e.Low <= truth && truth <= e.High }
	forecast, _ := c.Mass(day, "bar 1")
	got.fits.Add(1)
	count(&got.held, c.Held)
	count(&got.forecast, in(forecast, future))
	count(&got.stays, in(c.Stays, m.stays))
	count(&got.tau, in(c.Tau, m.tau))
	count(&got.beta, in(c.Beta, m.beta))
	count(&got.first, in(c.Bars[0].Cut, 135))
	count(&got.bound, loss <= c.LossPerWeek(day).Upper)
	odd, _ := c.Outliers()
	count(&got.pointed, len(odd) > 0)
}

func percent(n *atomic.Int64) float64 { return 100 * float64(n.Load()) / runs }

// Of 2,000 simulated batches the 95 % intervals hold the truth in 93 to 97 % (the owner's figure; chance alone gives
// 95 ± 1), for eight weighings of each of two bars.
func TestCoverage(t *testing.T) {
	for name, v := range map[string]struct {
		truth
		days []float64
	}{
		"twice a week at first": {usual, []float64{0, 3, 7, 10, 14, 21, 28, 35}},
		"weekly":                {usual, []float64{0, 7, 14, 21, 28, 35, 42, 49}},
		"quick":                 {truth{0.9, 8, 0.65}, []float64{0, 2, 4, 7, 11, 16, 22, 30}},
		"slow":                  {truth{0.86, 22, 0.85}, []float64{0, 3, 7, 12, 18, 25, 33, 41}},
	} {
		got := coverage(t, v.truth, v.days)
		t.Logf("%s: fits %.1f %%, beta held %.1f %%, future weighing %.2f %%, m_inf/m_0 %.2f %%, tau %.2f %%, beta %.2f %%, m_0 %.2f %%, bound of the loss %.2f %%, pointed at %.2f %%",
			name, percent(&got.fits), percent(&got.held), percent(&got.forecast), percent(&got.stays), percent(&got.tau), percent(&got.beta), percent(&got.first), percent(&got.bound), percent(&got.pointed))
		require.EqualValues(t, runs, got.fits.Load(), name)
		for what, n := range map[string]*atomic.Int64{"future weighing": &got.forecast, "m_inf/m_0": &got.stays, "tau": &got.tau, "beta": &got.beta, "m_0": &got.first, "bound of the loss": &got.bound} {
			require.InDelta(t, 95, percent(n), 2, "%s: %s", name, what)
		}
		require.Less(t, percent(&got.pointed), 7.0, "%s: nothing was amiss", name)
	}
}

// Where bars lose mass along a straight line the bound of Rate holds in 95 % of 2,000 runs; along a curve that bends it errs towards
// more loss, since its line is the mean of the last weeks.
func TestRateBoundCovers(t *testing.T) {
	holds := 0
	r := rand.New(rand.NewPCG(2026, 0))
	for range runs {
		var ws []Weighing
		for _, bar := range []string{"a", "b"} {
			for day := range 4 {
				grams := 120*(1+0.006*(1.5-float64(day))) + 0.1*r.NormFloat64()
				ws = append(ws, Weighing{after(7 * day), decimal.NewFromFloat(grams).Round(1), bar, d("0.1")})
			}
		}
		got, err := Rate(ws)
		require.NoError(t, err)
		if got.Upper >= 0.6 {
			holds++
		}
	}
	t.Logf("bound of the rate %.2f %%", 100*float64(holds)/runs)
	require.InDelta(t, 95, 100*float64(holds)/runs, 2)
}

// Bars that lose a hair more than the limit pass in no more than 5 % of 2,000 batches (chance alone: 5 ± 1), however few the weighings
// and however coarse the scale; and bars that lose much less do pass, so the rule is not merely deaf.
func TestBarsThatLoseTooMuchSeldomPass(t *testing.T) {
	weekly := []float64{0, 7, 14, 21, 28, 35}
	for name, v := range map[string]struct {
		firsts []float64
		days   []float64
		step   string
		passes float64 // at least so many per cent of bars that lose half the limit
	}{
		"one bar, beta held":         {[]float64{130}, weekly, "0.1", 95},
		"two bars, weekly":           {[]float64{135, 128}, weekly, "0.1", 95},
		"two bars, four days":        {[]float64{135, 128}, []float64{0, 10, 20, 35}, "0.1", 95},
		"two bars on a scale of 1 g": {[]float64{135, 128}, append(weekly, 42), "1", 95},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			wrongly, rightly := 0, 0
			r := rand.New(rand.NewPCG(2026, 3))
			last := v.days[len(v.days)-1]
			for range runs {
				m := truth{0.85 + 0.05*r.Float64(), 8 + 8*r.Float64(), 0.65 + 0.2*r.Float64()}
				ws := m.weigh(r, v.firsts, v.days, 0.1)
				for i := range ws {
					ws[i].Step = d(v.step)
					ws[i].Grams = ws[i].Grams.Round(-ws[i].Step.Exponent())
				}
				loss := 100 * (1 - m.share(last)/m.share(last-7))
				if Ready(Rules{0, decimal.NewFromFloat(0.999 * loss)}, cut, after(int(last)), ws).Ready {
					wrongly++
				}
				if Ready(Rules{0, decimal.NewFromFloat(2 * loss)}, cut, after(int(last)), ws).Ready {
					rightly++
				}
			}
			wrong, right := 100*float64(wrongly)/runs, 100*float64(rightly)/runs
			t.Logf("%.2f %% pass that should not, %.2f %% that should", wrong, right)
			require.Less(t, wrong, 6.5)
			require.Greater(t, right, v.passes)
		})
	}
}
