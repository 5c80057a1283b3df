package ledger_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// caustic is a titration for free caustic alkali: mL of 0.1 mol/L acid on 10.00 g of soap in neutral ethanol.
func caustic(batch int64, volume string) *ledger.ReadingTaken {
	return &ledger.ReadingTaken{Batch: batch, Type: ledger.FreeAlkali, Titration: &ledger.Titrated{Method: "ethanol", Sample: "10.00", Volume: volume, Titrant: "0.1"}}
}

// 1.00 mL of 0.1 mol/L acid on 10.00 g of soap is 0.04 % NaOH (chem-check-values.csv, free_alkali_10g), on 2 g 0.2 % (free_alkali_naoh_factor).
func TestTitrationIsWorkedOut(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, _ := w.make()
	r := record(w, caustic(b.ID, "1.00"))
	require.Equal(t, "0.04", r.Value.String())
	require.Equal(t, "0.040 % NaOH", r.Typed+" "+r.Unit)
	// By hand: 0.04 × hypot(0.05/√3/1.00, 0.01/√3, 0.005/√3/10) is 0.00118.
	near(t, 0.00118, *r.Uncertainty, 1e-5)
	require.Equal(t, "pass", r.Verdict)
	require.True(t, *r.Passed)
	require.Equal(t, "0.05 usual limit for toilet soap, Indian Standard IS 2888, from memory (medium)", r.Limit.Percent.String()+" "+r.Limit.Source+", "+r.Limit.Mark)
	require.Contains(t, r.Words, "IS 2888, from memory (medium)")
	require.Contains(t, r.Words, "10.00 g of soap, 1.00 mL of titrant at 0.1 mol/L (assumed: burette good to ±0.05 mL, titrant good to ±1 %): 0.040 % found")
	require.Contains(t, r.Method, "ISO 456, ethanol method")

	small := caustic(b.ID, "1.00")
	small.Titration.Sample = "2"
	r = record(w, small)
	require.Equal(t, "0.2 fail", r.Value.String()+" "+r.Verdict)
	require.False(t, *r.Passed)

	close := record(w, caustic(b.ID, "1.25"))
	require.Equal(t, "0.05 too close to call", close.Value.String()+" "+close.Verdict)
	require.Nil(t, close.Passed)

	factor := caustic(b.ID, "1.50")
	factor.Titration.Blank, factor.Titration.Factor = "0.50", "1.0032" // (1.50 - 0.50) × 0.10032 × 4.0 / 10
	r = record(w, factor)
	require.Equal(t, "0.040128", r.Value.String())
	require.Contains(t, r.Words, "(assumed: burette good to ±0.05 mL)")
	near(t, 0.040128*0.0408, *r.Uncertainty, 2e-5) // two volumes to a drop each: √2 × 0.05/√3
	w.verify()
}

