package soap

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var fine = Scale{Step: d("0.1"), Limit: d("0.1")}

// entered is the worked example of an uncertainty: four oils, 143.8 g NaOH of 0.98 ± 0.01, all on a scale of 0.1 g.
func entered() ([]Oil, []Alkali) {
	oils := fourOils()
	for i := range oils {
		oils[i].GramsU = fine.U()
	}
	return oils, []Alkali{{Kind: NaOH, Grams: d("143.8"), GramsU: fine.U(), Purity: d("0.98"), PurityHalf: d("0.01")}}
}

// The worked budget, computed beforehand with other software; its derivatives were confirmed there by central
// differences, and its interval by a Monte Carlo of 1,000,000 draws.
func TestWorkedBudget(t *testing.T) {
	b, err := Uncertainty(entered())
	require.NoError(t, err)
	require.InDelta(t, 0.05006984433010753, toFloat(b.Superfat), 1e-12)
	require.InDelta(t, 0.012289458145657859, b.U, 1e-9)
	require.InDelta(t, 0.02590, b.Low, 0.0001)
	require.InDelta(t, 0.07340, b.High, 0.0001)
	require.InDelta(t, 0, b.LyeHeavy, 1e-6)
	for i, want := range []Input{
		{"olive", SAPValue, 0.0079064, 0.4139}, {"coconut", SAPValue, 0.0056004, 0.2077}, {NaOH, Purity, 0.0055964, 0.2074},
		{"palm", SAPValue, 0.0050074, 0.1660}, {"castor", SAPValue, 0.0007248, 0.0035}, {NaOH, Mass, 0.0004671, 0.0014},
	} {
		got := b.Inputs[i]
		require.Equal(t, want.Name+", "+want.Quantity, got.Name+", "+got.Quantity)
		require.InDelta(t, want.U, got.U, 1e-7, got.Name)
		require.InDelta(t, want.Share, got.Share, 0.00005, got.Name)
	}
	require.Len(t, b.Inputs, 10)
	for _, in := range b.Inputs[6:] {
		require.Equal(t, Mass, in.Quantity)
		require.Less(t, in.U, 0.00009, in.Name)
		require.Less(t, in.Share, 0.0001, in.Name)
	}
	require.Equal(t, "The saponification value of olive counts most: it makes 41 % of the superfat's variance; a certificate for the oil's lot would narrow it.", b.Words())
}

// The same batch with ten times less of everything on the same scale: the mass of the alkali makes about 0.47
// percentage points, about 13 % of the variance; and at 2 % superfat u is 0.0127.
func TestWorkedBudgetSmallAndLean(t *testing.T) {
	oils, alkalis := entered()
	lean := slices.Clone(alkalis)
	lean[0].Grams = d("148.35195951919238") // 0.98 of it is hydroxide, and 0.98 of what the oils take
	b, err := Uncertainty(oils, lean)
	require.NoError(t, err)
	require.InDelta(t, 0.02, toFloat(b.Superfat), 1e-9)
	require.InDelta(t, 0.0127, b.U, 0.00005)
	require.InDelta(t, -0.0009, toFloat(b.Superfat)-1.645*b.U, 0.0001)

	for i := range oils {
		oils[i].Grams = oils[i].Grams.Shift(-1)
	}
	alkalis[0].Grams = d("14.4")
	b, err = Uncertainty(oils, alkalis)
	require.NoError(t, err)
	at := slices.IndexFunc(b.Inputs, func(in Input) bool { return in.Name == NaOH && in.Quantity == Mass })
	require.InDelta(t, 0.0047, b.Inputs[at].U, 0.00005)
	require.InDelta(t, 0.13, b.Inputs[at].Share, 0.01)
}

