package ledger_test

import (
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
	"ashbook/ledger/made"
)

// madeOf works out what a lot is made of, and requires that nothing is lost or won.
func (w *workshop) madeOf(lot ledger.Lot) *ledger.MadeOf {
	w.t.Helper()
	m, err := w.l.Made(w.t.Context(), lot)
	require.NoError(w.t, err)
	requireWhole(w.t, m)
	require.True(w.t, m.Poured.Grams.Equal(lot.PouredGrams))
	return m
}

// requireWhole wants parts that sum to the masses, exactly, in whole micrograms.
func requireWhole(t require.TestingT, m *ledger.MadeOf) {
	added, poured, now, shares := decimal.Zero, decimal.Zero, decimal.Zero, decimal.Zero
	for _, p := range m.Added {
		added = added.Add(p.Grams)
		require.Equal(t, p.Grams.Round(6).String(), p.Grams.String())
		require.NotEmpty(t, p.Lots)
	}
	for _, p := range m.Made {
		poured, now, shares = poured.Add(p.Grams), now.Add(p.GramsNow), shares.Add(p.ShareNow)
		require.False(t, p.Grams.IsNegative() || p.GramsNow.IsNegative(), p.Text)
		require.True(t, p.Grams.GreaterThanOrEqual(p.GramsNow.Sub(dec("0.00001"))) || p.What != made.AnyWater, p.Text)
		require.Equal(t, p.Material == 0, len(p.Lots) == 0, p.Text)
	}
	require.True(t, added.Equal(m.Poured.Grams) && poured.Equal(m.Poured.Grams), "%s added, %s made, %s poured", added, poured, m.Poured.Grams)
	require.True(t, now.Equal(m.Now.Grams) && shares.Equal(dec("1")), "%s now of %s", now, m.Now.Grams)
}

// in sums the shares of a kind of product, in per cent.
func inPercent(m *ledger.MadeOf, what made.What, now bool) string {
	sum := decimal.Zero
	for _, p := range m.Made {
		if p.What == what && now {
			sum = sum.Add(p.ShareNow)
		} else if p.What == what {
			sum = sum.Add(p.Share)
		}
	}
	return sum.Shift(2).StringFixed(3)
}

// reference is the worked batch of the reference values (computed beforehand, testdata/reference/chem-check-values.csv): olive 500 g
// of 190 mg KOH/g, coconut 250 of 256.5, palm 200 of 199.5, castor 50 of 181.5, lye of 98 % at 33 % and 5 % superfat.
// A scale of 0.1 mg stands in for the exact figures. The ranges of the workshop have these values in their middle.
func (w *workshop) reference() ledger.Lot {
	f := record(w, w.fourOils())
	palmLot, castorLot := w.receive(f.Lines[2].Material, "PA-1", "500"), w.receive(f.Lines[3].Material, "CA-1", "500")
	b := record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: f.ID})
	w.step(b.ID, ledger.StepStart)
	for i, c := range []struct {
		lot  int64
		mass string
	}{{w.lyeLot, "143.8106"}, {w.waterLot, "291.9790"}, {w.oliveLot, "500"}, {w.coconutLot, "250"}, {palmLot, "200"}, {castorLot, "50"}} {
		w.put(b.ID, i+1, c.lot, c.mass)
	}
	return w.finish(b.ID, ledger.Output{What: "bars", Pieces: 10, Mass: grams("1400")})[0]
}