// Each method by its formula in chemistry.md, on figures that were made up: percent is V × c × factor / m.
func TestEachMethodOfTitration(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.make()
	for _, at := range []struct {
		kind, want string
		t          ledger.Titrated
	}{
		{ledger.FreeAlkali, "0.0561 % KOH", ledger.Titrated{Method: "barium chloride", Sample: "10.00", Volume: "1.00", Titrant: "0.1"}},
		{ledger.FreeAlkali, "0.08 % NaOH", ledger.Titrated{Method: "acid in ethanol, back", Sample: "5.000", Acid: "3.00", AcidTitrant: "0.1", Volume: "2.00", Titrant: "0.1"}},
		{ledger.TotalAlkali, "14.025 % KOH", ledger.Titrated{Method: "split with acid, back", Sample: "5.000", Acid: "40.00", AcidTitrant: "0.5", Volume: "15.00", Titrant: "0.5", As: "KOH"}},
		{ledger.FattyMatter, "80 %", ledger.Titrated{Method: "dried potassium soap", Sample: "5.000", Dried: "4.380", Volume: "20.00", Titrant: "0.5"}},
		{ledger.Chloride, "0.585 % NaCl", ledger.Titrated{Method: "silver nitrate", Sample: "5.000", Volume: "5.00", Titrant: "0.1"}},
		{ledger.Moisture, "12.5 %", ledger.Titrated{Method: "oven", Sample: "8.000", Dried: "7.000"}},
	} {
		r := record(w, &ledger.ReadingTaken{Lot: bars.ID, Type: at.kind, Titration: &at.t})
		require.Equal(t, at.want, r.Value.String()+" "+r.Unit, at.t.Method)
		require.True(t, r.Uncertainty.IsPositive())
		if at.kind != ledger.FreeAlkali {
			require.Empty(t, r.Verdict)
		}
	}
	fat := &ledger.ReadingTaken{Batch: b.ID, Type: ledger.FattyMatter, Limit: &ledger.TestLimit{Percent: dec("76"), AtLeast: true, Source: "IS 2888, grade 1"},
		Titration: &ledger.Titrated{Method: "dried potassium soap", Sample: "5.000", Dried: "4.100", Volume: "20.00", Titrant: "0.7"}}
	require.Equal(t, "fail", record(w, fat).Verdict)
	w.verify()
}

func TestTitrationIsRefused(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, _ := w.make()
	for _, at := range []struct {
		field, say string
		change     func(*ledger.ReadingTaken)
	}{
		{"titration.method", "is no method for soap", func(r *ledger.ReadingTaken) { r.Titration.Method = "boiled with alkali, back" }},
		{"type", "gives the free alkali, not the chloride", func(r *ledger.ReadingTaken) { r.Type = ledger.Chloride }},
		{"titration", "does not go with", func(r *ledger.ReadingTaken) { r.Type = ledger.PH }},
		{"titration.sample", "", func(r *ledger.ReadingTaken) { r.Titration.Sample = "" }},
		{"titration.volume", "more than there is", func(r *ledger.ReadingTaken) { r.Titration.Volume, r.Titration.Titrant = "900", "10" }},
		{"titration.volume", "", func(r *ledger.ReadingTaken) { r.Titration.Blank = "2.00" }},
		{"limit", "is empty", func(r *ledger.ReadingTaken) { r.Limit = &ledger.TestLimit{Percent: dec("0.1")} }},
		{"limit", "held against", func(r *ledger.ReadingTaken) {
			r.Limit = &ledger.TestLimit{Percent: dec("0.1"), Source: "x", As: "NaCl"}
		}},
	} {
		r := caustic(b.ID, "1.00")
		at.change(r)
		err := w.try(r)
		fault(t, err, ledger.Invalid)
		require.ErrorContains(t, err, at.field+": ")
		if at.field != "limit" || at.say == "is empty" {
			require.ErrorContains(t, err, at.say)
		}
	}
	typed := &ledger.ReadingTaken{Batch: b.ID, Type: ledger.FreeAlkali, Typed: "0.02"}
	require.ErrorContains(t, w.try(typed), "which laboratory")
	exact := caustic(b.ID, "1.00")
	exact.Within = ptr(dec("0.01"))
	require.ErrorContains(t, w.try(exact), "within: ")
	quality := &ledger.ReadingTaken{Batch: b.ID, Type: ledger.Moisture, Typed: "12"}
	require.ErrorContains(t, w.try(quality), "which laboratory")
}

