package cure

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"gonum.org/v1/gonum/mat"
)

// ErrUndetermined is wrapped when there are weighings enough by number, but no one curve follows from them.
var ErrUndetermined = errors.New("the weighings do not show one drying curve")

// What a fit of all figures asks for, and one with beta held: degrees of freedom (for one bar: seven weighings, and four),
// different days, and days from the first to the last weighing. Three weeks: reference notes; the rest is common practice, no source.
const (
	freeFreedom, freeDays, freeSpan = 3, 5, 21
	heldFreedom, heldDays, heldSpan = 1, 4, 7
)

// mostScatter is how far weighings may scatter about a curve whose beta is held, as a share of the mass, before
// it counts as not following them. A scale that shows whole grams scatters by 0.3 %. Common practice, no source.
const mostScatter = 0.005

// ErrDisagree is wrapped when so many weighings do not go with the others that none can be pointed at.
var ErrDisagree = errors.New("the weighings do not agree with one another")

// Refusal says why no curve is given. It wraps ErrTooFew, ErrUndetermined or ErrDisagree.
type Refusal struct {
	kind    error
	why     string
	Odd     []Outlier // weighings that do not go with the others, and may be why
	Without *Curve    // the curve without them; nil if there is none either
}

func (r *Refusal) Error() string {
	text := r.kind.Error() + ": " + r.why
	for _, o := range r.Odd {
		text += ". " + strings.TrimSuffix(o.String(), ".")
	}
	return text
}

// Unwrap gives ErrTooFew, ErrUndetermined or ErrDisagree.
func (r *Refusal) Unwrap() error { return r.kind }

// Fit puts a drying curve through all weighings, by least squares. cutOn is when the bars were cut; days count from there.
//
// All figures are fitted from seven weighings (of one bar; each further bar needs one more in all) on five days over
// three weeks. With less, or where these leave the figures open, beta is held at 0.75 and its doubt of 0.15 is
// part of every interval; that asks for four weighings on four days over a week. Otherwise Fit returns a *Refusal: of
// ErrTooFew, of ErrUndetermined where figures come out at the edge of what can be or with errors as large as
// themselves, or of ErrDisagree where too many weighings do not go with the others. Its text says what to weigh, and when.
func Fit(cutOn time.Time, ws []Weighing) (*Curve, error) {
	if err := positive(ws); err != nil {
		return nil, err
	}
	for _, w := range ws {
		if w.Day.Before(cutOn) {
			return nil, fmt.Errorf("bar %q was weighed on %s, before the cut: correct the time of that weighing", w.Bar, w.Day.Format(time.DateTime))
		}
	}
	c, refusal := attempt(cutOn, ws)
	var disagree *Refusal
	c.odd, c.without, disagree = c.search(attempt)
	switch {
	case disagree != nil:
		return nil, disagree
	case refusal != nil:
		refusal.Odd, refusal.Without = c.odd, c.without
		return nil, refusal
	}
	return c, nil
}

// attempt fits a curve; a refusal comes with the curve as far as it got.
func attempt(cutOn time.Time, ws []Weighing) (*Curve, *Refusal) {
	c := &Curve{CutOn: cutOn, from: bars(ws)}
	c.gather()
	have := c.reach()
	free, held := have.freedom-shapes, have.freedom-(shapes-1)
	if held < heldFreedom || have.days < heldDays || have.span < heldSpan {
		return c, &Refusal{kind: ErrTooFew, why: have.missing()}
	}
	if free >= freeFreedom && have.days >= freeDays && have.span >= freeSpan {
		if c.fit(free, false); c.settled() == "" {
			return c, nil
		}
	}
	c.fit(held, true)
	if why := c.settled(); why != "" {
		return c, &Refusal{kind: ErrUndetermined, why: have.next(why)}
	}
	return c, nil
}

