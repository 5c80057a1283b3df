package made

import (
	"math/bits"

	"github.com/shopspring/decimal"
)

// fixed is a number of 1e-18: exact, a million times finer than the shares that are given out, and many times faster
// than decimals of any length. Families are worked out in it; decimals go in and come out.
type fixed int64

const (
	fixedPlaces       = 18
	unit        fixed = 1e18
	// dust is what rounding may leave of something that has reacted away: less than this per gram is not there.
	dust fixed = 100
)

// fix rounds a decimal from 0 to 9.
func fix(d decimal.Decimal) fixed { return fixed(d.Shift(fixedPlaces).Round(0).IntPart()) }

// times returns a × b / c, rounded, for numbers that are not negative and a result that fits; c is above zero.
func times(a, b, c fixed) fixed {
	hi, lo := bits.Mul64(uint64(a), uint64(b))
	lo, carry := bits.Add64(lo, uint64(c)/2, 0)
	quotient, _ := bits.Div64(hi+carry, lo, uint64(c))
	return fixed(quotient)
}

// share gives a number out.
func (f fixed) share() decimal.Decimal {
	const step = 1e6
	return decimal.New(int64(f+step/2)/step, -sharePlaces)
}
