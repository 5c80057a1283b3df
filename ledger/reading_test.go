package ledger_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// The cure sees the weighings of bars that stand, in the days of the shop, each with the finest step typed on its scale.
func TestCureWeighings(t *testing.T) {
	vienna, err := time.LoadLocation("Europe/Vienna")
	require.NoError(t, err)
	late := time.Date(2026, time.June, 1, 22, 30, 0, 0, time.UTC)
	read := func(typed, unit, scale, grams string) ledger.Reading {
		return ledger.Reading{Type: ledger.BarMass, Lot: ptr(int64(4)), Value: dec(grams), Typed: typed, TypedUnit: unit, Instrument: scale, Sample: "A", HappenedAt: late}
	}
	struck := read("150.25", "g", "fine", "150.25")
	struck.StruckBy = ptr(int64(7))
	other := read("99", "g", "fine", "99")
	other.Lot = ptr(int64(5))
	ph := ledger.Reading{Type: ledger.PH, Value: dec("9.5"), Typed: "9.5"}
	ws := ledger.CureWeighings([]ledger.Reading{read("113", "g", "fine", "113"), read("112.9", "g", "fine", "112.9"), read("4.0", "oz", "old", "113.398093"), struck, other, ph}, 4, vienna)
	require.Len(t, ws, 3)
	for i, step := range []string{"0.1", "0.1", "2.8349523125"} {
		require.Equal(t, step, ws[i].Step.String())
	}
	require.Equal(t, "2026-06-02", ws[0].Day.Format(time.DateOnly))
	require.Equal(t, "A", ws[0].Bar)
}

// curedBars are bars that wait for nothing but their test.
func curedBars(t *testing.T) (*workshop, int64, *ledger.ReleaseDecided) {
	t.Helper()
	w := newWorkshop(t)
	b, bars := w.make()
	w.dry(bars)
	return w, b.ID, &ledger.ReleaseDecided{Batch: b.ID, Decision: ledger.Released, Statement: "looked"}
}

// The figure decides: 0.90 % and 5 % are above 0.05 %, and 0.07 % as KOH is 0.0499 % as NaOH (by 40.00 and 56.11 g/mol).
func TestTypedFigureAboveItsLimitNeverPasses(t *testing.T) {
	t.Parallel()
	w, batch, release := curedBars(t)
	for _, at := range []struct {
		typed, unit string
		said        *bool
		verdict     string
		passed      bool
		words       string
	}{
		{"0.90", "% NaOH", ptr(true), "fail", false, "recorded as passed; the figure decides"},
		{"5", "% NaOH", ptr(true), "fail", false, "recorded as passed"},
		{"0.051", "% NaOH", nil, "fail", false, "fail by its value alone"},
		{"0.0702", "% KOH", ptr(true), "fail", false, "0.050 % found"},
		{"0.0700", "% KOH", ptr(true), "pass", true, "0.050 % found"},
		{"0.05", "% NaOH", nil, "pass", true, "no uncertainty was stated"},
		{"0.02", "% NaOH", ptr(false), "", false, "recorded as failed, and that stands"},
		{"0.02", "% NaOH", ptr(true), "pass", true, "measured by Invented Laboratory, method: ISO 456"},
	} {
		w.clock.Add(time.Minute)
		r := record(w, &ledger.ReadingTaken{Batch: batch, Type: ledger.FreeAlkali, Typed: at.typed, Unit: at.unit, Passed: at.said, Method: "ISO 456", MeasuredBy: "Invented Laboratory"})
		require.Equal(t, at.verdict, r.Verdict, at.typed)
		require.Equal(t, at.passed, *r.Passed, at.typed)
		require.Contains(t, r.Words, at.words)
		require.Equal(t, "0.05 from memory (medium)", r.Limit.Percent.String()+" "+r.Limit.Mark)
		if !at.passed {
			w.stops(release, "alkali-test-failed")
		}
	}
	nobody := record(w, &ledger.ReadingTaken{Batch: batch, Type: ledger.FreeAlkali, Typed: "0.02", Method: "titration"})
	require.Contains(t, nobody.Words, "measured by the person who recorded it")
	record(w, release)
	w.verify()
}

