package lye

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"ashbook/ledger/measure"
	"ashbook/testdata/reference"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
)

func measured(value, u string) measure.Measured { return measure.Measured{Value: d(value), U: d(u)} }

// usualByMass is a lye of 500 g alkali of 98 % ± 1 % in 1000 g of water on a scale that reads grams.
func usualByMass(t *testing.T) Estimate {
	e, err := ByMass(measured("500", "0.7"), measured("1000", "0.7"), measure.Measured{Value: d("0.98"), U: measure.Rectangular(d("0.01"))})
	require.NoError(t, err)
	return e
}

func byDensity(t *testing.T, density, celsius string) Estimate {
	e, err := ByDensity(NaOH, measured(density, "0.001"), measure.Measured{Value: d(celsius), U: measure.Rectangular(d("1"))})
	require.NoError(t, err)
	return e
}

// The propagated uncertainty is that of a simulation: 200 000 draws for the masses, 20 000 for the density, normal but for the
// rectangular ones, fixed seed. The standard deviation of n draws is itself good to 1/√(2n).
func TestUncertaintyAgainstSimulation(t *testing.T) {
	random := rand.New(rand.NewPCG(2026, 1125))
	rectangular := func(half float64) float64 { return half * (2*random.Float64() - 1) }

	mass := usualByMass(t)
	var draws []float64
	for range 200_000 {
		a, w, p := 500+0.7*random.NormFloat64(), 1000+0.7*random.NormFloat64(), 0.98+rectangular(0.01)
		draws = append(draws, a*p/(a+w))
	}
	mean, sd := moments(draws)
	require.InDelta(t, mass.Share.InexactFloat64(), mean, 4*sd/math.Sqrt(200_000))
	require.InEpsilon(t, sd, mass.U, 0.01)

	density := byDensity(t, "1.3450", "35")
	draws = nil
	for range 20_000 {
		reading := 1.3450 + 0.001*random.NormFloat64() + interpolation*random.NormFloat64() + rectangular(0.0011)
		share, err := FromDensity(NaOH, decimal.NewFromFloat(reading), decimal.NewFromFloat(35+rectangular(1)))
		require.NoError(t, err)
		draws = append(draws, share.InexactFloat64())
	}
	mean, sd = moments(draws)
	require.InDelta(t, density.Share.InexactFloat64(), mean, 4*sd/math.Sqrt(20_000))
	require.InEpsilon(t, sd, density.U, 0.03)
}

func moments(xs []float64) (mean, sd float64) {
	for _, x := range xs {
		mean += x / float64(len(xs))
	}
	for _, x := range xs {
		sd += (x - mean) * (x - mean) / float64(len(xs)-1)
	}
	return mean, math.Sqrt(sd)
}

// Near 30 % a reading off by 0.002 g/cm³ is 0.19 % NaOH, and one off by 2 °C is 0.12 %: the reference notes.
func TestSensitivityOfDensity(t *testing.T) {
	for _, v := range []struct {
		u     [2]string
		share float64
	}{{[2]string{"0.002", "0"}, 0.0019}, {[2]string{"0", "2"}, 0.0012}} {
		with, err := ByDensity(NaOH, measured("1.3279", v.u[0]), measured("20", v.u[1]))
		require.NoError(t, err)
		without, err := ByDensity(NaOH, measured("1.3279", "0"), measured("20", "0"))
		require.NoError(t, err)
		require.InDelta(t, 0.30, with.Share.InexactFloat64(), 0.001)
		require.InDelta(t, v.share, math.Sqrt(with.U*with.U-without.U*without.U), 0.0001)
	}
}

// Away from 20 °C less stands behind the soda table, and less still behind that of potash.
func TestTableIsPartOfTheUncertainty(t *testing.T) {
	u := func(kind, celsius string) float64 {
		e, err := ByDensity(kind, measured("1.25", "0"), measured(celsius, "0"))
		require.NoError(t, err)
		return e.U
	}
	require.Less(t, u(NaOH, "20"), u(NaOH, "40"))
	require.Less(t, u(NaOH, "16"), u(NaOH, "14")/2)
	require.Less(t, u(NaOH, "40"), u(KOH, "40"))
}

