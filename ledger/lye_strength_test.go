package ledger_test

import (
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// density reads the density of a batch's lye.
func density(batch int64, typed, scale, celsius string) *ledger.ReadingTaken {
	return &ledger.ReadingTaken{Batch: batch, Type: ledger.LyeDensity, Typed: typed, Unit: scale, At: &ledger.ReadAt{Typed: celsius, Unit: "C"}}
}

func (w *workshop) strength(batch int64) *ledger.LyeStrength {
	w.t.Helper()
	s, err := w.l.LyeStrength(w.t.Context(), batch)
	require.NoError(w.t, err)
	require.NotNil(w.t, s)
	return s
}

func near(t *testing.T, want float64, got decimal.Decimal, within float64) {
	t.Helper()
	require.InDelta(t, want, got.InexactFloat64(), within)
}

// 145.1 g of alkali of 98 % in 294.6 g of water hold 0.3234 of hydroxide. At 20 °C the CRC Handbook, 102nd edition, has 1.3277 g/mL at 30 %
// and 1.4299 at 40 % (chem-check-values.csv, crc_density_20_30 and _40); 32.34 % lies between the rows 1.3490 at 32 % and 1.3900 at 36 % of
// the International Critical Tables, at 1.3525 (from memory, high confidence).
func TestLyeStrengthByMassAndByDensity(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := w.combining("145.1")
	s := w.strength(b)
	near(t, 145.1*0.98/(145.1+294.6), s.ByMass.Share, 1e-6)
	// Purity ± 1 %, and scales to half of 0.1 g, by hand: hypot(0.33 × 0.01/√3, 0.05/√3 × 0.98 × 294.6/439.7², 0.05/√3 × 0.98 × 145.1/439.7²) is 0.001906.
	near(t, 0.001906, s.ByMass.Uncertainty, 2e-5)
	require.Nil(t, s.ByDensity)
	require.Empty(t, s.Verdict)

	for typed, want := range map[string]float64{"1.3277": 0.30, "1.4299": 0.40} {
		record(w, density(b, typed, "g/mL", "20"))
		near(t, want, w.strength(b).ByDensity.Share, 0.0003)
		w.clock.Add(time.Minute)
	}
	r := record(w, density(b, "1.3525", "g/mL", "20"))
	require.Equal(t, "0.0001", r.Within.String())
	s = w.strength(b)
	near(t, 0.3234, s.ByDensity.Share, 0.0002)
	require.Equal(t, "agree", s.Verdict)
	require.Equal(t, "NaOH", s.Alkali)
	require.Contains(t, s.Carbonate, "1 % sodium carbonate reads as 0.95 % NaOH")
	require.Empty(t, rules(record(w, combine(b)).Findings, ledger.Stop))
	w.verify()
}

// The lye of cold-process soap in The Handbook of Soap Manufacture, 1908: 71.4 °Tw, 32.64 % (chem-check-values.csv, twaddell_1908, at 15 °C).
// On the scales of Baumé the same lye is 144.3 × (1 - 1/1.357) = 37.96 and 145 × (1 - 1/1.357) = 38.15.
func TestLyeDensityOnEachScale(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := w.combining("145.1")
	for _, at := range []struct{ typed, scale string }{{"71.4", "Tw"}, {"1.357", "SG 60/60"}, {"37.96", "Be 144.3"}, {"38.15", "Be 145"}, {"1.3557", "g/mL"}} {
		r := record(w, density(b, at.typed, at.scale, "15"))
		near(t, 1.357*0.99904, r.Value, 0.0003)
		require.Equal(t, "g/mL", r.ValueUnit)
		require.Equal(t, at.typed+" "+at.scale, r.Typed+" "+r.Unit)
		near(t, 0.3264, w.strength(b).ByDensity.Share, 0.004) // its table lies 0.3 % of hydroxide above that of the International Critical Tables
		w.clock.Add(time.Minute)
	}
	coarse := density(b, "38", "Be 145", "15")
	require.Equal(t, "1", record(w, coarse).Within.String())
	coarse.Within = ptr(dec("0.2"))
	fine := record(w, coarse)
	near(t, 0.2/1.7320508*1.357/(145-38), *fine.Uncertainty, 1e-4)
	w.verify()
}

func TestLyeDensityIsRefused(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := w.combining("145.1")
	refused := func(r *ledger.ReadingTaken, field, say string) {
		err := w.try(r)
		fault(t, err, ledger.Invalid)
		require.ErrorContains(t, err, field+": ")
		require.ErrorContains(t, err, say)
	}
	bare := density(b, "1.35", "g/mL", "20")
	bare.At = nil
	refused(bare, "at", "how warm the lye was")
	refused(density(b, "1.35", "Plato", "20"), "unit", "not read in")
	refused(density(b, "0.9", "g/mL", "20"), "typed", "below that of water")
	refused(density(b, "1.35", "g/mL", "-3"), "typed", "no density is known")
	refused(density(b, "38", "g/mL", "20"), "typed", "which no lye has")
	warm := density(b, "42", "C", "20")
	warm.Type = ledger.OilTemperature
	refused(warm, "at", "does not go with")
	lot := density(0, "1.35", "g/mL", "20")
	lot.Lot = w.oliveLot
	refused(lot, "lot", "no stock lye")
}

func TestCombineGateComparesMassWithDensity(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := w.combining("145.1")
	record(w, density(b, "38", "Be 145", "20"))
	require.NotContains(t, rules(record(w, combine(b)).Findings, ledger.Warn), "lye-strength-doubtful")
	require.NoError(t, strike(w, w.lastStep(b)))

	off := w.enter(density(b, "1.3300", "g/mL", "20")) // 30.216 % by chem-check-values.csv, inv_density_2
	s := w.strength(b)
	near(t, 0.30216, s.ByDensity.Share, 0.0002)
	require.Equal(t, "disagree", s.Verdict)
	err := w.stops(combine(b), "lye-strength-disagrees")
	text := textOf(t, err, "lye-strength-disagrees")
	require.Contains(t, text, "32.34 % hydroxide, by density 30.2")
	require.Contains(t, text, "hotter than the temperature that was written down")

	require.NoError(t, strike(w, off.Entry))
	doubtful := w.enter(density(b, "1.3475", "g/mL", "20")) // about 2.5 standard uncertainties
	require.Equal(t, "doubtful", w.strength(b).Verdict)
	right := w.corrected(doubtful.Entry, density(b, "1.3525", "g/mL", "20"))
	require.Equal(t, "agree", w.strength(b).Verdict)
	w.corrected(right.Entry, density(b, "1.3475", "g/mL", "20"))
	require.Contains(t, rules(record(w, combine(b)).Findings, ledger.Warn), "lye-strength-doubtful")
	w.verify()
}

func strike(w *workshop, entry int64) error {
	_, err := w.l.Record(w.t.Context(), w.owner, ledger.Request{Corrects: entry, Reason: "a test", Body: &ledger.EntryStruck{}})
	return err
}

// lastStep is the entry of the last step of a batch.
func (w *workshop) lastStep(batch int64) int64 {
	w.t.Helper()
	steps, err := w.l.Steps(w.t.Context(), batch)
	require.NoError(w.t, err)
	return steps[len(steps)-1].Entry
}

// Stock lye of 500 g of alkali at 98 % and 500 g of water holds 49 %; of it 980 g are filled, so 20 g went as steam and it holds exactly 50 %.
func TestStockLyeHasAStrengthOfItsOwn(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	stock := w.prepare(ledger.ForStockLye, w.stock, w.lyeLot, "500", w.waterLot, "500", "980")
	s, err := w.l.StockStrength(t.Context(), stock)
	require.NoError(t, err)
	near(t, 0.5, s.ByMass.Share, 1e-6)
	near(t, 0.5, w.strength(*stock.BatchID).ByMass.Share, 1e-6)

	// 50 % at 20 °C is 1.5253 g/mL in the table of the International Critical Tables, its last row.
	r := density(0, "1.5240", "g/mL", "20")
	r.Lot = stock.ID
	record(w, r)
	s, err = w.l.StockStrength(t.Context(), stock)
	require.NoError(t, err)
	require.Equal(t, "agree", s.Verdict)
	near(t, 0.5, s.ByDensity.Share, 0.002)

	// 300 g of it and 150 g of water hold 150 of 450 g.
	b := record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: w.formula.ID})
	w.step(b.ID, ledger.StepStart)
	for lot, mass := range map[int64]string{stock.ID: "290", w.waterLot: "150", w.oliveLot: "700", w.coconutLot: "300"} {
		_, err := w.l.Record(t.Context(), w.owner, ledger.Request{Override: "a test of the gate", Body: &ledger.WeighingTaken{Batch: b.ID, Lot: lot, Mass: grams(mass), SecondCheck: ledger.SecondMethod}})
		require.NoError(t, err)
	}
	mixed := w.strength(b.ID)
	near(t, 145.0/440, mixed.ByMass.Share, 1e-6)
	w.clock.Add(time.Hour)
	weak := density(0, "1.4900", "g/mL", "20")
	weak.Lot = stock.ID
	record(w, weak)
	_, err = w.l.Record(t.Context(), w.owner, ledger.Request{Body: combine(b.ID)})
	require.Contains(t, rulesOf(t, err), "lye-strength-disagrees")
	require.Contains(t, textOf(t, err, "lye-strength-disagrees"), "The stock lye "+stock.Code)
	w.verify()
}

