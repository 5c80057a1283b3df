package assay

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"ashbook/ledger/measure"
	"ashbook/testdata/reference"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func d(s string) decimal.Decimal { return decimal.RequireFromString(s) }

func exact(value string) measure.Measured { return measure.Measured{Value: d(value)} }

func measured(value, u string) measure.Measured { return measure.Measured{Value: d(value), U: d(u)} }

// found is a result that has to be there.
func found(r Result, err error) Result {
	if err != nil {
		panic(err)
	}
	return r
}

// The textbook exercise: 25 mL blank, 15 mL sample, 0.5 N, 1.5 g.
var textbook = Saponified{exact("25"), exact("15"), Titrant(d("0.5"), exact("1")), exact("1.5")}

// The published and the beforehand computed values, each within the tolerance that its row states.
func TestCheckValues(t *testing.T) {
	value := func(r Result, err error) decimal.Decimal { return found(r, err).Value }
	oneMillilitre := func(grams string) Titration { return Titration{exact("1"), exact("0.1"), exact(grams)} }
	for id, got := range map[string]decimal.Decimal{
		"sap_titration_textbook":       value(textbook.value(d("56"))),
		"sap_titration_full_precision": value(SaponificationValue(textbook)),
		"free_alkali_1908_factor":      value(found(CausticByEthanol(oneMillilitre("2"))).ExpressedAs("Na2O")),
		"free_alkali_naoh_factor":      value(CausticByEthanol(oneMillilitre("2"))),
		"free_alkali_10g":              value(CausticByEthanol(oneMillilitre("10.00"))),
	} {
		reference.Holds(t, id, got)
	}
}

// 1.500 g, 36.80 mL of 1 N in all, 0.30 mL of it after phenolphthalein: the factors are those of the USP monograph.
func TestTwoIndicators(t *testing.T) {
	row := reference.Value("usp_total_alkali")
	expected := strings.Split(row["expected"], " / ")
	c, err := TwoIndicators{NaOH, exact("36.80"), exact("0.30"), Titrant(d("1"), exact("1")), exact("1.500")}.Assay()
	require.NoError(t, err)
	for i, got := range []Result{c.TotalAlkali, c.Carbonate, c.Hydroxide} {
		reference.Within(t, d(expected[i]), got.Value, d(row["tolerance"]), "%s: %s", got.Test, row["source"])
	}
	// Total alkali is hydroxide and what the carbonate counts for, 2 × 40.00 / 106.0.
	counted := c.Carbonate.Value.Mul(d("80")).Div(d("106"))
	reference.Within(t, c.TotalAlkali.Value, c.Hydroxide.Value.Add(counted), d("1e-12"))

	potash, err := TwoIndicators{KOH, exact("20.00"), exact("0.20"), exact("1"), exact("1.250")}.Assay()
	require.NoError(t, err)
	reference.Within(t, d("89.776"), potash.TotalAlkali.Value, d("0.001"), "20.00 × 56.11 / 12.50")
	reference.Within(t, d("2.2112"), potash.Carbonate.Value, d("0.0001"), "0.20 × 138.2 / 12.50")
	reference.Within(t, d("87.9805"), potash.Hydroxide.Value, d("0.0001"), "19.60 × 56.11 / 12.50")
	require.Equal(t, "K2CO3", potash.Carbonate.As)
}

