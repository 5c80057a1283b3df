package cure

import (
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
)

// shape is what the bars of a batch have in common. Times tau are handled by their logarithm.
type shape struct {
	stays  float64 // m_inf/m_0
	logTau float64
	beta   float64
}

const shapes = 3 // how many figures a shape has

// Where a shape may lie. Beta runs from diffusion-like to beyond first order. No pot holds so much water that half of
// a bar could dry away. Common practice, no source.
const (
	leastStays, mostStays = 0.5, 1.0
	leastBeta, mostBeta   = 0.3, 1.2
)

// usualBeta stands in where weighings are too few to show it, give or take its doubt: 0.5 is diffusion-like, 1 is
// first order. Common practice, no source.
const usualBeta, betaDoubt = 0.75, 0.15

// at gives the share of its first mass that a bar has at t days, and how it changes with each figure of the shape.
func (s shape) at(t float64) (share float64, slope [shapes]float64) {
	if t <= 0 {
		return 1, slope
	}
	logs := math.Log(t) - s.logTau
	u := math.Exp(s.beta * logs)
	g := math.Exp(-u)
	if g == 0 { // u may be infinite
		return s.stays, [shapes]float64{1, 0, 0}
	}
	left := (1 - s.stays) * g * u
	return s.stays + (1-s.stays)*g, [shapes]float64{1 - g, left * s.beta, -left * logs}
}

// datum is one weighing, as figures: mass relative to the mean mass of its bar.
type datum struct {
	bar  int
	day  float64
	mass float64
	when time.Time
}

// unit is what the sum of squares is scaled by, so that the optimizer's thresholds fit: a tenth of a per cent.
const unit = 1e-3

// problem is the least-squares problem for the shape alone. A bar's first mass enters as a factor, so the best one for a
// given shape follows in closed form (variable projection); the optimizer sees three figures, or two with beta held.
type problem struct {
	data   []datum
	bars   int
	held   bool // beta is usualBeta
	last   []float64
	sum    float64
	grad   [shapes]float64
	normal [shapes][shapes]float64
}

// figures turns the optimizer's free variables into a shape, with the derivative of each figure by its variable.
func (p *problem) figures(x []float64) (shape, [shapes]float64) {
	stays, ds := between(x[0], leastStays, mostStays)
	if p.held {
		return shape{stays, x[1], usualBeta}, [shapes]float64{ds, 1, 0}
	}
	beta, db := between(x[2], leastBeta, mostBeta)
	return shape{stays, x[1], beta}, [shapes]float64{ds, 1, db}
}

func (p *problem) variables(s shape) []float64 {
	x := []float64{within(s.stays, leastStays, mostStays), s.logTau}
	if p.held {
		return x
	}
	return append(x, within(s.beta, leastBeta, mostBeta))
}

// between maps any number into a range; within is its inverse.
func between(x, low, high float64) (value, slope float64) {
	e := 1 / (1 + math.Exp(-x))
	return low + (high-low)*e, (high - low) * e * (1 - e)
}

func within(value, low, high float64) float64 { return math.Log((value - low) / (high - value)) }

// shares gives the share of its first mass at each weighing.
func (p *problem) shares(s shape) []float64 {
	m := make([]float64, len(p.data))
	for i, d := range p.data {
		m[i], _ = s.at(d.day)
	}
	return m
}

// least gives the best factor of each bar for given shares, and the sum of squares that is left.
func (p *problem) least(shares []float64) (firsts []float64, sum float64) {
	firsts = make([]float64, p.bars)
	norm := make([]float64, p.bars)
	for i, d := range p.data {
		firsts[d.bar], norm[d.bar] = firsts[d.bar]+shares[i]*d.mass, norm[d.bar]+shares[i]*shares[i]
	}
	for b := range firsts {
		firsts[b] /= norm[b]
	}
	for i, d := range p.data {
		sum += square(d.mass - firsts[d.bar]*shares[i])
	}
	return firsts, sum
}

// see works out the sum of squares at x with its gradient and Gauss and Newton's approximation of its curvature, from the
// Jacobian with the bars' factors projected out (Kaufman's form).
func (p *problem) see(x []float64) {
	if slices.Equal(x, p.last) {
		return
	}
	p.last = append(p.last[:0], x...)
	s, chain := p.figures(x)
	shares, slopes := make([]float64, len(p.data)), make([][shapes]float64, len(p.data))
	for i, d := range p.data {
		shares[i], slopes[i] = s.at(d.day)
	}
	first, _ := p.least(shares)
	along, norm := make([][shapes]float64, p.bars), make([]float64, p.bars)
	p.sum, p.grad, p.normal = 0, [shapes]float64{}, [shapes][shapes]float64{}
	for i, d := range p.data {
		m, slope := shares[i], slopes[i]
		miss := (first[d.bar]*m - d.mass) / unit
		p.sum += miss * miss
		norm[d.bar] += m * m
		for i := range slope {
			slope[i] *= first[d.bar] * chain[i] / unit
			p.grad[i] += 2 * miss * slope[i]
			along[d.bar][i] += slope[i] * m
			for j := range i + 1 {
				p.normal[i][j] += 2 * slope[i] * slope[j]
			}
		}
	}
	for b, a := range along {
		for i := range a {
			for j := range i + 1 {
				p.normal[i][j] -= 2 * a[i] * a[j] / norm[b]
			}
		}
	}
}

// solve finds the shape with the least sum of squares, from the best of a coarse grid. It tells whether it settled.
func (p *problem) solve() (shape, bool) {
	settings := &optimize.Settings{MajorIterations: 100, FuncEvaluations: 300, Converger: &optimize.FunctionConverge{Absolute: 1e-12, Relative: 1e-12, Iterations: 3}}
	result, _ := optimize.Minimize( // what it says of its end is not needed: settledAt looks at where it ended
		optimize.Problem{
			Func: func(x []float64) float64 { p.see(x); return p.sum },
			Grad: func(grad, x []float64) { p.see(x); copy(grad, p.grad[:len(x)]) },
			Hess: func(hess *mat.SymDense, x []float64) {
				p.see(x)
				for i := range x {
					for j := range i + 1 {
						hess.SetSym(i, j, p.normal[i][j])
					}
				}
			},
		}, p.variables(p.start()), settings, &optimize.Newton{})
	if result == nil {
		return shape{}, false
	}
	s, _ := p.figures(result.X)
	return s, p.settledAt(result.X)
}

// settledAt tells whether the sum is as low at x as it gets: its gradient, in the measure of its curvature, is next to nothing.
func (p *problem) settledAt(x []float64) bool {
	p.see(x)
	for i := range x {
		if math.Abs(p.grad[i]) > 1e-5*math.Sqrt(p.normal[i][i]*(p.sum+1)) {
			return false
		}
	}
	return true
}

// start is the best shape of a coarse grid.
func (p *problem) start() shape {
	best, least := shape{}, math.Inf(1)
	betas := []float64{0.6, 0.9}
	if p.held {
		betas = []float64{usualBeta}
	}
	shares := make([]float64, len(p.data))
	for _, beta := range betas {
		for _, tau := range []float64{2, 5, 12, 25, 60} {
			s := shape{0, math.Log(tau), beta}
			going := p.shares(s)
			for _, s.stays = range []float64{0.98, 0.93, 0.86, 0.75} {
				for i, g := range going {
					shares[i] = s.stays + (1-s.stays)*g
				}
				if _, sum := p.least(shares); sum < least {
					best, least = s, sum
				}
			}
		}
	}
	return best
}