// gather turns weighings into figures.
func (c *Curve) gather() {
	for b, bar := range c.from {
		mean := 0.0
		for _, w := range bar {
			mean += w.Grams.InexactFloat64() / float64(len(bar))
		}
		c.means = append(c.means, mean)
		for _, w := range bar {
			day := c.Day(w.Day)
			c.LastDay = max(c.LastDay, day)
			c.steps += square(w.Step.InexactFloat64()/mean) / 12
			c.data = append(c.data, datum{b, day, w.Grams.InexactFloat64() / mean, w.Day})
		}
	}
	c.steps /= max(1, float64(len(c.data)))
}

// fit finds the least squares with beta fitted or held, and all that follows from them.
func (c *Curve) fit(freedom int, held bool) {
	p := &problem{data: c.data, bars: len(c.means), held: held}
	s, ok := p.solve()
	c.shape, c.Held, c.Freedom = s, held, freedom
	c.firsts, c.sum = p.least(p.shares(s))
	c.oneSided, c.twoSided = student(freedom).Quantile(0.95), student(freedom).Quantile(0.975)
	c.Scatter = math.Sqrt(max(c.sum/float64(freedom), c.steps))
	c.inverse = nil
	if !ok || !c.invert() {
		c.Stays.SE = math.Inf(1) // which settled sees
		return
	}
	c.describe()
}

// invert works out (J'J)^-1 by Cholesky, columns scaled to length one first, and with beta held how the rest moves with it.
func (c *Curve) invert() bool {
	size := c.fitted() + len(c.firsts)
	c.slopes = make([]slope, len(c.data))
	normal, beta := mat.NewSymDense(size, nil), make([]float64, size)
	for i, d := range c.data {
		m, byShape := c.shape.at(d.day)
		for j := range byShape {
			byShape[j] *= c.firsts[d.bar]
		}
		c.slopes[i] = slope{byShape, m}
		at, by := c.slopes[i].of(c, d.bar)
		for a, p := range at {
			beta[p] += by[a] * byShape[shapes-1]
			for b, q := range at[:a+1] {
				normal.SetSym(q, p, normal.At(q, p)+by[a]*by[b])
			}
		}
	}
	lengths := make([]float64, size)
	for i := range lengths {
		if lengths[i] = math.Sqrt(normal.At(i, i)); lengths[i] == 0 {
			return false
		}
	}
	scale := func(m *mat.SymDense) {
		for i := range lengths {
			for j := range i + 1 {
				m.SetSym(i, j, m.At(i, j)/lengths[i]/lengths[j])
			}
		}
	}
	scale(normal)
	var chol mat.Cholesky
	if !chol.Factorize(normal) || chol.Cond() > 1e12 {
		return false
	}
	c.inverse = mat.NewSymDense(size, nil)
	if chol.InverseTo(c.inverse) != nil {
		return false
	}
	scale(c.inverse)
	moved := mat.NewVecDense(size, nil)
	moved.MulVec(c.inverse, mat.NewVecDense(size, beta))
	moved.ScaleVec(-1, moved)
	c.byBeta = moved.RawVector().Data
	return true
}

// slope is how the share of a weighing, or the sum of several of one bar, moves with the shape and with the first mass of its bar.
// With the firsts of other bars it does not move, which keeps the work of many bars small.
type slope struct {
	byShape [shapes]float64
	byFirst float64
}

func (s slope) plus(t slope) slope {
	for i := range s.byShape {
		s.byShape[i] += t.byShape[i]
	}
	s.byFirst += t.byFirst
	return s
}

// of gives the slope by the fitted figures of a curve: which they are, ascending, and by how much; all others are zero.
func (s slope) of(c *Curve, bar int) (at []int, by []float64) {
	k := c.fitted()
	at, by = []int{0, 1, 2, 3}[:k+1], make([]float64, k+1)
	copy(by, s.byShape[:k])
	at[k], by[k] = k+bar, s.byFirst
	return at, by
}