// A bar of unrefined shea butter, SAP 160 to 195, has a superfat below zero exactly if the value is below what the alkali
// stands for: a chance that can be worked out by hand. A normal law misses it by far.
func TestSingleWideRangeByHand(t *testing.T) {
	oils := []Oil{{Name: "shea", Grams: d("1000"), SAPMin: d("160"), SAPMax: d("195")}}
	for _, v := range []struct {
		value  string // the SAP at which the superfat is nil
		chance float64
	}{{"159", 0}, {"161.75", 0.05}, {"163.5", 0.1}, {"177.5", 0.5}, {"191.5", 0.9}, {"195.5", 1}} {
		b, err := Uncertainty(oils, []Alkali{weighed(KOH, d(v.value), d("1"))})
		require.NoError(t, err)
		require.InDelta(t, v.chance, b.LyeHeavy, 0.0002, v.value)
		require.InDelta(t, 1-toFloat(d(v.value))/160.875, b.Low, 0.0001)
		require.InDelta(t, 1-toFloat(d(v.value))/194.125, b.High, 0.0001)
		require.InDelta(t, toFloat(d(v.value))/177.5*17.5/177.5/math.Sqrt(3), b.U, 1e-12)
	}
}

func TestExactInputsHaveNoSpread(t *testing.T) {
	oils := []Oil{point("olive", "1000", "190")}
	for value, heavy := range map[string]float64{"180": 0, "190": 0, "191": 1} {
		b, err := Uncertainty(oils, []Alkali{weighed(KOH, d(value), d("1"))})
		require.NoError(t, err)
		require.Equal(t, []float64{0, heavy}, []float64{b.U, b.LyeHeavy}, value)
		require.InDelta(t, toFloat(b.Superfat), b.Low, 1e-12)
		require.InDelta(t, toFloat(b.Superfat), b.High, 1e-12)
		require.Empty(t, b.Inputs)
		require.Equal(t, "Every input is taken as exact, so the superfat has no spread.", b.Words())
	}
}

// twelveOils has the ranges of chem-sap.csv.
func twelveOils() ([]Oil, []Alkali) {
	ranges := [][3]string{
		{"300", "184", "196"}, {"250", "248", "265"}, {"200", "190", "209"}, {"50", "176", "187"}, {"120", "160", "195"}, {"80", "192", "200"},
		{"60", "188", "194"}, {"40", "182", "193"}, {"90", "190", "202"}, {"30", "230", "254"}, {"25", "92", "95"}, {"55", "183", "207"},
	}
	var oils []Oil
	for i, r := range ranges {
		oils = append(oils, Oil{Name: string(rune('a' + i)), Grams: d(r[0]), GramsU: d("0.070711"), SAPMin: d(r[1]), SAPMax: d(r[2])})
	}
	return oils, []Alkali{{Kind: NaOH, Grams: d("184.9"), GramsU: d("0.070711"), Purity: d("0.98"), PurityHalf: d("0.01")}}
}

// The budget against a Monte Carlo of the superfat itself, with products and quotient as they are.
func TestBudgetAgainstMonteCarlo(t *testing.T) {
	four, lye := entered()
	lean := slices.Clone(lye)
	lean[0].Grams = d("148.0")
	twelve, lye12 := twelveOils()
	shea := []Oil{{Name: "shea", Grams: d("500"), GramsU: d("0.7"), SAPMin: d("160"), SAPMax: d("195")}}
	bar := []Alkali{{Kind: NaOH, Grams: d("58.6"), GramsU: d("0.07"), Purity: d("0.99"), PurityHalf: d("0.005")}}
	both := []Alkali{
		{Kind: NaOH, Grams: d("89"), GramsU: d("0.07"), Purity: d("0.98"), PurityHalf: d("0.01")},
		{Kind: KOH, Grams: d("104"), GramsU: d("0.07"), Purity: d("0.90"), PurityHalf: d("0.03")},
	}
	coarse := []Oil{{Name: "olive", Grams: d("80"), GramsU: d("0.24"), SAPMin: d("184"), SAPMax: d("196")}, {Name: "beeswax", Grams: d("5"), GramsU: d("0.05"), SAPMin: d("87"), SAPMax: d("104")}}
	for name, c := range map[string]struct {
		oils    []Oil
		alkalis []Alkali
		acids   []Acid
	}{
		"four oils": {four, lye, nil}, "four oils, lean": {four, lean, nil}, "one wide range near zero": {shea, bar, nil}, "twelve oils": {twelve, lye12, nil},
		"two alkalis and an acid": {four, both, []Acid{CitricAcid(d("10"))}}, "a coarse scale": {coarse, []Alkali{weighed(NaOH, d("11"), d("0.98"))}, nil},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			const draws = 1_000_000
			b, err := Uncertainty(c.oils, c.alkalis, c.acids...)
			require.NoError(t, err)
			drawn := monteCarlo(t, draws, c.oils, c.alkalis, c.acids)
			sd, heavy := sdAndBelowZero(drawn)
			slices.Sort(drawn)
			t.Logf("ours u %.6f, %.5f to %.5f, P %.5f; drawn %.6f, %.5f to %.5f, %.5f", b.U, b.Low, b.High, b.LyeHeavy, sd, drawn[draws/40], drawn[draws-draws/40], heavy)
			require.InDelta(t, heavy, b.LyeHeavy, max(4*math.Sqrt(heavy*(1-heavy)/draws), 0.0002), "chance of free lye")
			require.InEpsilon(t, sd, b.U, 0.01, "standard uncertainty")
			require.InDelta(t, drawn[draws/40], b.Low, 0.0005, "lower end")
			require.InDelta(t, drawn[draws-draws/40], b.High, 0.0005, "upper end")
		})
	}
}

