package lye

import (
	"testing"

	"ashbook/testdata/reference"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
)

func d(s string) decimal.Decimal { return decimal.RequireFromString(s) }

// The quantities of chem-check-values.csv that this package computes, by id.
var computed = map[string]func(t *testing.T) decimal.Decimal{
	"inv_density_1": func(t *testing.T) decimal.Decimal { return percentAt(t, "1.3600", "40") },
	"inv_density_2": func(t *testing.T) decimal.Decimal { return percentAt(t, "1.3300", "20") },
	"inv_density_3": func(t *testing.T) decimal.Decimal { return percentAt(t, "1.3200", "35") },
	"baume_1908": func(t *testing.T) decimal.Decimal {
		density, err := Twaddell.Density(d("60"))
		require.NoError(t, err)
		degrees, err := Baume144.Reading(density)
		require.NoError(t, err)
		return degrees
	},
	"heat_20mol_pct_textbook":     heatOfTwenty,
	"heat_20mol_pct_textbook_btu": func(t *testing.T) decimal.Decimal { return heatOfTwenty(t).Div(btu).Div(poundsOfTwenty) },
	"crc_density_20_30":           func(t *testing.T) decimal.Decimal { return densityAt(t, NaOH, "0.30", "20") },
	"crc_density_20_40":           func(t *testing.T) decimal.Decimal { return densityAt(t, NaOH, "0.40", "20") },
}

// 20 mol of NaOH in 80 mol of water weigh 2240.8 g; kJ per Btu and g per pound are exact to the digits given.
var (
	btu            = d("1.05505585262")
	poundsOfTwenty = d("2240.8").Div(d("453.59237"))
)

func heatOfTwenty(t *testing.T) decimal.Decimal {
	perMole, err := HeatOfSolution(d("4"))
	require.NoError(t, err)
	return perMole.Mul(d("20"))
}

func TestReferenceCheckValues(t *testing.T) {
	for id, compute := range computed {
		reference.Holds(t, id, compute(t))
	}
}

func percentAt(t *testing.T, density, celsius string) decimal.Decimal {
	t.Helper()
	share, err := FromDensity(NaOH, d(density), d(celsius))
	require.NoError(t, err)
	return share.Shift(2)
}

func densityAt(t *testing.T, kind, share, celsius string) decimal.Decimal {
	t.Helper()
	density, err := Density(kind, d(share), d(celsius))
	require.NoError(t, err)
	return density
}
