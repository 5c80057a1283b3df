package measure

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"strings"

	"github.com/shopspring/decimal"
)

// RoomCelsius is the temperature at which spoons and cups are filled unless somebody says otherwise, °C.
var RoomCelsius = decimal.NewFromInt(20)

// OilFall is how much the density of a vegetable oil falls for each °C that it is warmer, g/ml, linearly
// (JAOCS 1999, 76, 1415-1419). It holds for the liquid: a fat that sets is another matter.
var OilFall = decimal.New(64, -5)

// DensityAt carries a density from the temperature at which it is known to another, both in °C, along a
// straight line that falls by fall g/ml for each °C.
func DensityAt(density, at, fall, celsius decimal.Decimal) decimal.Decimal {
	return density.Sub(fall.Mul(celsius.Sub(at)))
}

// waterTop are the coefficients of the numerator of WaterDensity in kg/m³, highest power first; waterBelow
// is that of t in its denominator 1 + waterBelow·t.
var (
	waterTop = []decimal.Decimal{
		decimal.RequireFromString("-0.00000000028054253"), decimal.RequireFromString("0.00000010556302"), decimal.RequireFromString("-0.000046170461"),
		decimal.RequireFromString("-0.0079870401"), decimal.RequireFromString("16.945176"), decimal.RequireFromString("999.83952"),
	}
	waterBelow = decimal.RequireFromString("0.01687985")
)

// WaterDensity is that of pure water free of air, in g/ml, from 0 to 100 °C, by the equation of Kell 1975 as
// Laliberté & Cooper 2004 use it (coefficients from memory; its values are checked against a table), rounded to
// 0.00001 g/ml. It fails outside that range.
func WaterDensity(celsius decimal.Decimal) (decimal.Decimal, error) {
	if celsius.IsNegative() || celsius.GreaterThan(decimal.NewFromInt(100)) {
		return decimal.Zero, fmt.Errorf("water of %s °C has no density here: give a temperature from 0 to 100 °C", celsius)
	}
	top := decimal.Zero
	for _, c := range waterTop {
		top = top.Mul(celsius).Add(c)
	}
	below := decimal.NewFromInt(1).Add(waterBelow.Mul(celsius))
	return top.DivRound(below, 6).Shift(-3).Round(5), nil
}

// UsualDensity is a density to start from where a material's own is not known.
type UsualDensity struct {
	Kind    string // of material, as the ledger names kinds
	Name    string
	Celsius decimal.Decimal
	Density decimal.Decimal // g/ml
	Basis   string          // where it comes from and how far it is to be trusted
}

// usualDensities holds a line for each; what the basis calls from memory was not seen in print. Relative
// densities and specific gravities stand for g/ml, which is 0.2 to 0.3 % too much, less than what their ranges leave open.
//
//go:embed usual-density.csv
var usualDensities string

var usual = readUsual(usualDensities)

// readUsual panics on a table that cannot be read: it is part of the program.
func readUsual(text string) []UsualDensity {
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		panic("measure: usual densities: " + err.Error())
	}
	var list []UsualDensity
	for _, row := range rows[1:] {
		list = append(list, UsualDensity{Kind: row[0], Name: row[1], Celsius: decimal.RequireFromString(row[2]),
			Density: decimal.RequireFromString(row[3]), Basis: row[4]})
	}
	return list
}

// UsualDensities are those for materials of a kind; none where there is no usual value.
func UsualDensities(kind string) []UsualDensity {
	var list []UsualDensity
	for _, u := range usual {
		if u.Kind == kind {
			list = append(list, u)
		}
	}
	return list
}