// Potash has a table of its own; the two together have none, and nothing is said.
func TestLyeStrengthOfOtherAlkalis(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	potash := record(w, &ledger.MaterialDefined{Name: "Potash", Type: "alkali", Alkali: "KOH"}).ID
	lot := record(w, &ledger.LotReceived{Material: potash, Supplier: w.supplier, SupplierLot: "PO-1", Mass: grams("1000")}).ID
	two := w.combining("145.1")
	_, err := w.l.Record(t.Context(), w.owner, ledger.Request{Override: "a test", Body: &ledger.WeighingTaken{Batch: two, Lot: lot, Mass: grams("1")}})
	require.NoError(t, err)
	record(w, density(two, "1.2", "g/mL", "20"))
	s := w.strength(two)
	require.Empty(t, s.Alkali)
	require.Empty(t, s.Verdict)
	require.Contains(t, s.Notes[len(s.Notes)-1], "Both alkalis")

	only := w.started()
	for lot, mass := range map[int64]string{lot: "400", w.waterLot: "600"} {
		_, err = w.l.Record(t.Context(), w.owner, ledger.Request{Override: "a test", Body: &ledger.WeighingTaken{Batch: only.ID, Lot: lot, Mass: grams(mass)}})
		require.NoError(t, err)
	}
	s = w.strength(only.ID)
	near(t, 0.4*0.925, s.ByMass.Share, 1e-6)
	near(t, 0.4*0.075/1.7320508, s.ByMass.Uncertainty, 1e-4)
	require.Contains(t, s.Notes[0], "anything from 85 to 100 % was taken (USP-NF)")
	w.verify()
}

