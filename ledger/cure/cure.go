// Package cure judges whether soap has cured long enough: by days since the cut, and by whether bars
// that are weighed again and again still lose mass.
//
// A bar loses water first and most from its surface, then ever slower; it never quite stops. Neither
// the calendar nor the scale alone proves that soap is mild: the alkali test is a separate matter.
//
// Fit puts a drying curve through the weighings of a batch, Page's equation:
//
//	m(t) = m_inf + (m_0 - m_inf) exp(-(t/tau)^beta)
//
// with t in days from the cut. Each marked bar has its own mass at the cut, m_0; the share that stays,
// m_inf/m_0, the time tau and the shape beta are common to the bars of a batch. Errors are relative to a
// bar's mean mass, so a heavy and a light bar count alike. The equation is the one of thin-layer drying in
// the literature (Page; also known as Avrami's); no drying curve of soap was found published.
package cure

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"github.com/shopspring/decimal"
	"gonum.org/v1/gonum/stat/distuv"
)

// Weighing is one weighing of one marked bar. The same bar has to be weighed each time: bars differ
// more from one another than a bar loses in a week.
type Weighing struct {
	Day   time.Time
	Grams decimal.Decimal // above zero
	Bar   string          // the mark on the bar
	Step  decimal.Decimal // the smallest step that the scale shows, in grams; zero: not known
}

// Recent is how many of a bar's last weighings say whether it is still losing mass, where no curve can be
// had. Older ones would mix in the fast loss of the first days. Common practice, no source.
const Recent = 4

// ErrTooFew is wrapped when there are not weighings enough for an answer; the text says what to weigh, and when.
var ErrTooFew = errors.New("not enough weighings")

// Loss is how fast bars lose mass, in per cent of their mass a week; a gain is negative.
type Loss struct {
	PerWeek float64
	Upper   float64 // the true loss is no more than this, with 95 % confidence
}

// Rate returns how fast bars lose mass over the last Recent weighings of each: the least-squares slope, one slope
// common to all bars and a level for each, relative to the bar's mean mass. Its bound is Student's, one-sided, 95 %;
// the scatter that it rests on is never taken for less than the rounding of the scale, step/sqrt(12).
//
// It wraps ErrTooFew unless the scatter has two degrees of freedom: four weighings of one bar, or three of two.
// It fails for a mass that is not above zero.
func Rate(ws []Weighing) (Loss, error) {
	if err := positive(ws); err != nil {
		return Loss{}, err
	}
	var xx, xy, yy, rounding float64
	n, levels := 0, 0
	for _, bar := range bars(ws) {
		bar = bar[max(0, len(bar)-Recent):]
		days, masses, u := relative(bar)
		for i := range bar {
			xx, xy, yy = xx+days[i]*days[i], xy+days[i]*masses[i], yy+masses[i]*masses[i]
		}
		rounding += u
		n, levels = n+len(bar), levels+1
	}
	df := n - levels - 1
	if df < 2 || xx <= 0 {
		return Loss{}, fmt.Errorf("%w to know how fast bars lose mass: weigh one marked bar on %d days, or two on three days each", ErrTooFew, Recent)
	}
	slope := xy / xx
	variance := max((yy-slope*xy)/float64(df), rounding/float64(n))
	perWeek := func(perDay float64) float64 { return 0 - 700*perDay }
	return Loss{perWeek(slope), perWeek(slope - student(df).Quantile(0.95)*math.Sqrt(variance/xx))}, nil
}

// relative gives days and masses of one bar as deviations from their means, masses as shares of the bar's mean, and the
// sum of the squared standard deviations that rounding gives.
func relative(bar []Weighing) (days, masses []float64, rounding float64) {
	days, masses = make([]float64, len(bar)), make([]float64, len(bar))
	var meanDay, meanMass float64
	for i, w := range bar {
		days[i], masses[i] = daysFrom(bar[0].Day, w.Day), w.Grams.InexactFloat64()
		meanDay, meanMass = meanDay+days[i]/float64(len(bar)), meanMass+masses[i]/float64(len(bar))
	}
	for i, w := range bar {
		days[i] -= meanDay
		masses[i] = (masses[i] - meanMass) / meanMass
		rounding += square(w.Step.InexactFloat64()/meanMass) / 12
	}
	return days, masses, rounding
}

// bars returns the weighings of each bar, in order of time, bars in order of their marks. The order in which
// weighings are given does not matter.
func bars(ws []Weighing) [][]Weighing {
	sorted := slices.Clone(ws)
	slices.SortStableFunc(sorted, func(a, b Weighing) int {
		return cmp.Or(cmp.Compare(a.Bar, b.Bar), a.Day.Compare(b.Day), a.Grams.Cmp(b.Grams))
	})
	var out [][]Weighing
	for i, w := range sorted {
		if i == 0 || w.Bar != sorted[i-1].Bar {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], w)
	}
	return out
}

func positive(ws []Weighing) error {
	for _, w := range ws {
		if !w.Grams.IsPositive() {
			return fmt.Errorf("bar %q weighs %s g on %s: a mass must be above zero; correct that weighing", w.Bar, w.Grams, w.Day.Format(time.DateOnly))
		}
	}
	return nil
}

func student(df int) distuv.StudentsT { return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(df)} }

func square(x float64) float64 { return x * x }

// daysFrom is the time between, in days of 24 hours.
func daysFrom(from, to time.Time) float64 { return to.Sub(from).Hours() / 24 }