// The lye by mass is 32.67 ± 0.20 %, a reading ± 0.10 %: the steps are at 0.44 and 0.66 %, and 0.001 g/cm³ is 0.1 %.
func TestCompare(t *testing.T) {
	mass := usualByMass(t)
	for _, v := range []struct {
		density string
		verdict Verdict
		looks   string
	}{
		{"1.3300", Disagree, "hotter than the temperature"},
		{"1.3475", Disagree, "drew damp"},
		{"1.3505", Doubtful, "not all the alkali is dissolved"},
		{"1.3540", Agree, ""},
		{"1.3565", Agree, ""},
		{"1.3590", Agree, ""},
		{"1.3620", Doubtful, "steam"},
		{"1.3650", Disagree, "steam"},
		{"1.3820", Disagree, "Too much alkali"},
	} {
		c, err := Compare(mass, byDensity(t, v.density, "20"))
		require.NoError(t, err)
		require.Equal(t, v.verdict, c.Verdict, "%s: %.2f", v.density, c.Ratio)
		require.InDelta(t, math.Abs(c.ByDensity.Share.Sub(mass.Share).InexactFloat64())/math.Hypot(mass.U, c.ByDensity.U), c.Ratio, 1e-12)
		require.Contains(t, strings.ToLower(linesOf(c.LooksLike)), strings.ToLower(v.looks))
		require.Equal(t, v.verdict == Agree, c.LooksLike == nil)
		require.Contains(t, c.Text, "32.67 %")
	}
}

// 0.003 and 0.004 together are 0.005, so the steps lie at 1.0 and 1.5 % whichever way the two are apart.
func TestSteps(t *testing.T) {
	for difference, verdict := range map[string]Verdict{"0": Agree, "0.0099": Agree, "0.0101": Doubtful, "0.0149": Doubtful, "0.0151": Disagree} {
		for _, way := range []string{"1", "-1"} {
			c, err := Compare(Estimate{d("0.3"), 0.003}, Estimate{d("0.3").Add(d(difference).Mul(d(way))), 0.004})
			require.NoError(t, err)
			require.InDelta(t, 0.005, c.U, 1e-15)
			require.Equal(t, verdict, c.Verdict, "%s", c.Difference)
			reference.Within(t, d(difference).Mul(d(way)), c.Difference, d("0"))
		}
	}
}

// What the note on carbonate says: 10 % of it reads as 9.5 % of hydroxide (CRC Handbook, 102nd ed., 20 °C), so a density does not find it.
func TestCarbonateHidesFromDensity(t *testing.T) {
	found := false
	for _, row := range reference.Rows("chem-additive-solution-density.csv") {
		if row["solute"] == "Sodium carbonate" && row["mass_pct"] == "10.0" {
			reference.Within(t, d("9.5"), percentAt(t, row["density_g_cm3"], row["temp_C"]), d("0.05"), row["source"])
			found = true
		}
	}
	require.True(t, found)
}

func TestCompareRefusals(t *testing.T) {
	for _, fails := range []func() (Estimate, error){
		func() (Estimate, error) {
			return ByMass(measured("500", "-1"), measured("1000", "1"), measured("1", "0"))
		},
		func() (Estimate, error) {
			return ByMass(measured("500", "1"), measured("1000", "-1"), measured("1", "0"))
		},
		func() (Estimate, error) {
			return ByMass(measured("500", "1"), measured("1000", "1"), measured("1", "-1"))
		},
		func() (Estimate, error) {
			return ByMass(measured("500", "1"), measured("1000", "1"), measured("98", "0"))
		},
		func() (Estimate, error) { return ByDensity(NaOH, measured("1.33", "-1"), measured("20", "0")) },
		func() (Estimate, error) { return ByDensity(NaOH, measured("1.33", "0"), measured("20", "-1")) },
		func() (Estimate, error) { return ByDensity(NaOH, measured("1.33", "0"), measured("200", "0")) },
		func() (Estimate, error) { return ByDensity("LiOH", measured("1.33", "0"), measured("20", "0")) },
	} {
		_, err := fails()
		require.ErrorIs(t, err, ErrInput)
	}
	good := Estimate{d("0.33"), 0.001}
	for _, bad := range []Estimate{{d("33"), 0.1}, {d("-0.1"), 0.1}, {d("0.33"), -1}, {d("0.33"), math.NaN()}, {d("0.33"), math.Inf(1)}} {
		_, err := Compare(good, bad)
		require.ErrorIs(t, err, ErrInput, "%v", bad)
	}
	_, err := Compare(Estimate{Share: d("0.33")}, Estimate{Share: d("0.33")})
	require.ErrorContains(t, err, "without an uncertainty")
}
