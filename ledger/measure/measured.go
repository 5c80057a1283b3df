package measure

import (
	"math"

	"github.com/shopspring/decimal"
)

// Measured is a value with its standard uncertainty, both in the same unit.
type Measured struct {
	Value decimal.Decimal
	U     decimal.Decimal // standard uncertainty, zero or more, zero where none is stated; see Rectangular for a limit such as ±0.5 °C
}

// Rectangular returns the standard uncertainty of a value that is known to lie within ± halfWidth, anywhere with equal
// right: halfWidth/√3 (JCGM 100:2008, 4.3.7).
func Rectangular(halfWidth decimal.Decimal) decimal.Decimal {
	return halfWidth.DivRound(decimal.NewFromFloat(math.Sqrt(3)), 24)
}

// Floats returns value and uncertainty for statistics.
func (m Measured) Floats() (value, u float64) { return m.Value.InexactFloat64(), m.U.InexactFloat64() }
