// Package measure turns what a person typed, with its unit, into grams or degrees Celsius, and keeps
// both: what was typed is the record, the converted value is what computations use. A value goes with how far it may be off.
//
// Input that could mean two things is refused with a question, never guessed.
package measure

import (
	"errors"
	"fmt"
	"strings"

	"github.com/shopspring/decimal"
)

// Mass is an amount of matter: as typed, and in grams. Make one with ParseMass.
type Mass struct {
	Typed string          `json:"typed"` // without surrounding space, otherwise untouched
	Unit  Unit            `json:"unit"`
	Grams decimal.Decimal `json:"grams"` // zero or more, rounded to 0.000001 g
}

// Bulk is what is known of a material that lets it be measured without a scale. A figure that is
// zero is not known; one below zero is refused.
type Bulk struct {
	Density      decimal.Decimal // g/ml, as it lies in the spoon
	GramsPerDrop decimal.Decimal // from the bottle or dropper in use: 20 drops weighed, divided by 20
}

// GramsPer is the mass of one unit of the material. It fails for PoundOunce, which is two units, for
// a unit that is not known, and where what the unit needs is not known of the material.
func (b Bulk) GramsPer(unit Unit) (decimal.Decimal, error) {
	if grams, found := massFactors[unit]; found {
		return grams, nil
	}
	ml, volume := volumeFactors[unit]
	switch {
	case volume && b.Density.IsNegative():
		return decimal.Zero, fmt.Errorf("a density of %s g/ml is not possible: correct the material", b.Density)
	case volume && b.Density.IsZero():
		return decimal.Zero, fmt.Errorf("%s is a unit of volume and the density of this material is not known: weigh it instead, or record the density of the material in g/ml first", unit)
	case volume:
		return ml.Mul(b.Density), nil
	case unit == Drop && b.GramsPerDrop.IsNegative():
		return decimal.Zero, fmt.Errorf("a drop of %s g is not possible: correct the material", b.GramsPerDrop)
	case unit == Drop && b.GramsPerDrop.IsZero():
		return decimal.Zero, errors.New("the mass of a drop of this material is not known: weigh it instead, or weigh 20 drops, divide by 20 and record the grams per drop of the material first")
	case unit == Drop:
		return b.GramsPerDrop, nil
	case unit == PoundOunce:
		return decimal.Zero, fmt.Errorf("%q is two units: use lb or oz", string(unit))
	}
	return decimal.Zero, unknownUnit(unit)
}

// ParseMass reads an amount. typed is a number as ParseNumber takes it, optionally followed by the
// same unit or its plural; for PoundOunce it is two numbers, "2 8" or "2 lb 8 oz".
//
// bulk is used for units of volume and for drops only; where it does not hold what the unit needs,
// the amount is refused. Grams are rounded to a microgram, half away from zero.
func ParseMass(typed string, unit Unit, bulk Bulk) (Mass, error) {
	if !unit.Known() {
		return Mass{}, unknownUnit(unit)
	}
	typed = strings.TrimSpace(typed)
	var grams decimal.Decimal
	var err error
	if unit == PoundOunce {
		grams, err = parsePoundOunce(typed)
	} else {
		grams, err = parseUnits(typed, unit, bulk)
	}
	if err != nil {
		return Mass{}, err
	}
	return Mass{Typed: typed, Unit: unit, Grams: grams.Round(6)}, nil
}

// parseIn reads a number that may carry its unit. A different unit behind the number is refused:
// the field and the typing hand disagree, and either may be right.
func parseIn(typed string, unit Unit) (decimal.Decimal, error) {
	number, suffix := splitSuffix(typed)
	name := strings.ReplaceAll(string(unit), " ", "")
	if suffix != "" && suffix != name && suffix != name+"s" {
		return decimal.Zero, refuse(typed, fmt.Sprintf("the unit of this field is %s; change the unit or leave it out of the number", unit))
	}
	return ParseNumber(number)
}

