package measure

import (
	"fmt"
	"strings"

	"github.com/shopspring/decimal"
)

// Temperature is a reading: as typed, and in degrees Celsius. Make one with ParseTemperature.
type Temperature struct {
	Typed   string          `json:"typed"`
	Unit    string          `json:"unit"`    // "C" or "F"
	Celsius decimal.Decimal `json:"celsius"` // rounded to 0.01 °C
}

// The range that is taken for a reading, °C: wider than any that soap needs, narrow enough to refuse
// a mass typed in the wrong field. Whether a reading is plausible at its step is for the caller.
var (
	lowestCelsius  = decimal.NewFromInt(-40)
	highestCelsius = decimal.NewFromInt(300)
)

// ParseTemperature reads a temperature in unit "C" or "F". The number may be negative and is
// otherwise taken as ParseNumber takes it; a unit typed behind it must agree. Readings below
// -40 °C and above 300 °C are refused.
func ParseTemperature(typed, unit string) (Temperature, error) {
	if unit != "C" && unit != "F" {
		return Temperature{}, fmt.Errorf("the temperature unit %q is not known: use C or F", unit)
	}
	typed = strings.TrimSpace(typed)
	number, suffix := splitSuffix(strings.ReplaceAll(typed, "°", " "))
	if suffix != "" && suffix != strings.ToLower(unit) {
		return Temperature{}, refuse(typed, fmt.Sprintf("the unit of this field is %s; change the unit or leave it out of the number", unit))
	}
	degrees, err := signed(number)
	if err != nil {
		return Temperature{}, err
	}
	celsius := degrees
	if unit == "F" {
		celsius = degrees.Sub(decimal.NewFromInt(32)).Mul(decimal.NewFromInt(5)).DivRound(decimal.NewFromInt(9), 4)
	}
	celsius = celsius.Round(2)
	if celsius.LessThan(lowestCelsius) || celsius.GreaterThan(highestCelsius) {
		return Temperature{}, refuse(typed, fmt.Sprintf("%s °C is outside -40 to 300 °C; check the reading and the unit", celsius))
	}
	return Temperature{Typed: typed, Unit: unit, Celsius: celsius}, nil
}

// Degrees writes a temperature in °C as a person reads it: in °C, or in °F with the °C behind it.
func Degrees(celsius decimal.Decimal, unit string) string {
	if unit == "F" {
		return fmt.Sprintf("%s °F (%s °C)", Fahrenheit(celsius), celsius.Round(1))
	}
	return celsius.Round(1).String() + " °C"
}

// Window writes a range of temperatures as a person reads it.
func Window(low, high decimal.Decimal, unit string) string {
	celsius := fmt.Sprintf("%s to %s °C", low.Round(1), high.Round(1))
	if unit == "F" {
		return fmt.Sprintf("%s to %s °F (%s)", Fahrenheit(low), Fahrenheit(high), celsius)
	}
	return celsius
}

// Fahrenheit turns °C into °F, to a tenth.
func Fahrenheit(celsius decimal.Decimal) decimal.Decimal {
	return celsius.Mul(decimal.NewFromInt(9)).DivRound(decimal.NewFromInt(5), 4).Add(decimal.NewFromInt(32)).Round(1)
}

// OtherScale is what a figure would have been in °C, had it been read on the other scale than the one it was typed in.
func OtherScale(celsius decimal.Decimal, unit string) decimal.Decimal {
	if unit == "F" { // the figure in °F was meant as °C
		return Fahrenheit(celsius)
	}
	return celsius.Sub(decimal.NewFromInt(32)).Mul(decimal.NewFromInt(5)).DivRound(decimal.NewFromInt(9), 2)
}

// signed is ParseNumber with a minus sign allowed in front.
func signed(text string) (decimal.Decimal, error) {
	text = strings.TrimSpace(strings.Replace(text, "−", "-", 1))
	rest, negative := strings.CutPrefix(text, "-")
	n, err := ParseNumber(rest)
	if negative {
		n = n.Neg()
	}
	return n, err
}
