package measure

import (
	"fmt"
	"strings"

	"github.com/shopspring/decimal"
)

// Unit is a unit in which a mass may be typed: a unit of mass, or of volume if the density is known,
// or a drop if its mass is known.
type Unit string

// The units. Ounces and pounds are avoirdupois; spoons, cups and fluid ounces are US customary.
// Metric spoons and cups differ from these by 1.4 to 5.7 %, and from country to country: what was
// measured with them is typed in ml. A drop has no size of its own: it depends on the dropper as
// much as on the liquid, so its mass is that of the material as its supplier or the shop found it.
const (
	Gram       Unit = "g"
	Kilogram   Unit = "kg"
	Ounce      Unit = "oz"
	Pound      Unit = "lb"
	PoundOunce Unit = "lb oz"
	Teaspoon   Unit = "tsp"
	Tablespoon Unit = "tbsp"
	FluidOunce Unit = "fl oz"
	Cup        Unit = "cup"
	Millilitre Unit = "ml"
	Litre      Unit = "l"
	Drop       Unit = "drop"
)

// Exact by definition: the international pound of 1959 is 0.45359237 kg, its sixteenth the ounce;
// the US gallon is 231 cubic inches of 2.54 cm, 3785.411784 ml; a teaspoon is its 768th part.
var (
	gramsPerOunce = decimal.RequireFromString("28.349523125")
	gramsPerPound = decimal.RequireFromString("453.59237")
	mlPerGallon   = decimal.RequireFromString("3785.411784")
)

// gramsPerTroyOunce is exact too (480 grains of 0.06479891 g). Nobody should type troy ounces, but
// scales offer them; see Slip.
var gramsPerTroyOunce = decimal.RequireFromString("31.1034768")

// massFactors are grams per unit.
var massFactors = map[Unit]decimal.Decimal{
	Gram:     decimal.NewFromInt(1),
	Kilogram: decimal.NewFromInt(1000),
	Ounce:    gramsPerOunce,
	Pound:    gramsPerPound,
}

// volumeFactors are millilitres per unit. The quotients of the gallon come out even.
var volumeFactors = map[Unit]decimal.Decimal{
	Millilitre: decimal.NewFromInt(1),
	Litre:      decimal.NewFromInt(1000),
	Teaspoon:   mlPerGallon.DivRound(decimal.NewFromInt(768), 20),
	Tablespoon: mlPerGallon.DivRound(decimal.NewFromInt(256), 20),
	FluidOunce: mlPerGallon.DivRound(decimal.NewFromInt(128), 20),
	Cup:        mlPerGallon.DivRound(decimal.NewFromInt(16), 20),
}

// Units lists all units, those of mass first, in the order in which a form should offer them.
func Units() []Unit {
	return []Unit{Gram, Kilogram, Ounce, Pound, PoundOunce, Millilitre, Litre, Teaspoon, Tablespoon, FluidOunce, Cup, Drop}
}

// IsVolume reports whether the unit needs a density to become a mass.
func (u Unit) IsVolume() bool {
	_, found := volumeFactors[u]
	return found
}

// Known reports whether u is one of Units.
func (u Unit) Known() bool {
	_, mass := massFactors[u]
	return mass || u == PoundOunce || u == Drop || u.IsVolume()
}

// Millilitres returns how many millilitres a unit of volume holds; an error for any other unit.
func (u Unit) Millilitres() (decimal.Decimal, error) {
	ml, found := volumeFactors[u]
	if !found {
		return decimal.Zero, fmt.Errorf("%q is not a unit of volume: use one of tsp, tbsp, cup, fl oz, ml, l", string(u))
	}
	return ml, nil
}

func unknownUnit(u Unit) error {
	names := make([]string, 0, len(Units()))
	for _, known := range Units() {
		names = append(names, string(known))
	}
	return fmt.Errorf("the unit %q is not known: use one of %s", string(u), strings.Join(names, ", "))
}
