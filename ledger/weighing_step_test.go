package ledger_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
	"ashbook/ledger/measure"
)

// An ounce is 28.349523125 g by definition (international pound of 1959); the shop's scales show 0.1 g, and 0.01 g below 10 g.
func TestStepOfAWeighing(t *testing.T) {
	t.Parallel()
	for _, v := range []struct {
		typed string
		unit  measure.Unit
		want  string
	}{
		{"500", measure.Gram, "0.1"}, {"500.25", measure.Gram, "0.01"}, {"5", measure.Gram, "0.01"}, {"5.5", measure.Gram, "0.01"}, {"5.512", measure.Gram, "0.001"},
		{"1", measure.Kilogram, "0.1"}, {"1/2", measure.Kilogram, "0.1"}, {"1.25", measure.Kilogram, "10"}, {"1.250", measure.Kilogram, "1"},
		{"1.25005", measure.Kilogram, "0.01"},
		{"12", measure.Ounce, "28.349523125"}, {"12.5", measure.Ounce, "2.8349523125"}, {"12 3/8", measure.Ounce, "3.543690390625"}, {"0.25", measure.Ounce, "0.28349523125"},
		{"1 lb 3 oz", measure.PoundOunce, "28.349523125"}, {"1 lb 3.1 oz", measure.PoundOunce, "2.8349523125"}, {"2 lb", measure.PoundOunce, "28.349523125"},
		{"2", measure.Pound, "28.349523125"}, {"2 1/2", measure.Pound, "28.349523125"}, {"2.05", measure.Pound, "4.5359237"},
	} {
		m, err := measure.ParseMass(v.typed, v.unit, measure.Bulk{})
		require.NoError(t, err, v.typed)
		require.Equal(t, v.want, ledger.StepOf(m).String(), "%s %s", v.typed, v.unit)
	}
	spoon, err := measure.ParseMass("2", measure.Teaspoon, measure.Bulk{Density: dec("1")})
	require.NoError(t, err)
	require.True(t, ledger.StepOf(spoon).IsZero())
}

// weighedOn weighs the lines of a batch, coconut oil in whole ounces on the named scale and olive oil as given on the same one.
func (w *workshop) weighedOn(scale string, olive measure.Mass) int64 {
	w.t.Helper()
	b := w.started()
	for i, line := range b.Lines {
		taken := &ledger.WeighingTaken{Batch: b.ID, Line: i + 1, Lot: w.lotFor(line.Material), Mass: grams(line.Grams.String()), SecondCheck: ledger.SecondMethod}
		switch line.Material {
		case w.coconut:
			taken.Mass, taken.Scale = measure.Mass{Typed: "11", Unit: measure.Ounce}, scale
		case w.olive:
			taken.Mass, taken.Scale = olive, scale
		}
		_, err := w.l.Record(w.t.Context(), w.owner, ledger.Request{Override: "a test of the scales", Body: taken})
		require.NoError(w.t, err)
	}
	return b.ID
}

// massOf is the input that the mass of a material is in the doubt of the superfat, and the standard uncertainty of that mass in grams, worked
// back from its share by the slope (1 - superfat) × SAP / KOH taken up.
func (w *workshop) massOf(batch int64, name string, sap, taken float64) (ledger.LyeInput, float64) {
	w.t.Helper()
	s, err := w.l.Lye(w.t.Context(), batch)
	require.NoError(w.t, err)
	for _, in := range s.Budget.Inputs {
		if in.Name == name && in.Quantity == "mass" {
			u := math.Sqrt(in.Share.InexactFloat64()) * s.Budget.Uncertainty.InexactFloat64()
			return in, u * taken / sap / (1 - s.Superfat.InexactFloat64())
		}
	}
	require.Fail(w.t, "no mass of "+name)
	return ledger.LyeInput{}, 0
}

// One weighing in whole ounces, by hand: √(28.35²/6 + 28.35²/3) = 20.05 g. In tenths it is a tenth of that, in the hundredths that the same scale
// showed for the olive oil a hundredth; figures in grams say nothing of its ounces, nor does a scale without a name. 700 g at 190 and 311.84 g
// at 256.5 mg/g, the middles of the ranges, take 213.0 g of KOH.
func TestWholeOuncesAreGoodToAnOunce(t *testing.T) {
	t.Parallel()
	for _, v := range []struct {
		scale, olive string
		unit         measure.Unit
		step         string
		u            float64
	}{
		{"old kitchen scale", "25", measure.Ounce, "28.35", 20.05}, {"old kitchen scale", "24.7", measure.Ounce, "2.835", 2.005},
		{"old kitchen scale", "1 lb 8.69 oz", measure.PoundOunce, "0.283", 0.2005}, {"old kitchen scale", "700.1", measure.Gram, "28.35", 20.05},
		{"", "24.69", measure.Ounce, "28.35", 20.05},
	} {
		w := newWorkshop(t)
		olive, err := measure.ParseMass(v.olive, v.unit, measure.Bulk{})
		require.NoError(t, err)
		taken := olive.Grams.InexactFloat64()*0.190 + 11*28.349523125*0.2565
		in, u := w.massOf(w.weighedOn(v.scale, olive), "Coconut oil", 0.2565, taken)
		require.Equal(t, v.step, in.Step.String(), "%+v", v)
		require.InDelta(t, v.u, u, v.u*0.02+0.01, "%+v", v) // its share is rounded to a millionth
	}
}