// Step is the last place of a mass as typed, in grams: 0.1 g for "112.0" in grams, a quarter of an ounce for "4 1/4" in ounces, and that of
// the ounces for pounds with ounces, an ounce for "2 lb". It is zero, not known, for volumes, drops, and what ParseMass refuses.
func Step(typed string, unit Unit) decimal.Decimal {
	typed = strings.TrimSpace(typed)
	if _, err := ParseMass(typed, unit, Bulk{}); err != nil {
		return decimal.Zero
	}
	number, _ := splitSuffix(typed)
	if unit == PoundOunce {
		_, number, _ = splitPoundOunce(typed)
		unit = Ounce
	}
	if _, below, found := strings.Cut(spellFractions(number), "/"); found {
		parts, _ := digits(strings.TrimSpace(below))
		return massFactors[unit].DivRound(parts, 12)
	}
	n, _ := ParseNumber(number)
	return decimal.New(1, min(n.Exponent(), 0)).Mul(massFactors[unit])
}

// splitSuffix parts the letters at the end from the number, in lower case without spaces and full stops.
func splitSuffix(typed string) (number, suffix string) {
	isUnit := func(r rune) bool { return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r == ' ' || r == '.' }
	number = strings.TrimRightFunc(typed, isUnit)
	suffix = typed[len(number):]
	if !strings.ContainsFunc(suffix, func(r rune) bool { return r != '.' && r != ' ' }) {
		return typed, ""
	}
	return number, strings.ToLower(strings.NewReplacer(" ", "", ".", "").Replace(suffix))
}

func parseUnits(typed string, unit Unit, bulk Bulk) (decimal.Decimal, error) {
	amount, err := parseIn(typed, unit)
	if err != nil {
		return decimal.Zero, err
	}
	if unit == Drop && !amount.IsInteger() {
		return decimal.Zero, refuse(typed, "drops are counted; type a whole number")
	}
	grams, err := bulk.GramsPer(unit)
	return amount.Mul(grams), err
}

// parsePoundOunce reads "2 8", "2 lb 8 oz", "2lb", "8.5 oz", "2 lbs 8 1/2 oz". A single number without
// a unit is refused: 2.8 typed for 2 lb 8 oz, which is 2.5 lb, is a common slip.
func parsePoundOunce(typed string) (decimal.Decimal, error) {
	pounds, ounces, err := splitPoundOunce(typed)
	if err != nil {
		return decimal.Zero, err
	}
	whole, ok := digits(strings.TrimSpace(pounds))
	if !ok || len(pounds) > maxDigits {
		return decimal.Zero, refuse(typed, "the pounds must be a whole number, like 2 lb 8 oz; 2 lb 8 oz is 2.5 lb")
	}
	rest, err := ouncesOnly(typed, ounces)
	return whole.Mul(gramsPerPound).Add(rest), err
}

// splitPoundOunce parts the pounds from the ounces. What was not typed is 0.
func splitPoundOunce(typed string) (pounds, ounces string, err error) {
	text := strings.TrimSuffix(strings.ToLower(typed), ".")
	body, inOunces := strings.CutSuffix(text, "oz")
	pounds, ounces, marked := strings.Cut(body, "lb")
	if !marked && inOunces {
		return "0", strings.TrimSpace(body), nil
	}
	if !marked {
		fields := strings.Fields(body)
		if len(fields) != 2 || strings.Contains(spellFractions(body), "/") {
			return "", "", refuse(typed, "type pounds and ounces as two numbers, like 2 lb 8 oz")
		}
		pounds, ounces = fields[0], fields[1]
	}
	ounces = strings.TrimSpace(strings.TrimPrefix(strings.TrimPrefix(ounces, "s"), "."))
	if ounces == "" && !inOunces {
		ounces = "0"
	}
	return pounds, ounces, nil
}

// ouncesOnly reads ounces below a pound.
func ouncesOnly(typed, ounces string) (decimal.Decimal, error) {
	n, err := ParseNumber(ounces)
	if err != nil {
		return decimal.Zero, err
	}
	if n.GreaterThanOrEqual(decimal.NewFromInt(16)) {
		return decimal.Zero, refuse(typed, "the ounces must be below 16; use the unit oz for more")
	}
	return n.Mul(gramsPerOunce), nil
}
