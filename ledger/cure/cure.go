// Package cure judges whether soap has cured long enough: by days since the cut, and by whether bars
// that are weighed again and again still lose mass.
//
// A bar loses water first and most from its surface, then ever slower; it never quite stops. Neither
// the calendar nor the scale alone proves that soap is mild: the alkali test is a separate matter.
package cure

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/shopspring/decimal"
)

// Weighing is one weighing of one marked bar. The same bar has to be weighed each time: bars differ
// more from one another than a bar loses in a week.
type Weighing struct {
	Day   time.Time
	Grams decimal.Decimal // above zero
	Bar   string          // the mark on the bar
}

// Recent is how many of a bar's last weighings say whether it is still losing mass. Older ones would
// mix in the fast loss of the first days. Common practice, no source.
const Recent = 4

// ErrTooFew is wrapped when no bar has been weighed on two different days.
var ErrTooFew = errors.New("not enough weighings")

// Rate returns how fast bars lose mass, in per cent of their mean mass per day; a gain is negative.
// It is the least-squares slope over the last Recent weighings of each bar, with one slope common to
// all bars and a level for each, so a heavy and a light bar count alike. It is rounded at the 12th place.
//
// It wraps ErrTooFew unless some bar has been weighed at two different times, and fails for a mass
// that is not above zero.
func Rate(ws []Weighing) (decimal.Decimal, error) {
	products, squares := decimal.Zero, decimal.Zero
	for _, bar := range bars(ws) {
		for _, w := range bar {
			if !w.Grams.IsPositive() {
				return decimal.Zero, fmt.Errorf("bar %q weighs %s g on %s: a mass must be above zero; correct that weighing", w.Bar, w.Grams, w.Day.Format(time.DateOnly))
			}
		}
		xy, xx := sums(bar)
		products, squares = products.Add(xy), squares.Add(xx)
	}
	if squares.IsZero() {
		return decimal.Zero, fmt.Errorf("%w: weigh the same marked bar on at least two days", ErrTooFew)
	}
	return products.Neg().Shift(2).DivRound(squares, 12), nil
}

// bars returns the last Recent weighings of each bar, in order of time, bars in order of their marks.
func bars(ws []Weighing) [][]Weighing {
	byBar := map[string][]Weighing{}
	var marks []string
	for _, w := range ws {
		if byBar[w.Bar] == nil {
			marks = append(marks, w.Bar)
		}
		byBar[w.Bar] = append(byBar[w.Bar], w)
	}
	slices.Sort(marks)
	out := make([][]Weighing, len(marks))
	for i, mark := range marks {
		bar := byBar[mark]
		slices.SortStableFunc(bar, func(a, b Weighing) int { return a.Day.Compare(b.Day) })
		out[i] = bar[max(0, len(bar)-Recent):]
	}
	return out
}

const innerPlaces = 30 // where divisions on the way are rounded

var nanosecondsPerDay = decimal.NewFromInt(int64(24 * time.Hour))

// sums returns the sums of products and of squares of one bar's deviations from its means: time in
// days, mass relative to the bar's mean.
func sums(bar []Weighing) (xy, xx decimal.Decimal) {
	n := decimal.NewFromInt(int64(len(bar)))
	days := make([]decimal.Decimal, len(bar))
	meanDay, meanMass := decimal.Zero, decimal.Zero
	for i, w := range bar {
		days[i] = decimal.NewFromInt(int64(w.Day.Sub(bar[0].Day))).DivRound(nanosecondsPerDay, innerPlaces)
		meanDay = meanDay.Add(days[i])
		meanMass = meanMass.Add(w.Grams)
	}
	meanDay, meanMass = meanDay.DivRound(n, innerPlaces), meanMass.DivRound(n, innerPlaces)
	for i, w := range bar {
		dx := days[i].Sub(meanDay)
		dy := w.Grams.Sub(meanMass).DivRound(meanMass, innerPlaces)
		xy, xx = xy.Add(dx.Mul(dy)), xx.Add(dx.Mul(dx))
	}
	return xy, xx
}