// With 0.04 ± 0.02 % the limit of 0.05 % lies inside the interval; with ± 0.01 % its end just keeps it.
func TestTypedFigureWithItsUncertainty(t *testing.T) {
	t.Parallel()
	w, batch, release := curedBars(t)
	typed := func(kind, figure, within string, said *bool, limit *ledger.TestLimit) *ledger.ReadingTaken {
		w.clock.Add(time.Minute)
		r := &ledger.ReadingTaken{Batch: batch, Type: kind, Typed: figure, Passed: said, Method: "ISO", Limit: limit}
		if within != "" {
			r.Within = ptr(dec(within))
		}
		return r
	}
	unsure := record(w, typed(ledger.FreeAlkali, "0.04", "0.02", ptr(true), nil))
	require.Equal(t, "0.01 too close to call", unsure.Uncertainty.String()+" "+unsure.Verdict)
	require.Nil(t, unsure.Passed)
	w.stops(release, "alkali-too-close")
	require.False(t, *record(w, typed(ledger.FreeAlkali, "0.04", "0.02", ptr(false), nil)).Passed)
	require.Equal(t, "pass", record(w, typed(ledger.FreeAlkali, "0.04", "0.01", nil, nil)).Verdict)

	fat := &ledger.TestLimit{Percent: dec("76"), AtLeast: true, Source: "IS 2888, grade 1", Mark: "retrieved (secondary)"}
	require.Equal(t, "fail", record(w, typed(ledger.FattyMatter, "75", "", ptr(true), fat)).Verdict)
	require.Equal(t, "pass", record(w, typed(ledger.FattyMatter, "77", "", ptr(true), fat)).Verdict)
	plain := typed(ledger.FattyMatter, "75", "", ptr(true), nil)
	plain.MeasuredBy = "Invented Laboratory"
	bare := record(w, plain)
	require.Equal(t, "75 % as typed, measured by Invented Laboratory, method: ISO", bare.Words)
	require.True(t, *bare.Passed)
	require.Empty(t, bare.Verdict)

	wide := &ledger.TestLimit{Percent: dec("0.1"), Source: "the rule of Inventia"}
	require.Equal(t, "pass", record(w, typed(ledger.FreeAlkali, "0.09", "", nil, wide)).Verdict)
	require.ErrorContains(t, w.try(typed(ledger.FreeAlkali, "5", "", ptr(true), &ledger.TestLimit{Percent: dec("6"), Source: "x"})), "limit: ")
	require.ErrorContains(t, w.try(typed(ledger.FreeAlkali, "5", "", ptr(true), &ledger.TestLimit{Percent: dec("0.05"), AtLeast: true, Source: "x"})), "at_least")
	require.ErrorContains(t, w.try(typed(ledger.FreeAlkali, "0.02", "0", nil, nil)), "within: ")
	require.ErrorContains(t, w.try(&ledger.ReadingTaken{Batch: batch, Type: ledger.PH, Typed: "9.5", Method: "meter", Passed: ptr(true), Limit: wide}), "limit: ")
	raw := caustic(batch, "1.00")
	raw.MeasuredBy = "Invented Laboratory"
	require.ErrorContains(t, w.try(raw), "measured_by: ")
	w.verify()
}

// Soap itself shows up to 10.5 (chemistry notes): 13.5 does not pass by being said to, nor 10.6, and no pH is enough alone.
func TestPHAloneAndPHTooHighStopARelease(t *testing.T) {
	t.Parallel()
	w, batch, release := curedBars(t)
	ph := func(typed string) {
		w.clock.Add(time.Minute)
		record(w, &ledger.ReadingTaken{Batch: batch, Type: ledger.PH, Typed: typed, Method: "meter, 1 % solution", Passed: ptr(true)})
	}
	rulesNow := func() []string {
		found, err := w.l.ReleaseFindings(t.Context(), batch)
		require.NoError(t, err)
		return rules(found, ledger.Stop)
	}
	ph("13.5")
	require.Equal(t, []string{"ph-only", "ph-too-high"}, rulesNow())
	require.Contains(t, textOf(t, w.stops(release, "ph-only", "ph-too-high"), "ph-too-high"), "13.5 by meter, 1 % solution")
	record(w, &ledger.ReadingTaken{Batch: batch, Type: ledger.FreeAlkali, Typed: "0.02", Method: "titration"})
	require.Equal(t, []string{"ph-too-high"}, rulesNow(), "a good titration does not explain such a pH")
	ph("10.6")
	require.Equal(t, []string{"ph-too-high"}, rulesNow())
	ph("10.5")
	require.Empty(t, rulesNow())
	w.verify()
}

// A pH alone goes out only when a person with the right says why: 0.05 % of alkali is pH 10.10 in a 1 % solution, 14 + log10(10 × 0.0005 / 40).
func TestPHAloneIsPassedWithAReason(t *testing.T) {
	t.Parallel()
	w, batch, release := curedBars(t)
	record(w, &ledger.ReadingTaken{Batch: batch, Type: ledger.PH, Typed: "9.6", Method: "meter, 1 % solution", Passed: ptr(true)})
	require.Contains(t, textOf(t, w.stops(release, "ph-only"), "ph-only"), "0.05 % of free NaOH alone gives pH 10.10 in a 1 % solution (computed, unbuffered, 25 °C), and soap itself 9 to 10.5.")
	_, err := w.l.Record(t.Context(), w.owner, ledger.Request{Body: release, Override: "The same formula was titrated five times this year."})
	require.NoError(t, err)
	require.Equal(t, ledger.Released, w.stage(batch))
	w.verify()
}
