package ledger_test

import (
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
	"ashbook/ledger/measure"
)

// received takes a lot in and gives it as it is kept.
func (w *workshop) received(material int64, typed string, unit measure.Unit) ledger.Lot {
	w.t.Helper()
	return w.lot(record(w, &ledger.LotReceived{Material: material, Supplier: w.supplier, NoSupplierLot: true, Mass: measure.Mass{Typed: typed, Unit: unit}}).ID)
}

func TestCupsOfWaterNeedNoDensityOfItsOwn(t *testing.T) {
	t.Parallel()
	w := bareWorkshop(t)
	plain := record(w, &ledger.MaterialDefined{Name: "Rain water", Type: "water"})
	// Two US cups, 473.176473 ml, at 0.9982 g/ml (water of 20 °C, equation of Kell): 472.3 g.
	require.Equal(t, "472.3", w.received(plain.ID, "2", measure.Cup).Grams.Round(1).String())
	m, err := w.l.Material(t.Context(), plain.ID)
	require.NoError(t, err)
	require.Nil(t, m.Density)
	hot, known := m.DensityAt(dec("80"))
	require.True(t, known)
	require.Equal(t, "0.9718", hot.String(), "the 0 %% row of the lye table at 80 °C")
	w.verify()
}

func TestADensityKeepsItsTemperatureAndADropItsMass(t *testing.T) {
	t.Parallel()
	w := bareWorkshop(t)
	oil := ledger.MaterialDefined{Name: "Palm oil", Type: "oil", SAPMin: ptr(dec("190")), SAPMax: ptr(dec("209")), SAPSource: "Codex CXS 210-1999",
		Density: ptr(dec("0.9154")), DensityAtC: ptr(dec("15"))}
	m, err := w.l.Material(t.Context(), record(w, &oil).ID)
	require.NoError(t, err)
	warm, known := m.DensityAt(dec("40"))
	require.True(t, known)
	require.Equal(t, "0.8994", warm.String(), "0.00064 g/ml for each °C, JAOCS 1999, 76, 1415")

	scent := record(w, &ledger.MaterialDefined{ID: w.scent, Name: "Scent of hay", Type: "scent", DropGrams: ptr(dec("0.031"))})
	lot := w.received(scent.ID, "20 drops", measure.Drop)
	require.Equal(t, "0.62", lot.Grams.String())
	e, err := w.l.JournalEntry(t.Context(), lot.Entry)
	require.NoError(t, err)
	kept := e.Body.(*ledger.LotReceived).Mass
	require.Equal(t, []string{"20 drops", "drop"}, []string{kept.Typed, string(kept.Unit)}, "what was typed is kept")
	m, err = w.l.Material(t.Context(), scent.ID)
	require.NoError(t, err)
	require.Equal(t, "20", m.DensityAtC.String())
	_, known = m.DensityAt(dec("20"))
	require.False(t, known)
	w.verify()
}

// Bodies that were recorded before there was a temperature read as 20 °C, whichever way the column was filled.
func TestTheColumnsOfOldMaterialsHoldWhatReplayWrites(t *testing.T) {
	t.Parallel()
	w := bareWorkshop(t)
	said := queryColumn[string](t, connect(t, w.db.Owner), `select column_default from information_schema.columns
		where table_schema = '`+ledger.Schema+`' and table_name = 'material' and column_name = 'density_at_c'`)
	require.Equal(t, []string{measure.RoomCelsius.String()}, said)
}

func TestWhatCannotBeADensityOrADropIsRefused(t *testing.T) {
	t.Parallel()
	w := bareWorkshop(t)
	for why, m := range map[string]ledger.MaterialDefined{
		"outside 0.05 to 25":     {Density: ptr(dec("915"))},
		"without a density":      {DensityAtC: ptr(dec("20"))},
		"outside 0 to 100":       {Density: ptr(dec("0.9")), DensityAtC: ptr(dec("140"))},
		"weigh 20 drops":         {DropGrams: ptr(dec("0.62"))},
		"0 g is no drop":         {DropGrams: ptr(dec("0"))},
		"-0.03 g is no drop":     {DropGrams: ptr(dec("-0.03"))},
		"-1 °C is outside 0 to ": {Density: ptr(dec("0.9")), DensityAtC: ptr(dec("-1"))},
	} {
		m.Name, m.Type = "Invented", "scent"
		err := w.try(&m)
		fault(t, err, ledger.Invalid)
		require.ErrorContains(t, err, why)
	}
	err := w.try(&ledger.LotReceived{Material: w.mica, Supplier: w.supplier, NoSupplierLot: true, Mass: measure.Mass{Typed: "1", Unit: measure.Drop}})
	require.ErrorContains(t, err, "the mass of a drop of this material is not known")
}

