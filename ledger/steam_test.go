package ledger_test

import (
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// shares are those of bought materials in a lot, by name.
func (w *workshop) shares(lot ledger.Lot) map[string]string {
	out := map[string]string{}
	for _, p := range w.madeOf(lot).Added {
		out[p.Name] = p.Share.StringFixed(9)
	}
	return out
}

// 1000 g of alkali and 1000.6 g of water, of which 1991 g were filled: 9.6 g of water went as steam. By hand the lye is
// 1000/1991 alkali as weighed, 980/1991 pure, and 570.9 g of it are 286.740331 g of alkali and 284.159669 g of water.
func TestSteamIsWaterThatLeft(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	stock := w.prepare(ledger.ForStockLye, w.stock, w.lyeLot, "1000", w.waterLot, "1000.6", "1991")
	require.Equal(t, "1991", stock.PouredGrams.String())
	require.Equal(t, map[string]string{"Lye": "0.502260171", "Water": "0.497739829"}, w.shares(stock))
	s, err := w.l.StockStrength(t.Context(), stock)
	require.NoError(t, err)
	require.Equal(t, "0.492215 0.492215", s.ByMass.Share.String()+" "+w.strength(*stock.BatchID).ByMass.Share.String(), "980/1991")
	pot, err := w.l.MadeOfBatch(t.Context(), *stock.BatchID)
	require.NoError(t, err)
	requireWhole(t, pot)
	require.Equal(t, "1991", pot.Poured.Grams.String())
	require.Equal(t, "0.492214967", pot.Poured.FreeAlkali.StringFixed(9), "the composition is as strong as the lye")

	b := w.started()
	w.put(b.ID, 0, stock.ID, "570.9")
	for lot, mass := range map[int64]string{w.waterLot: "294", w.oliveLot: "1500", w.coconutLot: "650"} {
		w.put(b.ID, 0, lot, mass)
	}
	near(t, 0.98*570.9*1000/1991/(570.9+294), w.strength(b.ID).ByMass.Share, 1e-6)
	bars := w.finish(b.ID, ledger.Output{What: "bars", Pieces: 20, Mass: grams("2800")})[0]
	require.Equal(t, "3014.9", bars.PouredGrams.String(), "570.9 + 294 + 1500 + 650, as weighed")
	require.Equal(t, map[string]string{"Lye": "286.740331", "Water": "578.159669", "Olive oil": "1500", "Coconut oil": "650"}, w.amounts(bars))
	w.madeOf(bars)
	a, err := w.l.Ask(t.Context(), bars.Code)
	require.NoError(t, err)
	require.Equal(t, "570.9", a.Sources[0].Grams.String())
	w.verify()
}

// Waste left in the pot is no steam, water that was weighed in parts is lowered together, and what is put right shows at once:
// 600 g of alkali in 300.1 + 200.2 + 100.3 g of water, 1150 g filled and 40 g thrown away, so 10.6 g are steam.
func TestSteamOfWaterInPartsWithWaste(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := record(w, &ledger.BatchPlanned{Purpose: ledger.ForStockLye, Material: w.stock})
	w.put(b.ID, 0, w.lyeLot, "600")
	for _, mass := range []string{"300.1", "200.2"} {
		w.put(b.ID, 0, w.waterLot, mass)
	}
	last := w.put(b.ID, 0, w.waterLot, "100.3")
	waste := grams("40")
	filled := w.enter(&ledger.BatchYielded{Batch: b.ID, Waste: &waste, Outputs: []ledger.Output{{What: "prepared", Mass: grams("1150")}}})
	lots, err := w.l.Outputs(t.Context(), b.ID)
	require.NoError(t, err)
	lot := lots[0]
	share := func(alkali, of string) string { return dec(alkali).DivRound(dec(of), 9).StringFixed(9) }
	require.Equal(t, share("600", "1190"), w.shares(lot)["Lye"])
	pot, err := w.l.MadeOfBatch(t.Context(), b.ID)
	require.NoError(t, err)
	require.Equal(t, "1190", pot.Poured.Grams.String())

	// 20.6 g more water was in: that much more steam left, and the lye in the jug is the same.
	w.corrected(last, &ledger.WeighingTaken{Batch: b.ID, Lot: w.waterLot, Mass: grams("120.9"), SecondCheck: ledger.SecondMethod})
	require.Equal(t, share("600", "1190"), w.shares(lot)["Lye"])
	// More than went in, as far as scales differ: nothing left, and 600 of 1221.2 g are alkali.
	w.corrected(filled.Entry, &ledger.BatchYielded{Batch: b.ID, Outputs: []ledger.Output{{What: "prepared", Mass: grams("1240")}}})
	require.Equal(t, share("600", "1221.2"), w.shares(w.lot(lot.ID))["Lye"])
	w.verify()
}

// No more steam than there was water: 500 g of alkali and 100 g of water, of which a lump of 400 g is left, are alkali.
func TestNoMoreSteamThanWater(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	lot := w.prepare(ledger.ForStockLye, w.stock, w.lyeLot, "500", w.waterLot, "100", "400")
	require.Equal(t, map[string]string{"Lye": "1.000000000"}, w.shares(lot))
	s, err := w.l.StockStrength(t.Context(), lot)
	require.NoError(t, err)
	require.Equal(t, "0.98", s.ByMass.Share.String())
}

// What dried on the shelf leaves the alkali behind: of 1000 g of 500 g of alkali, 100 g dried, so 90 g hold 50 g of alkali.
func TestStockLyeThatDriedCountsAsFilled(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	lot := w.prepare(ledger.ForStockLye, w.stock, w.lyeLot, "500", w.waterLot, "520", "1000")
	record(w, &ledger.StockMoved{Lot: lot.ID, Way: ledger.Dried, Amount: dec("100"), Reason: "the lid was off"})
	s, err := w.l.StockStrength(t.Context(), lot)
	require.NoError(t, err)
	near(t, 0.98*500/900, s.ByMass.Share, 1e-6)
	b := w.started()
	w.put(b.ID, 0, lot.ID, "90")
	w.put(b.ID, 0, w.oliveLot, "700")
	lye, err := w.l.Lye(t.Context(), b.ID)
	require.NoError(t, err)
	require.True(t, lye.AlkaliGrams.Sub(dec("50")).Abs().LessThan(decimal.New(1, -9)), lye.AlkaliGrams.String())
	w.verify()
}