func monteCarlo(t *testing.T, draws int, oils []Oil, alkalis []Alkali, acids []Acid) []float64 {
	taken, err := acidMoles(acids)
	require.NoError(t, err)
	r := rand.New(rand.NewPCG(1908, 2026))
	between := func(low, high float64) float64 { return low + (high-low)*r.Float64() }
	type quantity struct{ grams, u, low, high float64 }
	var fats, lyes []quantity
	for _, o := range oils {
		fats = append(fats, quantity{o.Grams.InexactFloat64(), o.GramsU.InexactFloat64(), o.SAPMin.InexactFloat64() / 56105.6, o.SAPMax.InexactFloat64() / 56105.6})
	}
	for _, a := range alkalis {
		molar := map[string]float64{NaOH: 39.997, KOH: 56.1056}[a.Kind]
		p, h := a.Purity.InexactFloat64(), a.PurityHalf.InexactFloat64()
		lyes = append(lyes, quantity{a.Grams.InexactFloat64(), a.GramsU.InexactFloat64(), (p - h) / molar, (p + h) / molar})
	}
	out := make([]float64, draws)
	for i := range out {
		need, have := 0.0, -taken.InexactFloat64()
		for _, q := range fats {
			need += (q.grams + q.u*r.NormFloat64()) * between(q.low, q.high)
		}
		for _, q := range lyes {
			have += (q.grams + q.u*r.NormFloat64()) * between(q.low, q.high)
		}
		out[i] = 1 - have/need
	}
	return out
}

func sdAndBelowZero(drawn []float64) (sd, below float64) {
	mean := 0.0
	for _, s := range drawn {
		mean += s / float64(len(drawn))
		if s < 0 {
			below++
		}
	}
	for _, s := range drawn {
		sd += (s - mean) * (s - mean) / float64(len(drawn)-1)
	}
	return math.Sqrt(sd), below / float64(len(drawn))
}

