package soap

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/shopspring/decimal"
)

// Budget is how well the superfat of weighed amounts is known, and why. All spreads are of the superfat as a fraction.
type Budget struct {
	Superfat decimal.Decimal // every input at its point value, as in Result
	// U is the standard uncertainty of the superfat by the law of propagation (JCGM 100:2008, equation 10).
	U         float64
	Low, High float64 // the superfat lies between with a chance of 95 %, and below and above with 2.5 % each
	LyeHeavy  float64 // chance, 0 to 1, that the superfat is below zero: free lye
	Inputs    []Input // what makes the spread, the largest first; what is exact is left out
}

// Input is the part of one quantity in the spread.
type Input struct {
	Name     string  // of the oil or alkali
	Quantity string  // SAPValue, Purity or Mass
	U        float64 // its sensitivity times its standard uncertainty, without sign
	Share    float64 // of the variance, 0 to 1
}

// The quantities of an Input.
const (
	SAPValue = "saponification value"
	Purity   = "purity"
	Mass     = "mass"
)

var narrows = map[string]string{
	SAPValue: "a certificate for the oil's lot",
	Purity:   "an assay of the alkali",
	Mass:     "a finer scale",
}

// Words says in one sentence which input counts most and what would narrow it.
func (b Budget) Words() string {
	if len(b.Inputs) == 0 {
		return "Every input is taken as exact, so the superfat has no spread."
	}
	most := b.Inputs[0]
	return fmt.Sprintf("The %s of %s counts most: it makes %.0f %% of the superfat's variance; %s would narrow it.", most.Quantity, most.Name, 100*most.Share, narrows[most.Quantity])
}

// Uncertainty returns how well the superfat of the amounts is known. Saponification values are rectangular over their
// ranges, purities rectangular within their half-width, masses normal with their standard uncertainty; acids are
// exact.
//
// All inputs are taken as independent: every oil and every alkali in the lists is a lot of its own. Two weighings of ONE
// lot share one saponification value or purity, so the caller adds their masses up first; listed apart they
// would seem to even each other out, and the spread would come out too small.
//
// The chance of free lye and the interval come from the law of the sum itself, not from a normal law: within 0.0001 of
// the chance. The product of two deviations, of mass and value of the same oil, is left out: with masses known to
// only 1 % that moves the ends of the interval by 2 % of U and the chance by 0.001, and by the square of that less
// with better scales.
func Uncertainty(oils []Oil, alkalis []Alkali, acids ...Acid) (Budget, error) {
	result, err := Superfat(oils, alkalis, acids...)
	if err != nil {
		return Budget{}, err
	}
	if err := checkSpreads(oils, alkalis); err != nil {
		return Budget{}, err
	}
	b := Budget{Superfat: result.Superfat}
	law := b.gather(oils, alkalis)
	b.LyeHeavy, _ = law.below(0)
	b.Low = law.quantile(0.025, -1.9*b.U)
	b.High = law.quantile(0.975, 1.9*b.U)
	return b, nil
}

func checkSpreads(oils []Oil, alkalis []Alkali) error {
	for _, o := range oils {
		if o.GramsU.IsNegative() {
			return wrong("%s has an uncertainty of mass of %s g; it must not be negative", o.Name, o.GramsU)
		}
	}
	for _, a := range alkalis {
		if a.GramsU.IsNegative() {
			return wrong("%s has an uncertainty of mass of %s g; it must not be negative", a.Kind, a.GramsU)
		}
		if a.PurityHalf.IsNegative() || a.PurityHalf.GreaterThanOrEqual(a.Purity) {
			return wrong("%s has a purity of %s with a half-width of %s; the half-width must be at least 0 and below the purity", a.Kind, a.Purity, a.PurityHalf)
		}
	}
	return nil
}

// gather fills in the inputs and the standard uncertainty and returns the law of the superfat.
func (b *Budget) gather(oils []Oil, alkalis []Alkali) spread {
	law := spread{superfat: toFloat(b.Superfat), oils: make([]float64, len(oils)), alkalis: make([]float64, len(alkalis))}
	b.Inputs = make([]Input, 0, 2*(len(oils)+len(alkalis)))
	taken := toFloat(KOHNeeded(oils))  // g KOH, by the oils at their point values
	used := math.Abs(1 - law.superfat) // a relative change of what the oils take acts on the superfat by this factor
	for i, o := range oils {
		low, high := toFloat(o.SAPMin), toFloat(o.SAPMax)
		width := toFloat(o.Grams) * (high - low) / 2000 / taken
		mass := toFloat(o.GramsU) * (high + low) / 2000 / taken
		law.oils[i] = width
		law.oilMass += mass * mass
		b.add(o.Name, SAPValue, used*width/math.Sqrt(3))
		b.add(o.Name, Mass, used*mass)
	}
	for i, a := range alkalis {
		perGram := 1 / taken
		if a.Kind == NaOH {
			perGram /= naohPerKOH
		}
		width := toFloat(a.Grams) * toFloat(a.PurityHalf) * perGram
		mass := toFloat(a.GramsU) * toFloat(a.Purity) * perGram
		law.alkalis[i] = width
		law.alkaliMass += mass * mass
		b.add(a.Kind, Purity, width/math.Sqrt(3))
		b.add(a.Kind, Mass, mass)
	}
	b.share()
	return law
}

// naohPerKOH is the grams of sodium hydroxide with as much hydroxide as one gram of potassium hydroxide.
var naohPerKOH = toFloat(divide(molarNaOH, molarKOH))

// add counts an input unless it is exact.
func (b *Budget) add(name, quantity string, u float64) {
	if u > 0 {
		b.Inputs = append(b.Inputs, Input{Name: name, Quantity: quantity, U: u})
	}
}

// share works out the standard uncertainty, each input's share of the variance, and their order.
func (b *Budget) share() {
	variance := 0.0
	for _, in := range b.Inputs {
		variance += in.U * in.U
	}
	for i, in := range b.Inputs {
		b.Inputs[i].Share = in.U * in.U / variance
	}
	slices.SortStableFunc(b.Inputs, func(x, y Input) int { return cmp.Compare(y.U, x.U) })
	b.U = math.Sqrt(variance)
}

// powers are those of ten that a float64 holds exactly.
var powers = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// toFloat is the nearest float64. For a figure as people write it one division gives that, and takes a
// tenth of the time of the general way.
func toFloat(d decimal.Decimal) float64 {
	if e := -int(d.Exponent()); e >= 0 && e < len(powers) && d.NumDigits() <= 15 {
		return float64(d.CoefficientInt64()) / powers[e]
	}
	return d.InexactFloat64()
}