// describe fills in the figures that are shown.
func (c *Curve) describe() {
	alone := func(i int) (e [shapes]float64) { e[i] = 1; return e }
	c.Stays = c.estimate(c.shape.stays, alone(0), nil, 0)
	logTau := c.estimate(c.shape.logTau, alone(1), nil, 0)
	tau := math.Exp(c.shape.logTau)
	c.Tau = Estimate{tau, math.Exp(logTau.Low), math.Exp(logTau.High), tau * logTau.SE}
	c.Beta = c.estimate(c.shape.beta, alone(2), nil, 0)
	c.Bars = make([]Bar, len(c.from))
	for b, bar := range c.from {
		w := c.only(b)
		m0 := c.means[b] * c.firsts[b]
		byFirst := make([]float64, len(w))
		byFirst[b] = c.means[b] * c.shape.stays
		final := c.estimate(m0*c.shape.stays, [shapes]float64{m0}, byFirst, 0)
		c.Bars[b] = Bar{bar[0].Bar, c.mass(0, w, 0), final}
	}
}

// settled says why the figures found are none to predict from; empty if they are.
func (c *Curve) settled() string {
	s, lost := c.shape, 1-c.shape.stays
	far := func(x, low, high float64) bool { return x-low > 1e-3*(high-low) && high-x > 1e-3*(high-low) }
	switch {
	case lost < 1e-3:
		return "the bars lose next to nothing that the scale can show"
	case c.Held && c.Scatter > mostScatter:
		return fmt.Sprintf("they scatter by %.1f %% of the mass about any curve; look at the marks on the bars and at the scale", 100*c.Scatter)
	case !finite(c.Scatter, c.Stays.SE, c.Tau.High, c.Beta.High):
		return "no curve fits them"
	case !far(s.stays, leastStays, mostStays) || !far(s.beta, leastBeta, mostBeta) && !c.Held:
		return "the best curve lies at the edge of what soap can do"
	case c.Stays.SE > lost/2 || c.Tau.SE > c.Tau.Value/2 || !c.Held && c.Beta.SE > 0.3:
		return "it is still open where the loss will end"
	}
	return ""
}

func finite(xs ...float64) bool {
	for _, x := range xs {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}

// miss is by how much a weighing lies above the curve, as a share of the bar's mass.
func (c *Curve) miss(i int) float64 {
	d := c.data[i]
	m, _ := c.shape.at(d.day)
	return d.mass - c.firsts[d.bar]*m
}

// reach is what there is to fit a curve to.
type reach struct {
	freedom     int // weighings less bars
	days, span  int // different days, and calendar days from the first to the last
	first, last time.Time
	cutOn       time.Time
}

func (c *Curve) reach() reach {
	r := reach{freedom: len(c.data) - len(c.means), cutOn: c.CutOn}
	days := map[time.Time]bool{}
	for i, d := range c.data {
		days[date(d.when)] = true
		if i == 0 || d.when.Before(r.first) {
			r.first = d.when
		}
		if i == 0 || d.when.After(r.last) {
			r.last = d.when
		}
	}
	r.days = len(days)
	if r.days > 0 {
		r.span = daysBetween(r.first, r.last)
	}
	return r
}

// missing says what has to be weighed before a curve can be fitted, and when.
func (r reach) missing() string {
	if r.days == 0 {
		return "mark a bar and weigh it on the day of the cut, then twice a week"
	}
	return fmt.Sprintf("one marked bar has to be weighed at least %d times, on %d days, over %d days; it is %d so far, on %d days, over %d. Weigh the same bar again on %s, then weekly",
		heldFreedom+shapes, heldDays, heldSpan, r.freedom+1, r.days, r.span, r.again().Format(time.DateOnly))
}

// next says why there is no curve, and which weighing would help most.
func (r reach) next(why string) string {
	if late := daysBetween(r.cutOn, r.first); late > 3 {
		why += fmt.Sprintf("; nothing was weighed in the first %d days, which show the bend of the curve: mark bars of the next batch at the cut", late)
	}
	return fmt.Sprintf("%s. Weigh the same bars again on %s, then weekly", why, r.again().Format(time.DateOnly))
}

// again is when the next weighing tells most: soon in the first two weeks, then weekly.
func (r reach) again() time.Time {
	if daysBetween(r.cutOn, r.last) < 14 {
		return r.last.AddDate(0, 0, 3)
	}
	return r.last.AddDate(0, 0, 7)
}

// daysBetween counts calendar days.
func daysBetween(from, to time.Time) int { return int(date(to).Sub(date(from)) / (24 * time.Hour)) }
