package lye

import (
	"ashbook/ledger/measure"

	"github.com/shopspring/decimal"
)

// Scale is what a density reading was taken on. The figures of two scales look alike, 1.33 may be either of the first two and 38
// either of the last two, so a reading always comes with its scale.
type Scale string

// The scales.
const (
	GramsPerML Scale = "g/mL"     // density itself, g/cm³, as a pycnometer or a density meter gives it
	Gravity60F Scale = "SG 60/60" // specific gravity, against water, both at 60 °F
	Twaddell   Scale = "Tw"       // degrees Twaddell: SG = 1 + Tw/200
	Baume145   Scale = "Be 145"   // degrees Baumé of modulus 145, SG = 145/(145 - Be): United States (from memory, high confidence)
	Baume144   Scale = "Be 144.3" // degrees Baumé of modulus 144.3: fits the British table of 1908 (Simmons & Appleton)
)

// Scales lists every scale.
func Scales() []Scale { return []Scale{GramsPerML, Gravity60F, Twaddell, Baume145, Baume144} }

// Water at 60 °F, 15.56 °C, in g/cm³ (from memory, high confidence).
var water60F = decimal.RequireFromString("0.99904")

var modulus = map[Scale]decimal.Decimal{Baume145: decimal.NewFromInt(145), Baume144: decimal.RequireFromString("144.3")}

var twaddellDegrees = decimal.NewFromInt(200)

// heaviest bounds what is taken for a density in g/cm³: no lye comes near it. A reading beyond it was given on the wrong scale.
var heaviest = decimal.NewFromInt(2)

// Density returns g/cm³ for a reading on the scale. It fails for an unknown scale and for readings that come to
// 0 or less or to more than 2 g/cm³.
//
// The glass of a hydrometer grows with heat. That is not corrected, since not every reading is taken with glass, but it is in the
// uncertainty of Measured: let the lye cool.
func (s Scale) Density(reading decimal.Decimal) (decimal.Decimal, error) {
	gravity := reading
	switch s {
	case GramsPerML, Gravity60F:
	case Twaddell:
		gravity = one.Add(divide(reading, twaddellDegrees))
	case Baume145, Baume144:
		rest := modulus[s].Sub(reading)
		if !rest.IsPositive() {
			return decimal.Zero, wrong("a reading of %s is beyond the end of the scale %s; check the scale", reading, s)
		}
		gravity = divide(modulus[s], rest)
	default:
		return decimal.Zero, wrong("the scale %q is not known; use one of %v", string(s), Scales())
	}
	density := gravity
	if s != GramsPerML {
		density = gravity.Mul(water60F)
	}
	if !density.IsPositive() || density.GreaterThan(heaviest) {
		return decimal.Zero, wrong("a reading of %s on the scale %s is a density of %s g/cm³, which no lye has; check the reading and its scale", reading, s, density.Round(4))
	}
	return density, nil
}

// glass is by what share a hydrometer shows wrongly for each °C away from the temperature that it was made for: 0.1 % at 40 °C, which is
// 0.0013 g/cm³ or 0.12 % NaOH (from memory, medium confidence).
var glass = decimal.New(25, -6)

// madeFor is the temperature in °C for which instruments of the scale are made: 20 °C for density itself, 60 °F for the others
// (from memory, medium confidence).
func (s Scale) madeFor() decimal.Decimal {
	if s == GramsPerML {
		return decimal.NewFromInt(20)
	}
	return decimal.New(1556, -2)
}

// Measured is Density for a reading with its standard uncertainty, both on the scale, in lye of the given °C: the uncertainty is carried over
// by the slope of the scale at the reading, and what the glass may show wrongly at that temperature is added as a rectangular limit. A
// hydrometer divided in whole degrees is good to about one of them, measure.Rectangular(1): it is read to half a division, and its scale may
// itself be off by as much or more (common practice, no source).
func (s Scale) Measured(reading measure.Measured, celsius decimal.Decimal) (measure.Measured, error) {
	if err := checkSpread("hydrometer reading", reading); err != nil {
		return measure.Measured{}, err
	}
	density, err := s.Density(reading.Value)
	if err != nil {
		return measure.Measured{}, err
	}
	slope := one
	switch s {
	case Gravity60F:
		slope = water60F
	case Twaddell:
		slope = divide(water60F, twaddellDegrees)
	case Baume145, Baume144:
		slope = divide(density, modulus[s].Sub(reading.Value))
	}
	grown := measure.Rectangular(density.Mul(glass).Mul(celsius.Sub(s.madeFor()).Abs()))
	u := norm(reading.U.Mul(slope).InexactFloat64(), grown.InexactFloat64())
	return measure.Measured{Value: density, U: decimal.NewFromFloat(u).Round(15)}, nil
}

// Reading returns what the scale shows at a density in g/cm³, above zero.
func (s Scale) Reading(density decimal.Decimal) (decimal.Decimal, error) {
	if !density.IsPositive() {
		return decimal.Zero, wrong("a density of %s g/cm³ is not above zero; check it", density)
	}
	gravity := divide(density, water60F)
	switch s {
	case GramsPerML:
		return density, nil
	case Gravity60F:
		return gravity, nil
	case Twaddell:
		return gravity.Sub(one).Mul(twaddellDegrees), nil
	case Baume145, Baume144:
		return modulus[s].Mul(one.Sub(divide(one, gravity))), nil
	}
	return decimal.Zero, wrong("the scale %q is not known; use one of %v", string(s), Scales())
}