// A third of the batch measured out in cups is a mass by the batter's density, or it is weighed. Common practice, no source.
func TestThePotIsDividedByTheCup(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	x := w.layered() // 1470 g in the pot
	cups := func(n string) measure.Mass { return measure.Mass{Typed: n, Unit: measure.Cup} }
	split := ledger.PortionsSplit{Batch: x.batch.ID, Portions: []ledger.PortionMass{{Name: "blue", Mass: cups("2")}, {Name: "white", Mass: cups("4")}}}
	_, err := w.correct(x.split, &split)
	fault(t, err, ledger.Invalid)
	require.ErrorContains(t, err, "give the density of the batter, or weigh it")
	for _, slip := range []string{"0", "0.1", "236.6"} {
		split.Density = maybe(slip)
		_, err = w.correct(x.split, &split)
		fault(t, err, ledger.Invalid)
		require.ErrorContains(t, err, "is no batter")
	}
	split.Density = maybe("1.02")
	w.corrected(x.split, &split)
	portions, err := w.l.BatchPortions(t.Context(), x.batch.ID)
	require.NoError(t, err)
	for _, p := range portions {
		want := map[string][]string{"blue": {"482.6", "0.3333"}, "white": {"965.3", "0.6667"}}[p.Name] // 473.18 and 946.35 ml
		require.Equal(t, want, []string{p.Grams.Round(1).String(), p.Share.Round(4).String()})
	}
	w.verify()
}

// maybe is a figure that may be left out.
func maybe(s string) *decimal.Decimal {
	if s == "" {
		return nil
	}
	return ptr(dec(s))
}

func TestACertificateSaysHowFarItsFiguresMayBeOff(t *testing.T) {
	t.Parallel()
	w := bareWorkshop(t)
	oil := ledger.LotReceived{Material: w.olive, Supplier: w.supplier, SupplierLot: "OL-7", Mass: grams("1000")}
	lye := ledger.LotReceived{Material: w.lye, Supplier: w.supplier, SupplierLot: "LY-7", Mass: grams("1000")}
	for _, c := range []struct {
		of                               ledger.LotReceived
		purity, purityHalf, sap, sapHalf string
	}{
		{lye, "", "0.01", "", ""}, {lye, "0.985", "0", "", ""}, {lye, "0.985", "-0.01", "", ""},
		{lye, "0.985", "0.985", "", ""}, {oil, "", "", "", "1"}, {oil, "", "", "190", "0"},
		{oil, "", "", "190", "-2"}, {oil, "", "", "190", "30"},
	} {
		r := c.of
		r.Purity, r.PurityHalf, r.SAPValue, r.SAPHalf = maybe(c.purity), maybe(c.purityHalf), maybe(c.sap), maybe(c.sapHalf)
		err := w.try(&r)
		fault(t, err, ledger.Invalid)
		require.ErrorContains(t, err, "may be off", "%+v", c)
	}

	lye.Purity, lye.PurityHalf = maybe("0.985"), maybe("0.005")
	got := w.lot(record(w, &lye).ID)
	require.Equal(t, []string{"0.985", "0.005"}, []string{got.Purity.String(), got.PurityHalf.String()})
	oil.SAPValue = maybe("191.2")
	entry := w.enter(&oil)
	got = w.lot(entry.Record.(*ledger.LotReceived).ID)
	require.Nil(t, got.SAPHalf, "none given: the usual one holds where it is computed with")
	oil.SAPHalf = maybe("0.5")
	w.corrected(entry.Entry, &oil)
	got = w.lot(got.ID)
	require.Equal(t, []string{"191.2", "0.5"}, []string{got.SAPValue.String(), got.SAPHalf.String()})
	w.verify()
}
