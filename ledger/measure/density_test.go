package measure

import (
	"fmt"
	"strings"
	"testing"

	"ashbook/testdata/reference"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
)

// The rows of 0 % NaOH are water, to five figures.
func TestWaterAgainstTheTable(t *testing.T) {
	checked := 0
	for _, row := range reference.Rows("chem-naoh-density.csv") {
		if row["mass_pct_NaOH"] != "0" {
			continue
		}
		got, err := WaterDensity(d(row["temp_C"]))
		require.NoError(t, err)
		require.True(t, got.Sub(d(row["density_g_cm3"])).Abs().LessThanOrEqual(d("0.00001")), "%s °C: %s, the table has %s", row["temp_C"], got, row["density_g_cm3"])
		checked++
	}
	require.Equal(t, 7, checked)
	for _, outside := range []string{"-0.1", "100.1"} {
		_, err := WaterDensity(d(outside))
		require.ErrorContains(t, err, "0 to 100")
	}
}

// Olive oil by the relation of Lund, 0.9154 g/ml at 15 °C, is 0.8994 at 40 °C with the fall of JAOCS 1999, 76, 1415.
func TestOilGetsLighterAsItWarms(t *testing.T) {
	equal(t, "0.8994", DensityAt(d("0.9154"), d("15"), OilFall, d("40")))
	equal(t, "0.9154", DensityAt(d("0.8994"), d("40"), OilFall, d("15")))
}

// Each usual density is the row of the same name of a reference table.
func TestUsualDensitiesAreThoseOfTheTable(t *testing.T) {
	known := map[string]string{}
	for _, row := range reference.Rows("chem-volume-density.csv") {
		known[row["material"]] = row["density_g_per_mL"]
	}
	for _, row := range reference.Rows("chem-additive-solution-density.csv") { // solutions, by the per cent of the mass
		known[fmt.Sprintf("%s %s %% in water", strings.ToLower(row["solute"]), d(row["mass_pct"]))] = row["density_g_cm3"]
	}
	seen := 0
	for _, kind := range []string{"oil", "water", "additive", "colour", "scent", "spirit", "prepared"} {
		for _, u := range UsualDensities(kind) {
			require.Contains(t, known, u.Name)
			equal(t, d(known[u.Name]).String(), u.Density, u.Name)
			require.NotEmpty(t, u.Basis)
			seen++
		}
	}
	require.Len(t, usual, seen, "every line is of a kind that is asked for")
	require.Empty(t, UsualDensities("alkali"), "lye is weighed")
}

// What is measured out at the bench without a scale. Common practice, no source, for the rates; the volumes are exact.
func TestFactsOfTheTrade(t *testing.T) {
	// One teaspoon of 60 % sodium lactate per pound of oils: three pounds take three teaspoons, about 19.7 g at 1.33 g/ml.
	lactate, err := ParseMass("3", Teaspoon, Bulk{Density: d("1.33")})
	require.NoError(t, err)
	equal(t, "19.7", lactate.Grams.Round(1))
	// A third of the batch in cups: two cups of a batter of which a full cup weighs 236.6 g, 1.00 g/ml, and not without it.
	third, err := ParseMass("2", Cup, Bulk{Density: d("1.00")})
	require.NoError(t, err)
	equal(t, "473.2", third.Grams.Round(1))
	_, err = ParseMass("2", Cup, Bulk{})
	require.ErrorContains(t, err, "density of this material is not known")
	// A teaspoon of powdered colour in a tablespoon of light oil: 14.79 ml at 0.9178 g/ml are 13.6 g of oil, which count among the oils.
	oil, err := ParseMass("1", Tablespoon, Bulk{Density: d("0.9178")})
	require.NoError(t, err)
	equal(t, "13.6", oil.Grams.Round(1))
	// Twenty drops that weighed 0.62 g make a drop of 0.031 g.
	drops, err := ParseMass("15 drops", Drop, Bulk{GramsPerDrop: d("0.62").Div(decimal.NewFromInt(20))})
	require.NoError(t, err)
	equal(t, "0.465", drops.Grams)
	require.Equal(t, "15 drops", drops.Typed)
}

func TestDropsAreRefusedWhereTheirMassIsNotKnown(t *testing.T) {
	for _, v := range []struct {
		typed string
		bulk  Bulk
		why   string
	}{
		{"5", Bulk{Density: d("0.9")}, "weigh 20 drops"},
		{"5", Bulk{GramsPerDrop: d("-1")}, "not possible"},
		{"2.5", Bulk{GramsPerDrop: d("0.03")}, "whole number"},
		{"5 ml", Bulk{GramsPerDrop: d("0.03")}, "the unit of this field is drop"},
	} {
		got, err := ParseMass(v.typed, Drop, v.bulk)
		require.ErrorContains(t, err, v.why)
		require.Zero(t, got)
	}
	_, err := Bulk{}.GramsPer(PoundOunce)
	require.ErrorContains(t, err, "two units")
	_, err = Bulk{}.GramsPer("stone")
	require.ErrorContains(t, err, "not known")
}