func TestFourOilsAsMade(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	bars := w.reference()
	m := w.madeOf(bars)
	for what, percent := range map[made.What]string{made.Soap: "68.448", made.AnyWater: "20.336", made.Glycerol: "7.534", made.FreeOil: "3.482", made.RestOfAlkali: "0.200"} {
		require.Equal(t, percent, inPercent(m, what, false), what)
	}
	require.Equal(t, "66.5", m.Poured.FattyMatter.Shift(2).StringFixed(1))
	require.True(t, m.Poured.FreeAlkali.IsZero())
	require.Equal(t, "as poured; no bar was weighed yet", m.From)
	require.Equal(t, []string{"Olive oil", "Water", "Coconut oil", "Palm oil", "Lye", "Castor oil"}, names(m.Added))

	// At 8 % of water all bars weigh 1243.27 g of 1400 g at the cut, 88.805 %. Each bar is held against its own mass at the cut, heavy
	// or light: 139 g and 150 g are 123.439 g and 133.2075 g then. The third, which was not weighed at the cut, is no help.
	bar := func(sample, mass string) {
		record(w, &ledger.ReadingTaken{Lot: bars.ID, Type: ledger.BarMass, Typed: mass, Unit: "g", Sample: sample})
	}
	bar("1", "139")
	bar("2", "150")
	m = w.madeOf(bars)
	require.Equal(t, "1400", m.Now.Grams.String())
	w.clock.Add(21 * 24 * time.Hour)
	bar("1", "123.439")
	bar("2", "133.2075")
	bar("3", "141")
	m = w.madeOf(bars)
	require.Equal(t, "76.84", m.Now.FattyMatter.Shift(2).StringFixed(2))
	require.Equal(t, "8.00", m.Now.Water.Shift(2).StringFixed(2))
	require.Contains(t, m.From, "each by its own mass at the cut")
	require.Equal(t, m.Made[0].Grams.String(), m.Made[0].GramsNow.String(), "only water leaves")

	// Without a mass at the cut the mean of the bars stands in, and is said to.
	w.clock.Add(24 * time.Hour)
	bar("3", "124.327")
	m = w.madeOf(bars)
	require.Equal(t, "8.00", m.Now.Water.Shift(2).StringFixed(2))
	require.Contains(t, m.From, "none of them was weighed within a day of the cut")

	// A bar that is heavier than all were poured says nothing of them.
	w.clock.Add(24 * time.Hour)
	bar("3", "150")
	m = w.madeOf(bars)
	require.Contains(t, m.From, "not of the mean size")
	require.True(t, m.Now.Grams.Equal(m.Poured.Grams))

	_, err := w.l.Made(t.Context(), w.lot(w.oliveLot))
	fault(t, err, ledger.Invalid)
	w.verify()
}

func names(list []ledger.AddedPart) (out []string) {
	for _, p := range list {
		out = append(out, p.Name)
	}
	return out
}

// The pot of a batch is known before it gave anything; the bars of its portions differ.
func TestAsMadeThroughStockLyeAndPortions(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	planned := record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: w.formula.ID})
	_, err := w.l.MadeOfBatch(t.Context(), planned.ID)
	fault(t, err, ledger.Conflict)

	x := w.layered()
	pot, err := w.l.MadeOfBatch(t.Context(), x.batch.ID)
	require.NoError(t, err)
	requireWhole(t, pot)
	require.Equal(t, "1500", pot.Poured.Grams.String())
	white, blue := w.madeOf(x.white), w.madeOf(x.blue)
	// White: 420 g of olive oil and 180 of coconut oil want 89.80247 g of NaOH, and 88.2 are there: 1.7844 % of 600 g stay.
	require.Equal(t, "10.707", white.Poured.FreeOil.Mul(dec("882")).StringFixed(3))
	// Blue has the oil of the dispersion besides: 280, 120 and 24 g want 63.12764 g, and 58.8 are there: 6.8554 % of 424 g.
	require.Equal(t, "29.067", blue.Poured.FreeOil.Mul(dec("618")).StringFixed(3))
	stock := w.madeOf(x.stock)
	require.Equal(t, "49.000", inPercent(stock, made.FreeAlkali, false))
	require.Equal(t, "1.000", inPercent(stock, made.RestOfAlkali, false))
	require.Equal(t, "Water", stock.Made[0].Text)
	w.verify()
}