// More alkali never lowers the chance of free lye, a narrower range never widens the spread, shares add up to 1.
func TestBudgetProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		thousandths := func(name string, lo, hi int) decimal.Decimal {
			return decimal.New(int64(rapid.IntRange(lo, hi).Draw(t, name)), -3)
		}
		var oils []Oil
		for range rapid.IntRange(1, 8).Draw(t, "oils") {
			low := thousandths("sap", 80_000, 265_000)
			oils = append(oils, Oil{Name: "oil", Grams: thousandths("grams", 1000, 900_000), GramsU: thousandths("u", 0, 100), SAPMin: low, SAPMax: low.Add(thousandths("spread", 100, 35_000))})
		}
		purity := thousandths("purity", 850, 1000)
		grams, err := AlkaliToWeigh(oils, thousandths("superfat", 0, 80), purity, NaOH)
		require.NoError(t, err)
		lye := []Alkali{{Kind: NaOH, Grams: grams, GramsU: thousandths("u", 0, 100), Purity: purity, PurityHalf: thousandths("half", 0, 30)}}
		b, err := Uncertainty(oils, lye)
		require.NoError(t, err)
		require.True(t, 0 <= b.LyeHeavy && b.LyeHeavy <= 1)
		require.True(t, b.Low < toFloat(b.Superfat) && toFloat(b.Superfat) < b.High)
		sum := 0.0
		for i, in := range b.Inputs {
			sum += in.Share
			require.True(t, i == 0 || b.Inputs[i-1].U >= in.U)
		}
		require.InDelta(t, 1, sum, 1e-9)

		more := slices.Clone(lye)
		more[0].Grams = grams.Mul(one.Add(thousandths("more", 0, 30)))
		heavier, err := Uncertainty(oils, more)
		require.NoError(t, err)
		require.GreaterOrEqual(t, heavier.LyeHeavy, b.LyeHeavy-2e-4, "more alkali")

		certified := slices.Clone(oils)
		at := rapid.IntRange(0, len(oils)-1).Draw(t, "certified")
		value, width := oils[at].SAP(), oils[at].SAPMax.Sub(oils[at].SAPMin).Mul(thousandths("width", 0, 500))
		certified[at].SAPMin, certified[at].SAPMax = value.Sub(width), value.Add(width)
		sure, err := Uncertainty(certified, lye)
		require.NoError(t, err)
		require.LessOrEqual(t, sure.U, b.U+1e-12, "a certificate")
		require.LessOrEqual(t, sure.High-sure.Low, b.High-b.Low+1e-4, "a certificate")
	})
}

func TestUncertaintyRefusals(t *testing.T) {
	for _, spoil := range []func(o *Oil, a *Alkali){
		func(o *Oil, _ *Alkali) { o.GramsU = d("-0.1") },
		func(o *Oil, _ *Alkali) { o.SAPMax = d("1") },
		func(_ *Oil, a *Alkali) { a.GramsU = d("-0.1") },
		func(_ *Oil, a *Alkali) { a.PurityHalf = d("-0.01") },
		func(_ *Oil, a *Alkali) { a.PurityHalf = d("0.98") },
	} {
		oils, alkalis := entered()
		spoil(&oils[0], &alkalis[0])
		_, err := Uncertainty(oils, alkalis)
		require.ErrorIs(t, err, ErrInput)
	}
}

// A scale of 0.1 g with as much linearity: 0.070711 g, as in the worked budget.
func TestScale(t *testing.T) {
	require.InDelta(t, 0.070711, toFloat(fine.U()), 5e-7)
	require.Equal(t, fine.U().String(), Scale{Step: d("0.1")}.U().String(), "no limit is one step")
	require.InDelta(t, math.Hypot(1/math.Sqrt(6), 3/math.Sqrt(3)), toFloat(Scale{Step: d("1"), Limit: d("3")}.U()), 1e-11)
	require.True(t, Scale{}.U().IsZero())
	for _, v := range [][3]string{
		{"143.8105", "0.1", "143.8"}, {"143.85", "0.1", "143.9"}, {"-143.85", "0.1", "-143.9"}, {"143.81", "5", "145"}, {"142.5", "5", "145"}, {"0.26", "0.5", "0.5"},
		{"0.249", "0.5", "0"}, {"7.123", "0", "7.123"}, {"10", "3", "9"},
	} {
		require.Equal(t, v[2], ToStep(d(v[0]), d(v[1])).String(), "%v", v)
	}
}

func TestToFloatIsTheNearest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := decimal.New(rapid.Int64().Draw(t, "coefficient"), int32(rapid.IntRange(-40, 30).Draw(t, "exponent")))
		require.Equal(t, v.InexactFloat64(), toFloat(v))
	})
}

func BenchmarkUncertainty12Oils(b *testing.B) {
	oils, alkalis := twelveOils()
	for b.Loop() {
		if _, err := Superfat(oils, alkalis); err != nil {
			b.Fatal(err)
		}
		if _, err := Uncertainty(oils, alkalis); err != nil {
			b.Fatal(err)
		}
	}
}
