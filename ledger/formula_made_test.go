package ledger_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
	"ashbook/ledger/made"
)

// The four-oil formula as it is planned, 143.8 g of lye and 292 g of water, against testdata/reference/chem-check-values.csv, whose
// figures are of 143.8106 and 291.979 g: soap 68.448 %, glycerol 7.534 %, water 20.336 %, total fatty matter 66.5 %. Dried to
// 10 % of water it weighs 0.79663 / 0.9 of the pour.
func TestFormulaAsMade(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	f := record(w, w.fourOils())
	m, err := w.l.FormulaMade(t.Context(), f.ID)
	require.NoError(t, err)
	require.Equal(t, "1435.8", m.Poured.Grams.String())
	for what, percent := range map[made.What]string{made.Soap: "68.44", made.AnyWater: "20.34", made.Glycerol: "7.53", made.FreeOil: "3.49", made.RestOfAlkali: "0.20"} {
		got := dec(inPercent(m, what, false))
		require.True(t, got.Sub(dec(percent)).Abs().LessThanOrEqual(dec("0.01")), "%s: %s, not %s", what, got, percent)
	}
	require.Equal(t, "66.5", m.Poured.FattyMatter.Shift(2).StringFixed(1))
	require.Equal(t, "7.53", m.Poured.Glycerol.Shift(2).StringFixed(2))
	require.Equal(t, "10.000", m.Now.Water.Shift(2).StringFixed(3))
	require.Equal(t, "0.885", m.Now.Grams.Div(m.Poured.Grams).StringFixed(3))
	require.Equal(t, "12", m.Pieces.String())
	require.Empty(t, m.Added[0].Lots)
	require.NotNil(t, m.Added[0].Lots)
	require.Empty(t, m.Scents)
	_, err = w.l.FormulaMade(t.Context(), 1)
	fault(t, err, ledger.NotFound)
}

// A plan through a stock lye and a dispersion comes to what is weighed by it to the gram. White mica and the scent stay as added.
func TestFormulaAsMadeThroughPreparedMaterials(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	x := w.layered()
	m, err := w.l.FormulaMade(t.Context(), x.batch.FormulaVersion)
	require.NoError(t, err)
	got := map[string]string{}
	for _, a := range m.Added {
		got[a.Name] = a.Grams.StringFixed(2)
	}
	plan := map[int64]string{}
	for _, line := range x.batch.Lines {
		plan[line.Material] = line.Grams.StringFixed(2)
	}
	require.Equal(t, plan[w.olive], got["Olive oil"])
	require.Equal(t, "24.00", got["Sunflower oil"])
	require.Equal(t, "6.00", got["Mica"])
	require.Equal(t, dec(plan[w.stock]).Div(dec("2")).StringFixed(2), got["Lye"])
	require.True(t, m.Poured.FreeAlkali.IsZero())
	require.Equal(t, "20.000", m.Scents[0].Share.Mul(m.Poured.Grams).StringFixed(3))
	require.Nil(t, m.Scents[0].Limit)
	require.Empty(t, m.Scents[0].Lots)
	// Olive and coconut oil want 149.67078 g of NaOH, 24 g of sunflower oil at 190.5 mg KOH per g 3.25932 g; the planned superfat of 3 %
	// is of all that, as far as rounding to 0.1 g goes.
	require.InDelta(t, 0.03*1024, m.Poured.FreeOil.Mul(m.Poured.Grams).InexactFloat64(), 1)
	w.verify()
}
