package measure

import (
	"fmt"

	"github.com/shopspring/decimal"
)

// slipTolerance is how near, as a share, an entry must lie to what a slip would give. Amounts are
// usually weighed to 2 % of the plan, and ounces and troy ounces are 9.7 % apart, so 3 % takes in
// the first and keeps the second apart. Common practice, no source.
var slipTolerance = decimal.RequireFromString("0.03")

// Slip says in words which slip of the hand an entry looks like, as the end of a sentence that
// begins with the entry, for example "as if ounces had been typed as grams". planned and actual are
// grams, unit is the unit in which the actual was typed. It returns "" and false if the entry fits
// the plan or fits no known slip. It is a hint for a question to the person, never a correction.
func Slip(planned, actual decimal.Decimal, unit Unit) (string, bool) {
	if !planned.IsPositive() || !actual.IsPositive() || near(actual, planned) {
		return "", false
	}
	for _, find := range []func(planned, actual decimal.Decimal, unit Unit) string{wrongUnit, pointForOunces, wrongPoint, convertedTwice} {
		if words := find(planned, actual, unit); words != "" {
			return words, true
		}
	}
	return "", false
}

// near reports whether a lies within slipTolerance of b.
func near(a, b decimal.Decimal) bool {
	return a.Sub(b).Abs().LessThanOrEqual(b.Mul(slipTolerance))
}

// meant is a unit that a scale or a spoon may have shown instead of the unit of the field.
type meant struct {
	name   string
	unit   Unit // "" for troy ounces, which cannot be typed
	factor decimal.Decimal
}

var (
	masses = []meant{
		{"grams", Gram, massFactors[Gram]}, {"kilograms", Kilogram, massFactors[Kilogram]},
		{"ounces", Ounce, gramsPerOunce}, {"troy ounces", "", gramsPerTroyOunce}, {"pounds", Pound, gramsPerPound},
	}
	volumes = []meant{
		{"millilitres", Millilitre, volumeFactors[Millilitre]}, {"litres", Litre, volumeFactors[Litre]},
		{"teaspoons", Teaspoon, volumeFactors[Teaspoon]}, {"tablespoons", Tablespoon, volumeFactors[Tablespoon]},
		{"fluid ounces", FluidOunce, volumeFactors[FluidOunce]}, {"cups", Cup, volumeFactors[Cup]},
	}
)

// wrongUnit: the number was right in another unit than the field's, so the entry is off by the
// ratio of the two.
func wrongUnit(planned, actual decimal.Decimal, unit Unit) string {
	typed, others := family(unit)
	for _, other := range others {
		if other.unit != unit && near(actual.Mul(other.factor), planned.Mul(typed.factor)) {
			return fmt.Sprintf("as if %s had been typed as %s", other.name, typed.name)
		}
	}
	return ""
}

// family returns the unit's entry and all units that it could be mixed up with; nothing for
// PoundOunce, where two numbers are typed.
func family(unit Unit) (meant, []meant) {
	for _, units := range [][]meant{masses, volumes} {
		for _, m := range units {
			if m.unit == unit {
				return m, units
			}
		}
	}
	return meant{}, nil
}

// pointForOunces: 2.8 lb typed for 2 lb 8 oz, or 2.12 lb for 2 lb 12 oz.
func pointForOunces(planned, actual decimal.Decimal, unit Unit) string {
	if unit != Pound {
		return ""
	}
	typed := actual.DivRound(gramsPerPound, 4)
	pounds := typed.Truncate(0)
	for places := int32(1); places <= 2; places++ {
		ounces := typed.Sub(pounds).Shift(places)
		readAs := pounds.Mul(gramsPerPound).Add(ounces.Mul(gramsPerOunce))
		if ounces.IsInteger() && ounces.IsPositive() && ounces.LessThan(decimal.NewFromInt(16)) && near(readAs, planned) {
			return fmt.Sprintf("as if %s lb %s oz had been typed as %s lb", pounds, ounces, typed.String())
		}
	}
	return ""
}

// wrongPoint: a digit too many or too few.
func wrongPoint(planned, actual decimal.Decimal, _ Unit) string {
	for _, places := range []int32{1, 2, 3} {
		times := decimal.New(1, places)
		if near(actual, planned.Mul(times)) {
			return fmt.Sprintf("%s times the plan, as if the decimal point had slipped", times)
		}
		if near(actual.Mul(times), planned) {
			return fmt.Sprintf("a %s of the plan, as if the decimal point had slipped", part[places])
		}
	}
	return ""
}

var part = map[int32]string{1: "tenth", 2: "hundredth", 3: "thousandth"}

// convertedTwice: ounces already turned into grams were turned into grams once more.
func convertedTwice(planned, actual decimal.Decimal, _ Unit) string {
	for _, m := range masses {
		if (m.name == "ounces" || m.name == "troy ounces") && near(actual, planned.Mul(m.factor)) {
			return fmt.Sprintf("%s times the plan, as if %s had been converted to grams twice", m.factor.Round(2), m.name)
		}
	}
	return ""
}