// The bound of the heat is checked against published heats in ledger/lye; here it is checked that the right figures go in: 145.1 g at 98 % in
// 294.6 g of water at 20 °C, by hand: 142.198 g are 3.5552 mol in 294.6 + 2.902 g of water, r = 4.645, heat about 35.5 kJ/mol from the rows for 4
// and 5 of NBS Circular 500 (34.43 and 37.76 kJ/mol), over 439.7 g × 3.5 J/(g K): 20 + 84 °C within 3.
func TestLyePeakFromWhatWasWeighed(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := w.started()
	peak := func() *ledger.LyePeak {
		p, err := w.l.LyePeak(t.Context(), b.ID)
		require.NoError(t, err)
		return p
	}
	require.Nil(t, peak())
	w.weigh(b.ID)
	p := peak()
	near(t, 104, *p.Celsius, 3)
	require.False(t, p.FromRoom)
	require.True(t, p.Strong)
	require.Contains(t, p.Caution, "spatter")
	require.True(t, p.Cold.LessThan(*p.Celsius) && p.Ice.LessThan(*p.Cold))
	record(w, &ledger.ReadingTaken{Batch: b.ID, Type: ledger.RoomTemperature, Typed: "10", Unit: "C"})
	cooler := peak()
	require.True(t, cooler.FromRoom)
	near(t, p.Celsius.InexactFloat64()-9.5, *cooler.Celsius, 2)

	potash := record(w, &ledger.MaterialDefined{Name: "Potash", Type: "alkali", Alkali: "KOH"}).ID
	lot := record(w, &ledger.LotReceived{Material: potash, Supplier: w.supplier, SupplierLot: "PO-1", Mass: grams("1000")}).ID
	_, err := w.l.Record(t.Context(), w.owner, ledger.Request{Override: "a test", Body: &ledger.WeighingTaken{Batch: b.ID, Lot: lot, Mass: grams("1")}})
	require.NoError(t, err)
	unknown := peak()
	require.Nil(t, unknown.Celsius)
	require.Contains(t, unknown.NotKnown, "as hot as NaOH")
}
