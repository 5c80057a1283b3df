// Package soap holds the arithmetic of saponification: how much alkali oils take, what superfat given
// amounts leave and how well that is known, and how a maker's choices become amounts to weigh.
//
// All masses are grams, all shares are fractions (5 % is 0.05), all values exact decimals; divisions
// are rounded at the 24th decimal place. Saponification values (SAP) are mg of potassium hydroxide
// per gram of fat. They come as ranges, because an oil of nature has no single value; the point
// value is the middle of the range. SAP covers free fatty acids too, so an acid value is not added.
//
// Purity of an alkali is its mass fraction of hydroxide, as in package lye.
//
// Superfat counts equivalents: the share of the oils' saponifiable equivalents for which there is no
// alkali. It does not say which oil stays free.
package soap

import (
	"fmt"
	"slices"

	"ashbook/ledger/lye"

	"github.com/shopspring/decimal"
)

// The alkalis.
const (
	NaOH = lye.NaOH // for bars
	KOH  = lye.KOH  // for soft and liquid soap
)

// MolarGlycerol is the molar mass of glycerol, g/mol, from memory, high confidence; the CIAAW weights give the same.
var MolarGlycerol = decimal.RequireFromString("92.094")

// Molar masses, g/mol.
var (
	molarNaOH  = lye.MolarNaOH
	molarKOH   = lye.MolarKOH
	molarWater = lye.MolarWater
)

var (
	one      = decimal.NewFromInt(1)
	half     = decimal.New(5, -1)
	three    = decimal.NewFromInt(3)
	thousand = decimal.NewFromInt(1000)
)

// places is where divisions are rounded.
const places = 24

func divide(a, b decimal.Decimal) decimal.Decimal { return a.DivRound(b, places) }

// ErrInput is wrapped by every error about values that cannot be computed with.
var ErrInput = lye.ErrInput

func wrong(format string, args ...any) error {
	return fmt.Errorf("%w: "+format, append([]any{ErrInput}, args...)...)
}

// Oil is an amount of one fat, oil, wax or fatty acid with the range of its SAP, which is always
// rectangular. If a lot has a certificate, SAPMin and SAPMax are its value less and plus its half-width.
type Oil struct {
	Name           string
	Grams          decimal.Decimal // zero or more
	GramsU         decimal.Decimal // standard uncertainty of the mass; zero: taken as exact
	SAPMin, SAPMax decimal.Decimal // mg KOH per g; 0 < SAPMin <= SAPMax
	NoGlycerol     bool            // waxes, wool fat and free fatty acids set no glycerol free
}

// SAP returns the point value, the middle of the range, in mg KOH per g.
func (o Oil) SAP() decimal.Decimal { return o.SAPMin.Add(o.SAPMax).Mul(half) }

// check returns an error naming the oil if a value is out of its range.
func (o Oil) check() error {
	if o.Grams.IsNegative() {
		return wrong("%s has a negative mass of %s g; weigh it again", o.Name, o.Grams)
	}
	if !o.SAPMin.IsPositive() || o.SAPMax.LessThan(o.SAPMin) {
		return wrong("%s has a saponification value from %s to %s mg KOH/g; give a range above zero, the lower end first", o.Name, o.SAPMin, o.SAPMax)
	}
	return nil
}

// KOHNeeded returns the grams of pure potassium hydroxide that saponify the oils completely, at
// their point values.
func KOHNeeded(oils []Oil) decimal.Decimal {
	low, high := kohRange(oils)
	return low.Add(high).Mul(half)
}

// NaOHNeeded returns the grams of pure sodium hydroxide that saponify the oils completely, at their
// point values.
func NaOHNeeded(oils []Oil) decimal.Decimal {
	return divide(KOHNeeded(oils).Mul(molarNaOH), molarKOH)
}

// kohRange sums mass times SAP, in g KOH, with every SAP at the lower and at the upper end of its range.
func kohRange(oils []Oil) (low, high decimal.Decimal) {
	for _, o := range oils {
		low = low.Add(o.Grams.Mul(o.SAPMin))
		high = high.Add(o.Grams.Mul(o.SAPMax))
	}
	return low.Shift(-3), high.Shift(-3) // mg to g
}

// checkOils also refuses a list that takes no alkali at all.
func checkOils(oils []Oil) error {
	for _, o := range oils {
		if err := o.check(); err != nil {
			return err
		}
	}
	if !slices.ContainsFunc(oils, func(o Oil) bool { return o.Grams.IsPositive() }) {
		return wrong("there are no oils with a mass; weigh at least one")
	}
	return nil
}
