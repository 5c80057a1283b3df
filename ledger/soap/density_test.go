package soap

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The two tables that did not go into the package: the CRC Handbook at 20 °C and a table in molality
// from 10 to 85 °C. Tolerances are what the reference notes state for their disagreement, 0.0002 and
// 0.0011 g/cm³, with 0.011 g/cm³ to 1 % NaOH, and the rounding of the CRC densities.
func TestDensityAgainstOtherTables(t *testing.T) {
	checked := map[string]int{}
	for _, row := range table(t, "chem-naoh-density.csv") {
		tolerance, name := "0.03", "CRC"
		switch {
		case strings.HasPrefix(row["source"], "CRC"):
		case strings.HasPrefix(row["source"], "advancedthermo"):
			tolerance, name = "0.13", "molality"
		default:
			continue
		}
		share, err := DensityToConcentration(d(row["density_g_cm3"]), d(row["temp_C"]))
		require.NoError(t, err, "%v", row)
		within(t, d(row["mass_pct_NaOH"]), share.Shift(2), d(tolerance), "%s %% at %s °C: %s", row["mass_pct_NaOH"], row["temp_C"], row["source"])
		checked[name]++
	}
	require.Equal(t, map[string]int{"CRC": 31, "molality": 84}, checked)
}

// The embedded grid is the reference file's, row for row, and is found again at its own points.
func TestDensityTableIsTheReference(t *testing.T) {
	for _, row := range table(t, "chem-naoh-density.csv") {
		if strings.HasPrefix(row["source"], "International") || strings.HasPrefix(row["source"], "water") {
			require.Contains(t, naohDensity, row["mass_pct_NaOH"]+","+row["temp_C"]+","+row["density_g_cm3"]+",")
			share, err := DensityToConcentration(d(row["density_g_cm3"]), d(row["temp_C"]))
			require.NoError(t, err)
			within(t, d(row["mass_pct_NaOH"]), share.Shift(2), d("0"), "%v", row)
		}
	}
	require.Equal(t, 113, strings.Count(naohDensity, "\n"))
}

// Further values computed beforehand, and the warning about a lye read on the wrong column.
func TestDensityWorkedValues(t *testing.T) {
	within(t, d("30.809"), percentAt(t, "1.3300", "30"), d("0.02"))
	within(t, d("32.411"), percentAt(t, "1.3500", "25"), d("0.02"))
	hot := between(d("33.33"), d("32"), d("36"), d("1.3297"), d("1.3701")) // mean of 40 and 60 °C
	within(t, d("33.33"), percentAt(t, hot.String(), "50"), d("0.02"))
	within(t, d("31.45"), percentAt(t, hot.String(), "20"), d("0.02"))
}

func TestDensityOutsideTheTable(t *testing.T) {
	for _, v := range []struct{ density, celsius, why string }{
		{"1.33", "-1", "no lye density is known"}, {"1.33", "100.1", "no lye density is known"},
		{"0.99", "20", "below that of water"}, {"1.53", "20", "above that of a 50 % lye"}, {"33", "20", "above that of a 50 % lye"},
	} {
		_, err := DensityToConcentration(d(v.density), d(v.celsius))
		require.ErrorIs(t, err, ErrInput)
		require.ErrorContains(t, err, v.why)
	}
}
