package netcontents

import "github.com/shopspring/decimal"

// step is one row of a table of heights: up to and including a bound, the height in millimetres. The last row of a
// table has no bound.
type step struct {
	upTo, mm string
}

// typeHeights is the least height of the net contents letters by area of the principal display panel in square inches:
// 21 CFR 701.13(i), 16 CFR 500.21(b) [first bound retrieved in part; the rest from memory]. 1/16, 1/8, 3/16,
// 1/4 and 1/2 inch at 25.4 mm exactly.
var typeHeights = []step{{"5", "1.5875"}, {"25", "3.175"}, {"100", "4.7625"}, {"400", "6.35"}, {"", "12.7"}}

// digitHeights is the least height of the figures by nominal quantity in grams: Directive 76/211/EEC, Annex I 3.1
// [from memory; the steps retrieved in a secondary text].
var digitHeights = []step{{"50", "2"}, {"200", "3"}, {"1000", "4"}, {"", "6"}}

// TypeHeight is the least height in millimetres of the net contents letters on a United States label, by the area of
// the principal display panel in square inches: the whole side of the package, not only the printed part
// (16 CFR 500.21(a) [retrieved]). It is the height of capitals where all are capitals, and otherwise of the
// lower-case o (21 CFR 701.13(h)(2) [from memory]). An area that is not above zero is unknown and gets the largest
// height, which is never too small.
func TypeHeight(panelAreaSqIn decimal.Decimal) decimal.Decimal {
	if !panelAreaSqIn.IsPositive() {
		return decimal.RequireFromString(typeHeights[len(typeHeights)-1].mm)
	}
	return lookUp(typeHeights, panelAreaSqIn)
}

// DigitHeight is the least height in millimetres of the figures of the nominal quantity on a European label, by that
// quantity in grams.
func DigitHeight(grams decimal.Decimal) decimal.Decimal {
	return lookUp(digitHeights, grams)
}

// lookUp finds the first row whose bound is not exceeded.
func lookUp(table []step, v decimal.Decimal) decimal.Decimal {
	for _, s := range table {
		if s.upTo == "" || v.LessThanOrEqual(decimal.RequireFromString(s.upTo)) {
			return decimal.RequireFromString(s.mm)
		}
	}
	panic("netcontents: a table of heights has no last row")
}
