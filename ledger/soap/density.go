package soap

import (
	_ "embed"
	"encoding/csv"
	"slices"
	"strings"

	"github.com/shopspring/decimal"
)

// naohDensity is the density of sodium hydroxide solutions, 0 to 50 % and 0 to 100 °C: the grid of the
// International Critical Tables as in Perry's handbook (from memory, high confidence; it agrees with
// two other published tables within 0.0011 g/cm³ up to 40 % at 20 °C and up to 19 % from 10 to 85 °C),
// with water from the equation of Laliberté & Cooper 2004 as its first row.
//
//go:embed naoh-density.csv
var naohDensity string

// grid is a table over mass fraction (rows) and temperature (columns), both rising.
type grid struct {
	fractions, celsius []decimal.Decimal
	density            [][]decimal.Decimal // g/cm³
}

var naohGrid = readGrid(naohDensity)

// readGrid panics on a table that is not a full grid: it is part of the program.
func readGrid(text string) grid {
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		panic("soap: density table: " + err.Error())
	}
	var g grid
	for _, row := range rows[1:] {
		fraction := decimal.RequireFromString(row[0]).Shift(-2)
		t := decimal.RequireFromString(row[1])
		if n := len(g.fractions); n == 0 || !g.fractions[n-1].Equal(fraction) {
			g.fractions = append(g.fractions, fraction)
			g.density = append(g.density, nil)
		}
		line := len(g.fractions) - 1
		if line == 0 {
			g.celsius = append(g.celsius, t)
		}
		if column := len(g.density[line]); column >= len(g.celsius) || !g.celsius[column].Equal(t) {
			panic("soap: density table: row " + strings.Join(row, ",") + " is out of place")
		}
		g.density[line] = append(g.density[line], decimal.RequireFromString(row[2]))
	}
	return g
}

// DensityToConcentration returns the mass fraction of NaOH, on the pure basis, of a solution of the
// given density in g/cm³ at the given temperature: bilinear in the table, good to about 0.0002 g/cm³
// or 0.02 % NaOH; carbonate in the lye shifts it. The temperature matters: a 33.33 % lye at 50 °C
// read as if at 20 °C looks like 31.45 %. It fails outside 0 to 100 °C and outside the
// densities of 0 to 50 % at that temperature.
func DensityToConcentration(density, celsius decimal.Decimal) (decimal.Decimal, error) {
	g := naohGrid
	first, last := g.celsius[0], g.celsius[len(g.celsius)-1]
	if celsius.LessThan(first) || celsius.GreaterThan(last) {
		return decimal.Zero, wrong("no lye density is known at %s °C; read between %s and %s °C", celsius, first, last)
	}
	column := g.columnAt(celsius)
	above, found := slices.BinarySearchFunc(column, density, decimal.Decimal.Cmp)
	switch {
	case found:
		return g.fractions[above], nil
	case above == 0:
		return decimal.Zero, wrong("a density of %s g/cm³ at %s °C is below that of water, %s; check the reading and the temperature", density, celsius, column[0].Round(4))
	case above == len(column):
		return decimal.Zero, wrong("a density of %s g/cm³ at %s °C is above that of a 50 %% lye, %s; check the reading and the temperature", density, celsius, column[above-1].Round(4))
	}
	return between(density, column[above-1], column[above], g.fractions[above-1], g.fractions[above]), nil
}

// columnAt returns the density of each row at a temperature inside the table.
func (g grid) columnAt(celsius decimal.Decimal) []decimal.Decimal {
	right, _ := slices.BinarySearchFunc(g.celsius, celsius, decimal.Decimal.Cmp)
	right = max(right, 1)
	column := make([]decimal.Decimal, len(g.density))
	for i, line := range g.density {
		column[i] = between(celsius, g.celsius[right-1], g.celsius[right], line[right-1], line[right])
	}
	return column
}

// between maps x from the range x0 to x1 onto y0 to y1, linearly.
func between(x, x0, x1, y0, y1 decimal.Decimal) decimal.Decimal {
	return y0.Add(divide(x.Sub(x0).Mul(y1.Sub(y0)), x1.Sub(x0)))
}
