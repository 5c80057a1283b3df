package lye

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

// kohDensity is the density of potassium hydroxide solutions, 0 to 50 % and 5 to 90 °C: the model of
// Laliberté 2009 with its published coefficients. It agrees with a published table at 18 °C within 0.002 g/cm³,
// mostly 0.0007. The KOH column of the CRC Handbook, 102nd edition, as its open transcription has it, lies 0.3 to 0.7 % below
// both, so it is not mixed in: steps between two sources would look like steps in strength.
//
//go:embed koh-density.csv
var kohDensity string

// grid is a table over mass fraction (rows) and temperature (columns), both rising.
type grid struct {
	fractions, celsius []decimal.Decimal
	density            [][]decimal.Decimal // g/cm³
}

var grids = map[string]grid{NaOH: readGrid(naohDensity), KOH: readGrid(kohDensity)}

// readGrid panics on a table that is not a full grid: it is part of the program.
func readGrid(text string) grid {
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		panic("lye: density table: " + err.Error())
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
			panic("lye: density table: row " + strings.Join(row, ",") + " is out of place")
		}
		g.density[line] = append(g.density[line], decimal.RequireFromString(row[2]))
	}
	return g
}

// gridAt returns the table of an alkali, and fails for an unknown one and outside the table's temperatures.
func gridAt(kind string, celsius decimal.Decimal) (grid, error) {
	g, ok := grids[kind]
	if !ok {
		_, err := MolarMass(kind)
		return grid{}, err
	}
	first, last := g.celsius[0], g.celsius[len(g.celsius)-1]
	if celsius.LessThan(first) || celsius.GreaterThan(last) {
		return grid{}, wrong("no density is known of a %s lye at %s °C; read between %s and %s °C", kind, celsius, first, last)
	}
	return g, nil
}

// Density returns g/cm³ of a solution with the given mass fraction of hydroxide, on the pure basis, at a
// temperature: bilinear in the table, good to about 0.0002 g/cm³ for NaOH and 0.002 g/cm³ for KOH.
// It fails above 50 %, outside 0 to 100 °C for NaOH and outside 5 to 90 °C for KOH.
func Density(kind string, share, celsius decimal.Decimal) (decimal.Decimal, error) {
	g, err := gridAt(kind, celsius)
	if err != nil {
		return decimal.Zero, err
	}
	last := g.fractions[len(g.fractions)-1]
	if share.IsNegative() || share.GreaterThan(last) {
		return decimal.Zero, wrong("no density is known of a lye with a share of %s %s; give one from 0 to %s", share, kind, last)
	}
	row, _ := slices.BinarySearchFunc(g.fractions, share, decimal.Decimal.Cmp)
	row = max(row, 1)
	column := g.columnAt(celsius)
	return between(share, g.fractions[row-1], g.fractions[row], column[row-1], column[row]), nil
}

// FromDensity returns the mass fraction of hydroxide, on the pure basis, of a solution of the given density in g/cm³ at
// the given temperature: bilinear in the table, for NaOH good to about 0.0002 g/cm³ or 0.02 %, for KOH to
// 0.002 g/cm³ or 0.2 %; carbonate in the lye shifts it. The temperature matters: a 33.33 % NaOH lye at 50 °C
// read as if at 20 °C looks like 31.45 %. It fails outside the temperatures of Density and outside the
// densities of 0 to 50 % at that temperature.
func FromDensity(kind string, density, celsius decimal.Decimal) (decimal.Decimal, error) {
	g, err := gridAt(kind, celsius)
	if err != nil {
		return decimal.Zero, err
	}
	column := g.columnAt(celsius)
	above, found := slices.BinarySearchFunc(column, density, decimal.Decimal.Cmp)
	switch {
	case found:
		return g.fractions[above], nil
	case above == 0:
		return decimal.Zero, wrong("a density of %s g/cm³ at %s °C is below that of water, %s; check the reading and the temperature", density, celsius, column[0].Round(4))
	case above == len(column):
		return decimal.Zero, wrong("a density of %s g/cm³ at %s °C is above that of a 50 %% %s lye, %s; check the reading and the temperature", density, celsius, kind, column[above-1].Round(4))
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
