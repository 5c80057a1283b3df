package cure

import (
	"fmt"
	"math"
	"slices"
	"time"

	"github.com/shopspring/decimal"
)

// What an outlier can look like.
const (
	LooksSlip      = "a slip of the scale or the pen" // one weighing lies off, those around it do not
	LooksSwapped   = "another bar"                    // from one weighing on all of the bar lie off by as much
	LooksExchanged = "two bars taken for each other"  // two bars of one day, each near what the other should weigh
)

// Outlier is a weighing that does not go with the others. It is pointed at, never left out: whether it was a slip is for the
// person to say who held the bar.
type Outlier struct {
	Bar   string
	Day   time.Time
	Grams decimal.Decimal // as weighed
	Off   float64         // grams above what the others let expect; negative: below
	Looks string
	P     float64 // how often chance alone would give one like it among these weighings (Bonferroni)

	at, run int // which of the weighings, and how many of the bar from it on are meant
}

// String says it in a sentence.
func (o Outlier) String() string {
	side := "above"
	if o.Off < 0 {
		side = "below"
	}
	when, off := o.Day.Format(time.DateOnly), math.Abs(o.Off)
	switch o.Looks {
	case LooksSwapped:
		return fmt.Sprintf("Bar %q weighs about %.1f g %s its curve from %s on, as if another bar had been taken for it; look at the mark.", o.Bar, off, side, when)
	case LooksExchanged:
		return fmt.Sprintf("Bar %q on %s lies %.1f g %s its curve, near what another bar should weigh that day, as if two had been taken for each other; correct both if so.", o.Bar, when, off, side)
	}
	return fmt.Sprintf("The weighing of bar %q on %s lies %.1f g %s its curve, as if the tare or a figure had slipped; weigh it again, and correct that weighing if so.", o.Bar, when, off, side)
}

// How many weighings are pointed at, at most: a tenth, but no fewer than three, and no more than twenty. Where more are odd it is no
// longer clear which are right: each that is set aside moves the curve that the next is held against, and nobody
// weighs a long list again bar by bar. Each costs a fit, so this also bounds the work. Common practice, no source.
const leastOdd, mostOdd, oddOf = 3, 20, 10

// Outliers points at weighings that do not go with the others, most striking first, and gives the curve without
// them, nil if there are none or the rest allows no curve.
//
// Each weighing, and each run of a bar's weighings from one on, is tried as a mean shift in the linearised fit: the
// externally studentised residual, against Student's t at 5 % shared among all that are tried (Bonferroni). The most striking is
// set aside, the curve fitted anew, and the search goes on; no more than a third of the weighings are set aside.
// Where more than a tenth would be pointed at, Fit gives no curve but a Refusal of ErrDisagree.
func (c *Curve) Outliers() ([]Outlier, *Curve) { return c.odd, c.without }

// search finds what Outliers gives, fitting again after each find.
func (c *Curve) search(again func(cutOn time.Time, ws []Weighing) (*Curve, *Refusal)) ([]Outlier, *Curve, *Refusal) {
	var found []Outlier
	most := min(max(leastOdd, len(c.data)/oddOf), mostOdd)
	rest, aside := c, len(c.data)/3
	var refusal *Refusal
	for {
		o, ok := rest.strangest()
		if aside -= o.run; !ok || aside < 0 {
			break
		}
		if len(found) == most {
			return nil, nil, &Refusal{kind: ErrDisagree, why: fmt.Sprintf("more than %d of the %d do not go with the others; look at the marks on the bars, "+
				"and weigh all of them again on one scale", most, len(c.data))}
		}
		found = append(found, o)
		rest, refusal = again(c.CutOn, rest.less(o))
	}
	if len(found) == 0 || refusal != nil {
		return found, nil, nil
	}
	exchanged(found, rest)
	return found, rest, nil
}

// strangest finds the shift that explains most, if chance does not explain it.
func (c *Curve) strangest() (Outlier, bool) {
	if c.inverse == nil || c.Freedom < 2 {
		return Outlier{}, false
	}
	best, tried, t, at := Outlier{}, 0, 0.0, 0
	for b, bar := range c.from {
		var later slope // of the run from a weighing on, which lies above the curve by gap in all
		gap := 0.0
		for i, w := range slices.Backward(bar) {
			try := func(run int, s slope, gap float64) {
				tried++
				if shift, ratio := c.shift(b, run, s, gap); ratio > t {
					t, best = ratio, Outlier{Bar: w.Bar, Day: w.Day, Grams: w.Grams, Off: shift * c.means[b], Looks: LooksSlip, at: at + i, run: run}
				}
			}
			one, miss := c.slopes[at+i], c.miss(at+i)
			later, gap = later.plus(one), gap+miss
			try(1, one, miss)
			if run := len(bar) - i; i >= 2 && run >= 2 {
				try(run, later, gap)
			}
		}
		at += len(bar)
	}
	if best.run > 1 {
		best.Looks = LooksSwapped
	}
	best.P = min(1, 2*student(c.Freedom-1).Survival(t)*float64(tried))
	return best, best.P < 0.05
}

// shift tries whether a run of weighings of a bar is shifted: by how much, as a share, and by how many of its standard errors.
// What is known of the run is the sum of its slopes, and of how far it lies above the curve.
func (c *Curve) shift(bar, run int, sum slope, gap float64) (by, ratio float64) {
	at, along := sum.of(c, bar)
	left := float64(run) // what of the shift the curve does not take up
	for i, p := range at {
		for j, q := range at {
			left -= along[i] * along[j] * c.inverse.At(p, q)
		}
	}
	if left < 1e-6 {
		return 0, 0
	}
	explained := gap * gap / left
	variance := max((c.sum-explained)/float64(c.Freedom-1), c.steps, 1e-18)
	return gap / left, math.Sqrt(explained / variance)
}

// less gives the weighings less those that are pointed at.
func (c *Curve) less(o Outlier) []Weighing {
	all := slices.Concat(c.from...)
	return slices.Delete(all, o.at, o.at+o.run)
}

// exchanged marks pairs of one day that lie near what the other bar should weigh, by the curve without them.
func exchanged(found []Outlier, rest *Curve) {
	for i := range found {
		for j := range i {
			a, b := &found[i], &found[j]
			if a.run != 1 || b.run != 1 || a.Bar == b.Bar || date(a.Day) != date(b.Day) {
				continue
			}
			ofA, okA := rest.Mass(rest.Day(a.Day), a.Bar)
			ofB, okB := rest.Mass(rest.Day(b.Day), b.Bar)
			if okA && okB && ofB.holds(a.Grams) && ofA.holds(b.Grams) {
				a.Looks, b.Looks = LooksExchanged, LooksExchanged
			}
		}
	}
}

// holds tells whether a mass lies within the interval.
func (e Estimate) holds(grams decimal.Decimal) bool {
	g := grams.InexactFloat64()
	return e.Low <= g && g <= e.High
}
