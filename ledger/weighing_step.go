package ledger

import (
	"context"
	"strings"

	"github.com/shopspring/decimal"

	"ashbook/ledger/measure"
	"ashbook/ledger/soap"
)

// ladled is one weighing into the pot.
type ladled struct {
	Lot    int64
	Grams  decimal.Decimal // as poured
	Typed  string
	Unit   measure.Unit
	Weight decimal.Decimal // as weighed
	Scale  string          // its name; often empty
}

// uncertainty is the standard uncertainty of a weighing in grams, by the step of its scale. A spoon or cup, which has none, is good to
// a tenth: common practice, no source.
func (l ladled) uncertainty(step decimal.Decimal) float64 {
	if !step.IsPositive() {
		return l.Weight.InexactFloat64() / 10
	}
	return soap.Scale{Step: step}.U().InexactFloat64()
}

// ownStep is the step that the figure itself shows, in grams. Ounces are believed as typed: a scale that shows tenths makes people type
// them, and whole ounces from an old kitchen scale are good to no better. No scale for soap shows less than an ounce, so whole pounds and
// fractions of them are taken as pounds and ounces.
//
// In grams and kilograms people leave out zeros at the end, so a whole figure, or one with fewer decimals than the shop's scale shows, is
// taken as read from that scale, and a finer one shows a finer scale. Decimals of a kilogram are believed, however: 1.25 kg is good to
// 10 g. That errs towards doubt; type 1250 g, or 1.250 kg, where the scale shows it. Common practice, no source.
func (l ladled) ownStep(limits BenchLimits) decimal.Decimal {
	typed, shop := measure.Step(l.Typed, l.Unit), limits.step(l.Weight)
	decimals := strings.ContainsAny(l.Typed, ".,") && !strings.ContainsAny(l.Typed, "/⁄")
	switch {
	case l.Unit == measure.Kilogram && decimals && typed.LessThan(gramsPerKilogram):
		return typed
	case l.Unit == measure.Pound:
		return decimal.Min(typed, ounceStep)
	case inOunces(l.Unit):
		return typed
	}
	if typed.IsPositive() {
		shop = decimal.Min(shop, typed)
	}
	return shop
}

var (
	gramsPerKilogram = decimal.NewFromInt(1000)
	ounceStep        = measure.Step("1", measure.Ounce)
)

func inOunces(unit measure.Unit) bool {
	return unit == measure.Ounce || unit == measure.Pound || unit == measure.PoundOunce
}

// onScale is a named scale in grams or in ounces. Which of the two counts: many scales show finer steps in one than in the other.
type onScale struct {
	name   string
	ounces bool
}

// scales is what is known of the scales of the shop.
type scales struct {
	limits BenchLimits
	finest map[onScale]decimal.Decimal // the step of the finest figure that was typed
}

// shownOn are the figures of the last 200 weighings on each named scale that a batch was weighed on: enough to meet some that do not end
// in zero.
const shownOn = `select s.scale, w.typed, w.unit from (select distinct scale from weighing where batch_id = $1 and scale <> '') s
	cross join lateral (select typed, unit from weighing where scale = s.scale and struck_by is null order by entry_id desc limit 200) w`

// readScales reads what is known of the scales on which a batch was weighed.
func readScales(ctx context.Context, q querier, batch int64) (*scales, error) {
	limits, err := benchLimits(ctx, q)
	if err != nil {
		return nil, err
	}
	shown, err := all[struct {
		Scale string
		Typed string
		Unit  measure.Unit
	}](ctx, q, shownOn, batch)
	if err != nil {
		return nil, err
	}
	s := &scales{limits, map[onScale]decimal.Decimal{}}
	for _, w := range shown {
		on, step := onScale{w.Scale, inOunces(w.Unit)}, measure.Step(w.Typed, w.Unit)
		if finest, seen := s.finest[on]; step.IsPositive() && (!seen || step.LessThan(finest)) {
			s.finest[on] = step
		}
	}
	return s, nil
}

// step is that of the scale of a weighing, in grams: the one its figure shows, or the finer one that the scale showed at other weighings.
// Zero for a spoon or cup.
func (s *scales) step(l ladled) decimal.Decimal {
	if l.Unit.IsVolume() {
		return decimal.Zero
	}
	own := l.ownStep(s.limits)
	if finest, seen := s.finest[onScale{l.Scale, inOunces(l.Unit)}]; seen {
		return decimal.Min(own, finest)
	}
	return own
}
