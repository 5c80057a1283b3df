package soap

import (
	"math"

	"github.com/shopspring/decimal"
)

// Scale is what is known of a scale, in grams.
type Scale struct {
	Step  decimal.Decimal // the step it shows
	Limit decimal.Decimal // how far off it may be by linearity or calibration; zero: one step
}

// U returns the standard uncertainty of one net weighing in grams: two readings, of the empty and the
// full vessel, each within half a step, and the limit once, all rectangular (JCGM 100:2008, 4.3.7; clause from
// memory). A scale of 0.1 g gives 0.0707 g. That the limit is common to all weighings on one scale is not
// counted; it hardly matters for a superfat, which is a ratio of masses.
func (s Scale) U() decimal.Decimal {
	step, limit := toFloat(s.Step), toFloat(s.Limit)
	if limit == 0 {
		limit = step
	}
	return decimal.NewFromFloat(math.Sqrt(step*step/6 + limit*limit/3)).Round(12)
}

// ToStep rounds grams to what a scale of the given step can show, a half away from zero. Without a
// step above zero the grams stay as they are.
func ToStep(grams, step decimal.Decimal) decimal.Decimal {
	if !step.IsPositive() {
		return grams
	}
	return grams.DivRound(step, 0).Mul(step)
}