// By hand, from the formulas of the standards.
func TestWorkedByHand(t *testing.T) {
	reference.Within(t, d("0.0561"), found(CausticByBarium(Titration{exact("1"), exact("0.1"), exact("10")})).Value, d("1e-12"))
	back := BackTitration{exact("10"), exact("0.1"), exact("8"), exact("0.1"), exact("5")}
	reference.Within(t, d("0.16"), found(FreeAlkali(back, NaOH)).Value, d("1e-12"), "(1.0 - 0.8) × 4.0 / 5")
	reference.Within(t, d("0.2244"), found(FreeAlkali(back, KOH)).Value, d("1e-12"), "(1.0 - 0.8) × 5.61 / 5")
	whole := BackTitration{exact("40"), exact("1"), exact("25"), exact("1"), exact("5")}
	reference.Within(t, d("12"), found(WholeAlkali(whole, NaOH)).Value, d("1e-12"), "(40 - 25) × 4.0 / 5")
	reference.Within(t, d("0.585"), found(ChlorideAsNaCl(Titration{exact("10"), exact("0.1"), exact("10")})).Value, d("1e-12"))
	reference.Within(t, d("74.48"), found(TotalFattyMatter(Fatty{exact("4.256"), exact("14"), exact("1"), exact("5")})).Value, d("1e-9"), "(4.256 - 0.532) × 100 / 5")
	reference.Within(t, d("12.5"), found(MoistureByOven(exact("8"), exact("7"))).Value, d("1e-12"))
	acid := found(FreeAlkali(BackTitration{exact("10"), exact("0.1"), exact("10.1"), exact("0.1"), exact("5")}, NaOH))
	require.True(t, acid.Value.IsNegative(), "an acid sample")

	caustic := found(CausticByEthanol(Titration{exact("1"), exact("0.1"), exact("2")}))
	millimoles, err := caustic.MillimolesPerGram()
	require.NoError(t, err)
	reference.Within(t, d("0.05"), millimoles.Value, d("1e-12"), "0.1 mmol in 2 g")
	potash, err := caustic.ExpressedAs(KOH)
	require.NoError(t, err)
	reference.Within(t, d("0.28055"), potash.Value, d("1e-12"))
	_, err = millimoles.ExpressedAs(KOH)
	require.ErrorIs(t, err, ErrInput)
	_, err = found(MoistureByOven(exact("8"), exact("7"))).MillimolesPerGram()
	require.ErrorIs(t, err, ErrInput)
	require.Equal(t, "0.10032", Titrant(d("0.1"), measured("1.0032", "0.001")).Value.String())
	require.Equal(t, "0.0001", Titrant(d("0.1"), measured("1.0032", "0.001")).U.String())
}

// Every propagated uncertainty against a simulation of 200 000 draws, fixed seed: the standard deviation of so many is good to 0.16 %.
func TestUncertaintyAgainstSimulation(t *testing.T) {
	random := rand.New(rand.NewPCG(2026, 1125))
	draw := func(m measure.Measured) float64 {
		return m.Value.InexactFloat64() + m.U.InexactFloat64()*random.NormFloat64()
	}
	check := func(r Result, err error, formula func() float64) {
		t.Helper()
		require.NoError(t, err)
		const n = 200_000
		sum, squares := 0.0, 0.0
		centre := r.Value.InexactFloat64()
		for range n {
			x := formula() - centre
			sum, squares = sum+x, squares+x*x
		}
		sd := math.Sqrt(squares/n - sum*sum/n/n)
		require.InDelta(t, 0, sum/n, 5*sd/math.Sqrt(n), r.Test)
		require.InEpsilon(t, sd, r.U, 0.01, r.Test)
	}
	straight := Titration{measured("1.25", "0.03"), measured("0.1003", "0.0004"), measured("10.02", "0.01")}
	of := func(k float64) func() float64 {
		return func() float64 {
			return draw(straight.Volume) * draw(straight.Concentration) * k / draw(straight.Sample)
		}
	}
	r, err := CausticByEthanol(straight)
	check(r, err, of(4.00))
	r, err = CausticByBarium(straight)
	check(r, err, of(5.61))
	r, err = ChlorideAsNaCl(straight)
	check(r, err, of(5.85))

	back := BackTitration{measured("30.00", "0.03"), measured("0.5010", "0.001"), measured("28.40", "0.03"), measured("0.5000", "0.001"), measured("5.000", "0.005")}
	r, err = FreeAlkali(back, NaOH)
	check(r, err, func() float64 {
		return (draw(back.Acid)*draw(back.AcidConcentration) - draw(back.Alkali)*draw(back.AlkaliConcentration)) * 4.00 / draw(back.Sample)
	})
	fatty := Fatty{measured("4.256", "0.004"), measured("14.00", "0.05"), measured("1.000", "0.004"), measured("5.000", "0.003")}
	r, err = TotalFattyMatter(fatty)
	check(r, err, func() float64 {
		return (draw(fatty.Dried) - draw(fatty.Alkali)*draw(fatty.Concentration)*0.038) * 100 / draw(fatty.Sample)
	})
	wet, dry := measured("8.000", "0.004"), measured("7.000", "0.005")
	r, err = MoistureByOven(wet, dry)
	check(r, err, func() float64 { w := draw(wet); return (w - draw(dry)) * 100 / w })

	sap := Saponified{measured("25.00", "0.03"), measured("13.00", "0.03"), measured("0.5000", "0.001"), measured("1.760", "0.002")}
	r, err = SaponificationValue(sap)
	check(r, err, func() float64 {
		return (draw(sap.Blank) - draw(sap.Sample)) * draw(sap.Concentration) * 56.1056 / draw(sap.Fat)
	})
	lye := TwoIndicators{NaOH, measured("36.80", "0.03"), measured("0.30", "0.02"), measured("1.000", "0.001"), measured("1.500", "0.001")}
	c, err := lye.Assay()
	check(c.TotalAlkali, err, func() float64 { return draw(lye.Total) * draw(lye.Concentration) * 4.000 / draw(lye.Sample) })
	check(c.Carbonate, err, func() float64 { return draw(lye.After) * draw(lye.Concentration) * 10.60 / draw(lye.Sample) })
	check(c.Hydroxide, err, func() float64 {
		return (draw(lye.Total) - 2*draw(lye.After)) * draw(lye.Concentration) * 4.000 / draw(lye.Sample)
	})
}