// The limit of the shop decides where nobody chose another; a limit of the rule of the place can be wider or narrower.
func TestLimitOfTheShop(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, _ := w.make()
	shop, err := w.l.Shop(t.Context())
	require.NoError(t, err)
	require.Equal(t, "0.05", shop.FreeAlkali.String())
	set := ledger.ShopSet(shop)
	set.FreeAlkali = dec("0.03")
	record(w, &set)
	strict := record(w, caustic(b.ID, "1.00"))
	require.Equal(t, "fail, limit of the shop, set by the shop", strings.Join([]string{strict.Verdict, strict.Limit.Source, strict.Limit.Mark}, ", "))
	own := caustic(b.ID, "1.00")
	own.Limit = &ledger.TestLimit{Percent: dec("0.1"), As: "KOH", Source: "the rule of Inventia"} // 0.04 % NaOH is 0.0561 % KOH
	r := record(w, own)
	require.Equal(t, "pass", r.Verdict)
	require.Contains(t, r.Words, "0.056 % found")
	set.FreeAlkali = dec("2")
	require.ErrorContains(t, w.try(&set), "free_alkali_limit")
	w.verify()
}

// What soap itself shows is pH 9 to 10.5, and 0.05 % of alkali in a 1 % solution 10.10, by hand 14 + log10(10 × 0.0005 / 40): a pH tells little and says so.
func TestPHSaysWhatItTells(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, _ := w.make()
	ph := &ledger.ReadingTaken{Batch: b.ID, Type: ledger.PH, Typed: "11.2", Way: ledger.WithStrip, Solution: ptr(dec("1")), At: &ledger.ReadAt{Typed: "68", Unit: "F"}, Passed: ptr(false)}
	r := record(w, ph)
	require.Equal(t, "strip, 1 % solution at 68 °F", r.Method)
	require.Equal(t, "20", r.At.Celsius.String())
	require.Contains(t, r.Words, "look for free alkali with a titration")
	require.Contains(t, r.Words, "pH 10.10 in a 1 % solution")
	require.Contains(t, r.Words, "half a unit at best")
	ph.Way = "tongue"
	require.ErrorContains(t, w.try(ph), "way: ")
	ph.Way, ph.Solution = ledger.WithMeter, nil
	require.ErrorContains(t, w.try(ph), "g of soap are in 100 g")
	w.verify()
}

func TestReleaseGateAndTheTestsOfAlkali(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.make()
	w.dry(bars)
	record(w, &ledger.StockMoved{Lot: bars.ID, Way: ledger.KeptBack, Amount: dec("1"), Reason: "sample"})
	release := &ledger.ReleaseDecided{Batch: b.ID, Decision: ledger.Released, Statement: "looked"}
	test := func(r *ledger.ReadingTaken) int64 { w.clock.Add(time.Minute); return w.enter(r).Entry }
	findings := func() []ledger.Finding {
		f, err := w.l.ReleaseFindings(t.Context(), b.ID)
		require.NoError(t, err)
		return f
	}

	test(&ledger.ReadingTaken{Batch: b.ID, Type: ledger.AlkaliTongueTest, Typed: "0", Method: "wet finger", Passed: ptr(true)})
	w.stops(release, "alkali-test-missing")
	test(&ledger.ReadingTaken{Batch: b.ID, Type: ledger.PH, Typed: "9.6", Way: ledger.WithMeter, Solution: ptr(dec("1")), Passed: ptr(true)})
	require.Contains(t, textOf(t, w.stops(release, "ph-only"), "ph-only"), "9.6 by meter, 1 % solution")
	close := test(caustic(b.ID, "1.25"))
	w.stops(release, "alkali-too-close")
	w.corrected(close, caustic(b.ID, "3.00"))
	w.stops(release, "alkali-test-failed")
	good := test(caustic(b.ID, "0.50"))
	require.Empty(t, findings())
	fat := test(&ledger.ReadingTaken{Batch: b.ID, Type: ledger.Moisture, Typed: "30", Method: "invented laboratory", Passed: ptr(false)})
	require.Equal(t, []string{"test-outside-limit"}, rules(findings(), ledger.Warn))
	require.NoError(t, strike(w, fat))
	record(w, release)
	require.NoError(t, strike(w, good)) // the release stood on it
	w.reopened(b.ID)
	w.stops(release, "alkali-test-failed")
	w.verify()
}
