package lye

import (
	"testing"

	"ashbook/ledger/measure"
	"ashbook/testdata/reference"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The table of 1908, degree by degree: specific gravity and both Baumé scales as printed or computed beforehand, then our
// strength at 15.56 °C against the strength computed beforehand from the same density table, and against the handbook's own,
// which differs by 0.32 % at most. The printed rows of the handbook that are visible misprints are within that too.
func TestTwaddellTableOf1908(t *testing.T) {
	rows := reference.Rows("chem-naoh-twaddell.csv")
	require.Len(t, rows, 100)
	sixty := d("15.56")
	for _, row := range rows {
		density, err := Twaddell.Density(d(row["twaddell"]))
		require.NoError(t, err)
		gravity, err := Gravity60F.Reading(density)
		require.NoError(t, err)
		reference.Within(t, d(row["specific_gravity"]), gravity, d("1e-12"), "%v", row)
		for scale, column := range map[Scale]string{Baume145: "baume_145", Baume144: "baume_144_3"} {
			degrees, err := scale.Reading(density)
			require.NoError(t, err)
			reference.Within(t, d(row[column]), degrees, d("0.0051"), "%s: %v", scale, row)
		}
		share, err := FromDensity(NaOH, density, sixty)
		require.NoError(t, err)
		reference.Within(t, d(row["naoh_pct_from_ICT_15_56C"]), share.Shift(2), d("0.003"), "%v", row)
		reference.Within(t, d(row["naoh_pct_1908_handbook"]), share.Shift(2), d("0.33"), "%v: %s", row, row["source"])
	}
}

// 71.4 °Tw, the lye of the handbook's cold-process recipe, is 32.64 % by its table and 38 °Bé.
func TestLyeOf1908(t *testing.T) {
	density, err := Twaddell.Density(d("71.4"))
	require.NoError(t, err)
	reference.Within(t, d("1.357").Mul(d("0.99904")), density, d("1e-12"), "SG 1.357, Simmons & Appleton 1908")
	share, err := FromDensity(NaOH, density, d("15.56"))
	require.NoError(t, err)
	reference.Within(t, d("32.64"), share.Shift(2), d("0.32"))
	// At 38 °Bé the specific gravity is 1.3551 by modulus 145 and 1.3575 by 144.3.
	for scale, gravity := range map[Scale]string{Baume145: "1.3551", Baume144: "1.3575"} {
		density, err := scale.Density(d("38"))
		require.NoError(t, err)
		got, err := Gravity60F.Reading(density)
		require.NoError(t, err)
		reference.Within(t, d(gravity), got, d("0.00005"), scale)
	}
}

func TestScalesBackAndForth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		scale := rapid.SampledFrom(Scales()).Draw(t, "scale")
		density := decimal.New(int64(rapid.IntRange(9900, 16000).Draw(t, "density")), -4)
		reading, err := scale.Reading(density)
		require.NoError(t, err)
		back, err := scale.Density(reading)
		require.NoError(t, err)
		require.True(t, back.Sub(density).Abs().LessThan(d("1e-18")), "%s %s read back as %s", scale, density, back)
	})
}

// The uncertainty is carried over by the slope of the scale: half the difference between a little above and a little below.
func TestScaleCarriesUncertainty(t *testing.T) {
	for scale, reading := range map[Scale]string{GramsPerML: "1.33", Gravity60F: "1.33", Twaddell: "71.4", Baume145: "38", Baume144: "38"} {
		step := d("0.001")
		got, err := scale.Measured(measure.Measured{Value: d(reading), U: step}, scale.madeFor())
		require.NoError(t, err)
		above, err := scale.Density(d(reading).Add(step))
		require.NoError(t, err)
		below, err := scale.Density(d(reading).Sub(step))
		require.NoError(t, err)
		reference.Within(t, above.Sub(below).Div(d("2")), got.U, step.Mul(d("1e-6")), scale)
	}
	for _, bad := range []measure.Measured{measured("38", "-1"), measured("200", "1")} {
		_, err := Baume145.Measured(bad, d("20"))
		require.ErrorIs(t, err, ErrInput)
	}
}

// By hand: 40 °C above its own temperature glass shows 0.1 % too much, at 1.33 g/mL 0.00133, whose rectangular uncertainty is 0.00133/√3 = 0.000768;
// with a reading good to 0.001, hypot(0.001/√3, 0.000768) = 0.000961.
func TestGlassCountsByItsTemperature(t *testing.T) {
	reading := measure.Measured{Value: d("1.33")}
	for _, v := range []struct{ celsius, half, want string }{{"20", "0", "0"}, {"60", "0", "0.000768"}, {"60", "0.001", "0.000961"}, {"0", "0", "0.000384"}} {
		reading.U = measure.Rectangular(d(v.half))
		got, err := GramsPerML.Measured(reading, d(v.celsius))
		require.NoError(t, err)
		reference.Within(t, d(v.want), got.U, d("0.0000005"), v.celsius)
	}
	got, err := Twaddell.Measured(measure.Measured{Value: d("71.4")}, d("15.56"))
	require.NoError(t, err)
	require.True(t, got.U.IsZero(), "made for 60 °F")
}

func TestScaleRefusals(t *testing.T) {
	for _, v := range []struct {
		scale   Scale
		reading string
		why     string
	}{
		{"Be", "38", "not known"}, {"", "1.3", "not known"}, {GramsPerML, "38", "no lye has"}, {GramsPerML, "0", "no lye has"},
		{Baume145, "145", "beyond the end"}, {Baume144, "140", "no lye has"}, {Twaddell, "-200", "no lye has"}, {Gravity60F, "1330", "no lye has"},
	} {
		_, err := v.scale.Density(d(v.reading))
		require.ErrorIs(t, err, ErrInput, "%v", v)
		require.ErrorContains(t, err, v.why, "%v", v)
	}
	_, err := Twaddell.Reading(d("0"))
	require.ErrorIs(t, err, ErrInput)
	_, err = Scale("Be").Reading(d("1.3"))
	require.ErrorIs(t, err, ErrInput)
}