// A result scales with what went into it and never carries less uncertainty for a worse reading.
func TestTitrationProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string, low, high int) decimal.Decimal {
			return decimal.New(int64(rapid.IntRange(low, high).Draw(t, name)), -2)
		}
		in := Titration{measure.Measured{Value: draw("volume", 0, 5000), U: draw("u", 0, 10)}, measure.Measured{Value: d("0.1"), U: d("0.0002")}, measure.Measured{Value: draw("sample", 200, 5000), U: d("0.01")}}
		r := found(CausticByEthanol(in))
		twice := in
		twice.Volume.Value = in.Volume.Value.Mul(d("2"))
		require.True(t, found(CausticByEthanol(twice)).Value.Sub(r.Value.Mul(d("2"))).Abs().LessThan(d("1e-20")))
		worse := in
		worse.Volume.U = in.Volume.U.Add(d("0.05"))
		require.Greater(t, found(CausticByEthanol(worse)).U, r.U)
		low, high := r.Interval()
		require.True(t, low.LessThanOrEqual(r.Value) && r.Value.LessThanOrEqual(high))
	})
}

func TestRefusals(t *testing.T) {
	good := Titration{exact("1"), exact("0.1"), exact("2")}
	direct := func(change func(*Titration)) error {
		in := good
		change(&in)
		_, err := CausticByEthanol(in)
		_, other := CausticByBarium(in)
		_, third := ChlorideAsNaCl(in)
		require.Equal(t, err, other)
		require.Equal(t, err, third)
		return err
	}
	back := BackTitration{exact("10"), exact("0.1"), exact("8"), exact("0.1"), exact("5")}
	for name, err := range map[string]error{
		"volume":        direct(func(in *Titration) { in.Volume = exact("-1") }),
		"flood":         direct(func(in *Titration) { in.Volume = exact("1001") }),
		"concentration": direct(func(in *Titration) { in.Concentration = exact("0") }),
		"mass":          direct(func(in *Titration) { in.Sample = exact("0") }),
		"uncertainty":   direct(func(in *Titration) { in.Sample = measured("1", "-1") }),
		"too much":      second(CausticByEthanol(Titration{exact("50"), exact("1"), exact("1")})),
		"as":            second(FreeAlkali(back, "NaCl")),
		"as whole":      second(WholeAlkali(back, "")),
		"back":          second(FreeAlkali(BackTitration{exact("10"), exact("0.1"), exact("8"), exact("0"), exact("5")}, NaOH)),
		"whole":         second(WholeAlkali(BackTitration{exact("500"), exact("1"), exact("0"), exact("1"), exact("5")}, NaOH)),
		"dried":         second(TotalFattyMatter(Fatty{exact("0"), exact("1"), exact("1"), exact("1")})),
		"light":         second(TotalFattyMatter(Fatty{exact("0.1"), exact("14"), exact("1"), exact("5")})),
		"gained":        second(MoistureByOven(exact("7"), exact("8"))),
		"nothing":       second(MoistureByOven(exact("0"), exact("0"))),
		"turned":        second(SaponificationValue(Saponified{exact("15"), exact("25"), exact("0.5"), exact("1.5")})),
		"no fat":        second(SaponificationValue(Saponified{exact("25"), exact("15"), exact("0.5"), exact("0")})),
	} {
		require.ErrorIs(t, err, ErrInput, name)
		require.NotContains(t, err.Error(), "\n", name)
	}
	for _, in := range []TwoIndicators{
		{"LiOH", exact("36"), exact("0.3"), exact("1"), exact("1.5")}, {NaOH, exact("36"), exact("19"), exact("1"), exact("1.5")},
		{NaOH, exact("36"), exact("0.3"), exact("1"), exact("0")}, {NaOH, exact("360"), exact("0.3"), exact("1"), exact("1.5")},
	} {
		_, err := in.Assay()
		require.ErrorIs(t, err, ErrInput)
	}
}

func second(_ Result, err error) error { return err }
