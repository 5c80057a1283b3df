// Package assay turns the readings of a titration or of a drying oven into a result with its standard uncertainty, and sets
// the result against a limit.
//
// Masses are grams, volumes millilitres, concentrations mol/L, results per cent by mass unless stated otherwise. Values are exact
// decimals, divisions rounded at the 24th decimal place; uncertainties are floating point, propagated by JCGM 100:2008,
// equation 10, with inputs taken as independent. What a method itself leaves out (a hasty end point, a sample
// of the dry outside of a bar) is in no uncertainty here.
//
// Methods lists each method with its standard, its formula and how well it is known. A result informs; it does not certify.
package assay

import (
	"errors"
	"fmt"
	"math"

	"ashbook/ledger/measure"

	"github.com/shopspring/decimal"
)

// Titrant returns the concentration of a solution in mol/L from its nominal normality and the factor that its standardisation
// gave: 0.1 N with a factor of 1.0032 is 0.10032 mol/L. A normality counts what neutralises: 1 N sulphuric acid is
// 0.5 mol/L of the acid and counts as 1 mol/L everywhere in this package.
func Titrant(normality decimal.Decimal, factor measure.Measured) measure.Measured {
	return measure.Measured{Value: normality.Mul(factor.Value), U: normality.Mul(factor.U)}
}

// Test is what is determined.
type Test string

// The tests.
const (
	FreeCaustic     Test = "free caustic alkali"
	TotalFreeAlkali Test = "total free alkali" // caustic and carbonate
	TotalAlkali     Test = "total alkali"      // that of the soap itself besides
	FattyMatter     Test = "total fatty matter"
	Chloride        Test = "chloride"
	Moisture        Test = "moisture"
	Saponification  Test = "saponification value"
	LyeTotalAlkali  Test = "total alkali of lye" // hydroxide and carbonate
	LyeHydroxide    Test = "hydroxide of lye"
	LyeCarbonate    Test = "carbonate of lye"
)

// The units of results.
const (
	Percent   = "%"
	MgKOHPerG = "mg KOH/g"
	MmolPerG  = "mmol/g"
)

// Result is what a test found.
type Result struct {
	Test   Test
	Method Method
	Value  decimal.Decimal
	U      float64 // standard uncertainty of Value; 0 when no reading stated one
	Unit   string  // Percent, or MgKOHPerG or MmolPerG
	As     string  // the substance that Value is stated as: NaOH, KOH, Na2O, K2O, NaCl, Na2CO3, K2CO3; empty for the others
}

// coverage is how many standard uncertainties lie to each side of a value in a 95 % interval.
const coverage = 2.0

// Interval returns the ends of the 95 % interval, two standard uncertainties to each side.
func (r Result) Interval() (low, high decimal.Decimal) {
	half := decimal.NewFromFloat(coverage * r.U)
	return r.Value.Sub(half), r.Value.Add(half)
}

// equivalents are g/mol of what neutralises one mol of acid, from the standard atomic weights (from memory, high confidence).
var equivalents = map[string]decimal.Decimal{
	NaOH: decimal.RequireFromString("40.00"), KOH: decimal.RequireFromString("56.11"),
	"Na2O": decimal.RequireFromString("30.99"), "K2O": decimal.RequireFromString("47.10"),
}

// The alkalis that results are stated as.
const (
	NaOH = "NaOH"
	KOH  = "KOH"
)

// ExpressedAs restates a result for alkali in per cent of another one: NaOH, KOH, and Na2O and K2O, which old books use. 0.200 % NaOH is
// 0.155 % Na2O. It fails for results that are not alkali in per cent.
func (r Result) ExpressedAs(substance string) (Result, error) {
	from, known := equivalents[r.As]
	to, wanted := equivalents[substance]
	if !known || !wanted || r.Unit != Percent {
		return Result{}, wrong("%s in %s as %q cannot be stated as %q; use NaOH, KOH, Na2O or K2O for alkali in per cent", r.Test, r.Unit, r.As, substance)
	}
	r.Value = divide(r.Value.Mul(to), from)
	r.U *= to.InexactFloat64() / from.InexactFloat64()
	r.As = substance
	return r, nil
}

// MillimolesPerGram restates a result for alkali in mmol per gram of sample (milliequivalents per gram in older texts). It fails as
// ExpressedAs does.
func (r Result) MillimolesPerGram() (Result, error) {
	equivalent, known := equivalents[r.As]
	if !known || r.Unit != Percent {
		return Result{}, wrong("%s in %s as %q has no millimoles per gram; it is not alkali in per cent", r.Test, r.Unit, r.As)
	}
	r.Value = divide(r.Value.Mul(decimal.NewFromInt(10)), equivalent)
	r.U *= 10 / equivalent.InexactFloat64()
	r.Unit, r.As = MmolPerG, ""
	return r, nil
}

// ErrInput is wrapped by every error about values that cannot be computed with.
var ErrInput = errors.New("cannot compute")

func wrong(format string, args ...any) error {
	return fmt.Errorf("%w: "+format, append([]any{ErrInput}, args...)...)
}

func divide(a, b decimal.Decimal) decimal.Decimal { return a.DivRound(b, 24) }

// first returns the first error there is.
func first(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// term is one reading and by how much the result moves with it.
type term struct {
	reading measure.Measured
	slope   float64
}

// spread is the standard uncertainty of a result of independent readings.
func spread(terms ...term) float64 {
	sum := 0.0
	for _, t := range terms {
		part := t.slope * t.reading.U.InexactFloat64()
		sum += part * part
	}
	return math.Sqrt(sum)
}

// mostPercent is what no result can pass; alkali with some of its water gone may come to a little over 100 %.
var mostPercent = decimal.NewFromInt(110)

// finish refuses a result that is more than the sample.
func finish(r Result) (Result, error) {
	if r.Value.GreaterThan(mostPercent) {
		return Result{}, wrong("%s comes to %s %% of the sample, more than there is; check mass, volume and concentration", r.Test, r.Value.Round(1))
	}
	return r, nil
}

var (
	mostMillilitres = decimal.NewFromInt(1000)
	mostMolar       = decimal.NewFromInt(20)
)

func checkVolume(what string, m measure.Measured) error {
	if m.Value.IsNegative() || m.Value.GreaterThan(mostMillilitres) || m.U.IsNegative() {
		return wrong("the volume %s is %s ± %s mL; give it from 0 to 1000 mL, with an uncertainty of zero or more", what, m.Value, m.U)
	}
	return nil
}

func checkConcentration(what string, m measure.Measured) error {
	if !m.Value.IsPositive() || m.Value.GreaterThan(mostMolar) || m.U.IsNegative() {
		return wrong("the concentration %s is %s ± %s mol/L; give it above 0 and up to 20 mol/L, with an uncertainty of zero or more", what, m.Value, m.U)
	}
	return nil
}

func checkMass(what string, m measure.Measured) error {
	if !m.Value.IsPositive() || m.U.IsNegative() {
		return wrong("the mass %s is %s ± %s g; give it above zero, with an uncertainty of zero or more", what, m.Value, m.U)
	}
	return nil
}
