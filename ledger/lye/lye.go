// Package lye holds what can be said about a solution of sodium or potassium hydroxide in water: its
// strength from masses and from density, the two compared, and how hot it may get while it is made.
//
// All masses are grams, densities g/cm³, temperatures °C, shares fractions (33 % is 0.33). Values are exact
// decimals; divisions are rounded at the 24th decimal place. Statistics are floating point.
//
// Purity of an alkali is its mass fraction of hydroxide, not of total alkali: the carbonate that
// assays of total alkali include does not saponify fat (Simmons & Appleton, The Handbook of Soap
// Manufacture, 1908).
//
// Lye burns. What this package says informs; the supplier's safety data sheet goes before it.
package lye

import (
	"errors"
	"fmt"

	"github.com/shopspring/decimal"
)

// The alkalis.
const (
	NaOH = "NaOH" // sodium hydroxide
	KOH  = "KOH"  // potassium hydroxide
)

// Molar masses, g/mol, from the standard atomic weights (from memory, high confidence; the CIAAW
// weights give 39.9968 and 56.1053, within 7 parts per million).
var (
	MolarNaOH  = decimal.RequireFromString("39.997")
	MolarKOH   = decimal.RequireFromString("56.1056")
	MolarWater = decimal.RequireFromString("18.015")
)

var one = decimal.NewFromInt(1)

// places is where divisions are rounded.
const places = 24

func divide(a, b decimal.Decimal) decimal.Decimal { return a.DivRound(b, places) }

// ErrInput is wrapped by every error about values that cannot be computed with.
var ErrInput = errors.New("cannot compute")

func wrong(format string, args ...any) error {
	return fmt.Errorf("%w: "+format, append([]any{ErrInput}, args...)...)
}

// MolarMass returns g/mol of an alkali, and fails for a kind that is neither NaOH nor KOH.
func MolarMass(kind string) (decimal.Decimal, error) {
	switch kind {
	case NaOH:
		return MolarNaOH, nil
	case KOH:
		return MolarKOH, nil
	}
	return decimal.Zero, wrong("the alkali %q is not known; use NaOH or KOH", kind)
}

// CheckPurity fails for a purity that is not above 0 and at most 1; kind names the alkali in the error.
func CheckPurity(kind string, purity decimal.Decimal) error {
	if !purity.IsPositive() || purity.GreaterThan(one) {
		return wrong("a purity of %s for %s is not above 0 and at most 1; 98 %% is 0.98", purity, kind)
	}
	return nil
}
