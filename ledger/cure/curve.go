package cure

import (
	"math"
	"time"

	"gonum.org/v1/gonum/mat"
)

// Estimate is a figure with its 95 % interval.
type Estimate struct {
	Value, Low, High float64
	SE               float64 // the standard error of the value
}

// Bar is what a curve says of one marked bar, in grams.
type Bar struct {
	Mark  string
	Cut   Estimate // at the cut, m_0
	Final Estimate // in the end, m_inf
}

// Curve is a drying curve fitted to the weighings of a batch. Make one with Fit. Its figures are statistics, not weights:
// round them before they are shown.
type Curve struct {
	CutOn   time.Time
	Stays   Estimate // the share of the mass at the cut that stays in the end, m_inf/m_0
	Tau     Estimate // days after which 63 % of the loss is over
	Beta    Estimate // shape: 0.5 diffusion-like, 1 first order
	Held    bool     // beta was not fitted but taken for 0.75, give or take 0.15, since weighings are too few to show it
	Bars    []Bar    // in order of their marks
	Scatter float64  // standard deviation of one weighing about the curve, as a share of the bar's mass
	Freedom int      // degrees of freedom of the scatter
	LastDay float64  // of the last weighing, in days from the cut

	shape              shape
	firsts             []float64 // m_0 of each bar, by its mean
	means              []float64 // mean mass of each bar, in grams
	data               []datum
	steps              float64 // mean square of the rounding of the scale, as a share of the bar's mass
	sum                float64 // of squared residuals, as shares
	slopes             []slope // of each weighing
	inverse            *mat.SymDense
	byBeta             []float64 // how each fitted figure moves with beta where beta is held
	from               [][]Weighing
	odd                []Outlier // what Outliers gives
	without            *Curve
	oneSided, twoSided float64 // Student's factors for 95 % confidence
}

// Day is a time in days of 24 hours from the cut.
func (c *Curve) Day(t time.Time) float64 { return daysFrom(c.CutOn, t) }

// Share is the share of its mass at the cut that a bar has on a day, with the 95 % interval for one further weighing. For
// the expected mass of any bar of the batch, multiply by the bar's mass at the cut, or by the mean of the batch.
func (c *Curve) Share(day float64) Estimate {
	m, slope := c.shape.at(day)
	var first float64
	for _, f := range c.firsts {
		first += f / float64(len(c.firsts))
	}
	return c.estimate(m, slope, nil, c.Scatter/first)
}

// Mass is the expected mass in grams of a marked bar on a day, with the 95 % interval for one further weighing of it. It tells
// whether the bar is one of those that were weighed.
func (c *Curve) Mass(day float64, mark string) (Estimate, bool) {
	for b, bar := range c.Bars {
		if bar.Mark == mark {
			return c.mass(day, c.only(b), c.Scatter*c.means[b]), true
		}
	}
	return Estimate{}, false
}

// MeanMass is the mass in grams that the marked bars have on average on a day, with the 95 % interval for one weighing of
// a bar like that.
func (c *Curve) MeanMass(day float64) Estimate {
	weights, mean := make([]float64, len(c.means)), 0.0
	for b, m := range c.means {
		weights[b] = m / float64(len(c.means))
		mean += weights[b]
	}
	return c.mass(day, weights, c.Scatter*mean)
}

// LossPerWeek is how much mass bars have lost over the week that ends on a day, in per cent of their mass a week before,
// with its one-sided bound. Days before the seventh are taken for the seventh.
func (c *Curve) LossPerWeek(day float64) Loss {
	day = max(day, 7)
	before, slopeBefore := c.shape.at(day - 7)
	now, slope := c.shape.at(day)
	for i := range slope {
		slope[i] = -100 * (slope[i]*before - now*slopeBefore[i]) / square(before)
	}
	value := 100 * (1 - now/before)
	chance, doubt := c.spread(slope, nil)
	return Loss{value, value + math.Hypot(c.oneSided*chance, normalOneSided*doubt)}
}

// Quantiles of the normal distribution for the doubt of a beta that is held.
const normalOneSided, normalTwoSided = 1.6449, 1.9600

// mass is a weighted sum of the bars' masses: weights in grams.
func (c *Curve) mass(day float64, weights []float64, noise float64) Estimate {
	m, slope := c.shape.at(day)
	first := 0.0
	for b, w := range weights {
		first += w * c.firsts[b]
	}
	for i := range slope {
		slope[i] *= first
	}
	byFirst := make([]float64, len(weights))
	for b, w := range weights {
		byFirst[b] = w * m
	}
	return c.estimate(first*m, slope, byFirst, noise)
}

// only weighs one bar alone.
func (c *Curve) only(b int) []float64 {
	weights := make([]float64, len(c.means))
	weights[b] = c.means[b]
	return weights
}

// estimate gives a figure its interval, from its derivatives by the shape and by the bars' firsts (nil: none), and the
// noise of a single weighing (zero: of the figure itself).
func (c *Curve) estimate(value float64, byShape [shapes]float64, byFirst []float64, noise float64) Estimate {
	chance, doubt := c.spread(byShape, byFirst)
	chance = math.Hypot(chance, noise)
	half := math.Hypot(c.twoSided*chance, normalTwoSided*doubt)
	return Estimate{value, value - half, value + half, math.Hypot(chance, doubt)}
}

// spread is the standard error of a figure: what the scatter of the weighings gives, and what the doubt of a held beta adds.
func (c *Curve) spread(byShape [shapes]float64, byFirst []float64) (chance, doubt float64) {
	k := c.fitted()
	g := make([]float64, k+len(c.firsts))
	copy(g, byShape[:k])
	copy(g[k:], byFirst)
	v := mat.NewVecDense(len(g), g)
	chance = c.Scatter * math.Sqrt(max(mat.Inner(v, c.inverse, v), 0))
	if !c.Held {
		return chance, 0
	}
	total := byShape[shapes-1]
	for i := range g {
		total += g[i] * c.byBeta[i]
	}
	return chance, betaDoubt * math.Abs(total)
}

// fitted is how many figures of the shape were fitted.
func (c *Curve) fitted() int {
	if c.Held {
		return shapes - 1
	}
	return shapes
}

// Forecast is when bars can be ready by their curve, as midnight UTC of the day; a time is zero when that lies beyond two years.
type Forecast struct {
	On      time.Time // the first day on which the days have passed and the bound of the loss is at or below the limit
	ByPoint time.Time // the same by the curve itself, without its doubt
}

const farthest = 730 // days that a forecast looks ahead

// ReadyOn foretells the day on which bars can be ready. It is a forecast: Ready asks for a weighing in the week before.
func (c *Curve) ReadyOn(rules Rules) Forecast {
	var f Forecast
	limit := rules.MaxLossPerWeekPercent.InexactFloat64()
	for n := rules.MinDays; n <= rules.MinDays+farthest; n++ {
		loss := Loss{}
		if limit > 0 {
			loss = c.LossPerWeek(float64(n))
		}
		on := date(c.CutOn).AddDate(0, 0, n)
		if f.ByPoint.IsZero() && loss.PerWeek <= limit {
			f.ByPoint = on
		}
		if loss.Upper <= limit {
			f.On = on
			return f
		}
	}
	return f
}
