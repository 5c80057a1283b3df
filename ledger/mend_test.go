package ledger_test

import (
	"errors"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// Worked by hand from the figures at TestCombineGateLooksAtTheLye: with 306 g of coconut oil for 300 the oils take 133 + 78.489 g
// of KOH; at 5 % superfat that is 211.489 × 0.712888 × 0.95 = 143.229 g of NaOH, 146.15 g at 98 %.
func TestAlkaliFollowsTheOilsInThePot(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := w.started()
	weigh := func(material int64, mass string) *ledger.WeighingTaken {
		return &ledger.WeighingTaken{Batch: b.ID, Line: w.lineOf(b, material), Lot: w.lotFor(material), Mass: grams(mass), SecondCheck: ledger.SecondMethod}
	}
	mend := func() *ledger.Mend {
		m, err := w.l.Mend(t.Context(), b.ID)
		require.NoError(t, err)
		return m
	}
	require.True(t, mend().OilsOpen)
	require.Equal(t, "145.1", mend().Lines[0].Right.String()) // as planned
	require.Equal(t, "0.050", mend().Expected.StringFixed(3))
	record(w, weigh(w.olive, "700"))
	require.True(t, mend().OilsOpen)
	record(w, weigh(w.coconut, "306"))
	m := mend()
	require.False(t, m.OilsOpen)
	require.Equal(t, "146.2", m.Lines[0].Right.String())
	require.Equal(t, "146.2", m.Lines[0].Left.String())
	require.Equal(t, "0.057", m.Expected.StringFixed(3)) // 1 - 145.1 × 0.98 / 150.768 with the alkali as planned
	require.Empty(t, m.Oils)

	far := w.stops(weigh(w.lye, "148"), "off-plan")
	require.Contains(t, textOf(t, far, "off-plan"), "For the oils that are in the pot, 146.2 g of this lot would be right")
	fit := record(w, weigh(w.lye, "146.2")) // 1.1 g off the plan, but right
	require.Equal(t, []string{"alkali-by-oils"}, rules(fit.Findings, ledger.Warn))
	lye, err := w.l.Lye(t.Context(), b.ID)
	require.NoError(t, err)
	require.Equal(t, "0.050", lye.Superfat.StringFixed(3))
	require.True(t, mend().Lines[0].Left.IsZero())
	w.verify()
}

// With 150.2 g of alkali for 145.089 g the oils have to take 5.111 × 0.98 / 0.712888 / 0.95 = 7.3958 g of KOH more: 38.93 g of olive
// oil at 190 mg/g, or 28.83 g of coconut oil at 256.5.
func TestOilMendsTooMuchAlkali(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := w.combining("150.2")
	m, err := w.l.Mend(t.Context(), b)
	require.NoError(t, err)
	require.Equal(t, []ledger.MendOil{{Material: w.olive, Name: "Olive oil", Grams: dec("38.9")}, {Material: w.coconut, Name: "Coconut oil", Grams: dec("28.8")}}, m.Oils)
	record(w, &ledger.WeighingTaken{Batch: b, Lot: w.oliveLot, Mass: grams("38.9")})
	lye, err := w.l.Lye(t.Context(), b)
	require.NoError(t, err)
	require.Equal(t, "0.050", lye.Superfat.StringFixed(3))
	m, err = w.l.Mend(t.Context(), b)
	require.NoError(t, err)
	require.Empty(t, m.Oils)
}

// A mixture of two alkalis, by the two-alkali example of the reference values: the four oils of the worked recipe at 5 % superfat take
// 84.5606 g NaOH and 79.0780 g KOH with 40 % of the equivalents as KOH: 86.2863 and 87.8644 g at 98 % and 90 %.
func TestFormulaOfTwoAlkalis(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	f := w.fourOils()
	potash := record(w, &ledger.MaterialDefined{Name: "Potash lye", Type: "alkali", Alkali: "KOH", CAS: "1310-58-3"}).ID
	f.SecondAlkali, f.SecondShare, f.SecondBasis, f.SecondPurity = potash, dec("0.4"), "equivalents", dec("0.9")
	made := record(w, f)
	require.Equal(t, []string{"86.3", "87.9"}, []string{made.Plan[0].Grams.String(), made.Plan[1].Grams.String()})
	require.Equal(t, "0.330", made.Lye.Concentration.StringFixed(3))

	// 95.5320 g NaOH and 63.6880 g KOH with 40 % of the mass of pure alkali as KOH; both pure to see them.
	f.Name, f.SecondBasis, f.AlkaliPurity, f.SecondPurity = "By mass", "mass", dec("1"), dec("1")
	made = record(w, f)
	require.Equal(t, []string{"95.5", "63.7"}, []string{made.Plan[0].Grams.String(), made.Plan[1].Grams.String()})

	// Named the other way round it is the same formula.
	f.Name, f.Alkali, f.SecondAlkali, f.SecondShare = "Other way", potash, w.lye, dec("0.6")
	made = record(w, f)
	require.Equal(t, []string{"63.7", "95.5"}, []string{made.Plan[0].Grams.String(), made.Plan[1].Grams.String()})
}

// The ways to say how much alkali and water agree: 143.8105730033 g leaves 5 %; 33 % is a ratio of 67/33; the water is 291.979 g.
func TestFormulaByAlkaliRatioAndWater(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	f := w.fourOils()
	f.Superfat, f.AlkaliGrams, f.Concentration, f.WaterRatio = dec("0"), ptr(dec("143.810573")), dec("0"), ptr(dec("2.030303"))
	made := record(w, f)
	require.Equal(t, "0.05000", made.Superfat.StringFixed(5))
	require.Equal(t, "0.33000", made.Concentration.StringFixed(5))
	require.Equal(t, []string{"143.8", "292"}, []string{made.Plan[0].Grams.String(), made.Plan[1].Grams.String()})
	require.Equal(t, "0.05007", made.Lye.Superfat.StringFixed(5)) // what rounding to 0.1 g does: chem-check-values four_oil_superfat_entered
	f.Name, f.WaterRatio, f.WaterGrams = "By water", nil, ptr(dec("291.979"))
	require.Equal(t, "0.33000", record(w, f).Concentration.StringFixed(5))

	for field, spoil := range map[string]func(*ledger.FormulaDefined){
		"alkali_grams": func(f *ledger.FormulaDefined) { f.AlkaliGrams = ptr(dec("160")) },
		"water_ratio":  func(f *ledger.FormulaDefined) { f.WaterRatio, f.WaterGrams = ptr(dec("9")), nil },
		"water_grams":  func(f *ledger.FormulaDefined) { f.WaterGrams = ptr(dec("20")) },
		"second_alkali": func(f *ledger.FormulaDefined) {
			f.SecondAlkali, f.SecondShare, f.SecondBasis, f.SecondPurity = w.lye, dec("0.4"), "mass", dec("1")
		},
		"lye_warn": func(f *ledger.FormulaDefined) { f.LyeWarn, f.LyeStop = ptr(dec("0.3")), ptr(dec("0.1")) },
	} {
		bad := *f
		bad.Name = "Bad " + field
		spoil(&bad)
		refused, ok := errors.AsType[*ledger.Error](w.try(&bad))
		require.True(t, ok, field)
		require.Equal(t, field, refused.Field, refused.Message)
	}
}

// The formula weighs 700 + 300 g of oils, 145.1 g of alkali, 294.6 g of water and 30 g of scent: 1469.7 g. At a measured 1 g/mL a mould of
// two litres takes 2000 / 1469.7 × 1000 g of oils. Without a measurement: oils of 0.915 g/mL at 20 °C have 0.9022 at 40 °C (0.00064 less
// for each degree), 1108.4 mL; 439.7 g of lye of 32.34 % pure has 1.3397 (table at 40 °C: 1.3362 at 32 % and 1.3768 at 36 %), 328.2 mL;
// 1439.7 g in 1436.6 mL are 1.0021 g/mL.
func TestABatchFillsAMould(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	plan := func(density *decimal.Decimal) *ledger.BatchPlanned {
		return &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: w.formula.ID, MouldML: ptr(dec("2000")), BatterDensity: density}
	}
	require.Equal(t, "1360.8", record(w, plan(ptr(dec("1")))).OilGrams.String())
	require.InDelta(t, 1363.8, record(w, plan(nil)).OilGrams.InexactFloat64(), 0.2)
	fault(t, w.try(plan(ptr(dec("9")))), ledger.Invalid)
	fault(t, w.try(&ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: w.formula.ID, BatterDensity: ptr(dec("1"))}), ledger.Invalid)
	f := record(w, w.fourOils()) // two of its oils have no density
	require.ErrorContains(t, w.try(&ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: f.ID, MouldML: ptr(dec("900"))}), "Palm oil")
	w.verify()
}

// The figure is for the lot that will be offered: one past its date or on hold is passed over, and the next one's certificate counts. At 95 % the
// 145.1 g of NaOH at 98 % are 145.089 × 0.98 / 0.95 = 149.671 g.
func TestTheAlkaliThatFitsIsThatOfTheUsableLot(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	receive := func(purity, before string) int64 {
		return record(w, &ledger.LotReceived{Material: w.lye, Supplier: w.supplier, SupplierLot: "LY-" + before, Mass: grams("500"), Purity: ptr(dec(purity)), BestBefore: before}).ID
	}
	today := w.clock.Now()
	receive("0.5", today.AddDate(0, 0, -1).Format(time.DateOnly))
	held := receive("0.6", today.AddDate(0, 1, 0).Format(time.DateOnly))
	record(w, &ledger.LotHeld{Lot: held, Reason: "the tub stood open"})
	receive("0.95", today.AddDate(0, 2, 0).Format(time.DateOnly))
	m, err := w.l.Mend(t.Context(), w.started().ID)
	require.NoError(t, err)
	require.Equal(t, "149.7", m.Lines[0].Right.String())
}
