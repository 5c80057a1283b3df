package ledger_test

import (
	"slices"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// checkDays and checkGrams are the synthetic check series of the reference notes on cure (chemistry, section 7).
var (
	checkDays  = []int{0, 1, 2, 3, 5, 7, 10, 14, 18, 21, 25, 28, 35, 42}
	checkGrams = []string{"135.0", "133.1", "131.7", "130.9", "129.1", "128.0", "126.4", "124.8", "123.8", "122.9", "122.3", "121.6", "120.9", "120.2"}
)

// weighSeries records weighings of a bar on days from the cut, at its hour, and gives their entries.
func (w *workshop) weighSeries(lot int64, mark string, days []int, masses []string) (entries []int64) {
	w.t.Helper()
	b, err := w.l.Batch(w.t.Context(), *w.lot(lot).BatchID)
	require.NoError(w.t, err)
	for i, mass := range masses {
		at := b.CutAt.Add(time.Duration(days[i]) * 24 * time.Hour)
		entries = append(entries, w.must(ledger.Request{HappenedAt: at, Body: &ledger.ReadingTaken{Lot: lot, Type: ledger.BarMass, Typed: mass, Unit: "g", Sample: mark, Instrument: "fine"}}).Entry)
	}
	return entries
}

func (w *workshop) must(req ledger.Request) *ledger.Receipt {
	w.t.Helper()
	r, err := w.l.Record(w.t.Context(), w.owner, req)
	require.NoError(w.t, err)
	return r
}

func (w *workshop) cureOf(batch int64, on time.Time) *ledger.Cure {
	w.t.Helper()
	c, err := w.l.Cure(w.t.Context(), batch, on)
	require.NoError(w.t, err)
	return c
}

func (w *workshop) batches() []ledger.Batch {
	w.t.Helper()
	list, err := w.l.Batches(w.t.Context(), "", 0)
	require.NoError(w.t, err)
	return list
}

// findings are the texts of the release gate by rule.
func (w *workshop) findings(batch int64) map[string]string {
	w.t.Helper()
	list, err := w.l.ReleaseFindings(w.t.Context(), batch)
	require.NoError(w.t, err)
	out := map[string]string{}
	for _, f := range list {
		out[f.Rule] += f.Text
	}
	return out
}

func requireNear(t *testing.T, want string, got decimal.Decimal, within, what string) {
	t.Helper()
	require.True(t, dec(want).Sub(got).Abs().LessThanOrEqual(dec(within)), "%s: %s, want %s within %s", what, got, want, within)
}

// The worked values of the notes, through the ledger: m_inf 118.2465, m_0 135.0111, tau 15.4067, beta 0.7593; forecasts with
// 95 %: day 49 119.756 ± 0.302, day 56 119.414 ± 0.344, day 84 118.693 ± 0.495; under 0.5 % a week from day 42.9.
func TestCureOfTheCheckSeries(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.bars(ledger.Output{What: "bars", Pieces: 9, Mass: grams("1215")})
	w.clock.Add(42 * 24 * time.Hour)
	w.weighSeries(bars[0].ID, "A", checkDays, checkGrams)
	c := w.cureOf(b.ID, time.Time{})
	for day, v := range map[int][2]string{49: {"119.756", "0.302"}, 56: {"119.414", "0.344"}, 84: {"118.693", "0.495"}} {
		lot := w.cureOf(b.ID, c.CutOn.AddDate(0, 0, day)).Lots[0]
		e := lot.Expected[slices.IndexFunc(lot.Expected, func(e ledger.ExpectedMass) bool { return e.Why == "asked" })]
		require.Equal(t, "asked", e.Why)
		require.Equal(t, day, e.Days)
		require.Equal(t, day > 49, e.Beyond)
		for _, m := range []ledger.Interval{e.Mean, e.Bars[0].Interval} {
			requireNear(t, v[0], m.Value, "0.001", "expected mass")
			requireNear(t, v[1], m.High.Sub(m.Value), "0.001", "upper half")
			requireNear(t, v[1], m.Value.Sub(m.Low), "0.001", "lower half")
		}
		require.Equal(t, e.Mean.Low.RoundFloor(1), e.Lightest(), "a single bar, rounded down")
	}
	lot := c.Lots[0]
	requireNear(t, "118.2465", lot.Curve.Bars[0].Final.Value, "0.001", "m_inf")
	requireNear(t, "135.0111", lot.Curve.Bars[0].AtCut.Value, "0.001", "m_0")
	requireNear(t, "15.4067", lot.Curve.TauDays.Value, "0.001", "tau")
	requireNear(t, "0.7593", lot.Curve.Beta.Value, "0.0001", "beta")
	require.False(t, lot.Curve.BetaHeld)
	require.Equal(t, 43, int(lot.ByPoint.Sub(c.CutOn).Hours()/24))
	require.False(t, c.Ready)
	require.True(t, c.ReadyOn.After(*lot.ByPoint))
	require.Contains(t, lot.Says, "Ready from "+c.ReadyOn.Format("2 January 2006")+" by both rules")
	requireNear(t, "0.51", lot.Loss.PerWeek, "0.02", "weekly loss on day 42, where 0.5 is reached on day 42.9")
	require.Len(t, lot.Weighings, 14)
	requireNear(t, "135.011", *lot.Weighings[0].Expected, "0.001", "m_0 again")
	days, err := w.l.ReadyDays(t.Context(), w.batches())
	require.NoError(t, err)
	require.Equal(t, map[int64]time.Time{b.ID: *c.ReadyOn}, days)
	_, err = w.l.Cure(t.Context(), b.ID, c.CutOn.AddDate(0, 0, -1))
	require.Equal(t, ledger.Invalid, ledger.FaultOf(err))
	_, err = w.l.Cure(t.Context(), b.ID, c.CutOn.AddDate(0, 0, 731))
	require.ErrorContains(t, err, "two years after")
	w.verify()
}

// Bar "1" of one lot is not bar "1" of another: each lot has its own curve, and both have to be slow enough.
func TestTwoLotsWithTheSameMarks(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.bars(ledger.Output{What: "bars", Pieces: 5, Mass: grams("675")}, ledger.Output{What: "bars", Pieces: 8, Mass: grams("540")})
	w.clock.Add(70 * 24 * time.Hour)
	days := append(append([]int{}, checkDays...), 49, 56, 63, 70)
	first := append(append([]string{}, checkGrams...), "119.8", "119.4", "119.2", "119.0") // by the worked forecasts, and as the curve goes on
	half := make([]string, len(first))
	for i, mass := range first {
		half[i] = dec(mass).Div(dec("2")).StringFixed(1)
	}
	w.weighSeries(bars[0].ID, "1", days, first)
	record(w, &ledger.ReadingTaken{Batch: b.ID, Type: ledger.FreeAlkali, Typed: "0.02", Method: "titration with 0.1 mol/L acid", Passed: ptr(true)})
	c := w.cureOf(b.ID, time.Time{})
	require.True(t, c.Ready, "what was weighed speaks for the rest: %s", c.Lots[0].Says)
	require.NotEmpty(t, c.Lots[1].Refusal)
	require.Contains(t, w.findings(b.ID), "lot-not-weighed")

	w.weighSeries(bars[1].ID, "1", days[:12], half[:12])
	c = w.cureOf(b.ID, time.Time{})
	requireNear(t, "135", c.Lots[0].Curve.Bars[0].AtCut.Value, "0.3", "a bar of the first lot")
	requireNear(t, "67.5", c.Lots[1].Curve.Bars[0].AtCut.Value, "0.3", "a bar of the second, under the same mark")
	require.Len(t, c.Lots[0].Weighings, len(days))
	require.Empty(t, c.Lots[0].OddOnes())
	require.True(t, c.Lots[0].Ready)
	require.False(t, c.Lots[1].Ready, "weighed last on day 28")
	require.False(t, c.Ready)
	require.NotContains(t, w.findings(b.ID), "lot-not-weighed")
	require.Contains(t, w.findings(b.ID)["not-cured"], bars[1].Code+": ")
	w.verify()
}

// What was ready when it was released is not asked for weighings ever after; once the decision is struck it is.
func TestReleasedBarsStayReady(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.make()
	w.cure(b.ID, bars)
	w.release(b.ID)
	on := w.cureOf(b.ID, time.Time{}).Today
	w.clock.Add(90 * 24 * time.Hour)
	c := w.cureOf(b.ID, time.Time{})
	require.True(t, c.Ready, c.Lots[0].Says)
	require.Equal(t, on, c.JudgedOn)
	require.Equal(t, on.AddDate(0, 0, 90), c.Today)
	require.Contains(t, c.Lots[0].Says, "when it was released on "+on.Format("2 January 2006"))
	releases, err := w.l.Releases(t.Context(), b.ID)
	require.NoError(t, err)
	w.must(ledger.Request{Corrects: releases[0].Entry, Reason: "too early", Body: &ledger.EntryStruck{}})
	c = w.cureOf(b.ID, time.Time{})
	require.Equal(t, c.Today, c.JudgedOn)
	require.NotContains(t, c.Lots[0].Says, "released")
	w.verify()
}

// A slip is pointed at with its entry; correcting that entry changes the curve and leaves nothing to point at.
func TestCorrectingAnOddWeighingChangesTheCurve(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.bars(ledger.Output{What: "bars", Pieces: 9, Mass: grams("1215")})
	w.clock.Add(42 * 24 * time.Hour)
	slipped := append([]string{}, checkGrams...)
	slipped[8] = "126.8" // for 123.8
	entries := w.weighSeries(bars[0].ID, "A", checkDays, slipped)
	before := w.cureOf(b.ID, time.Time{}).Lots[0]
	odd := before.OddOnes()
	require.Len(t, odd, 1)
	require.Equal(t, entries[8], odd[0].Entry)
	require.Contains(t, odd[0].Odd, "slipped")
	require.Len(t, before.Weighings, 14, "it counts until it is put right")

	w.must(ledger.Request{Corrects: entries[8], Reason: "read 123.8 as 126.8", HappenedAt: odd[0].HappenedAt,
		Body: &ledger.ReadingTaken{Lot: bars[0].ID, Type: ledger.BarMass, Typed: "123.8", Unit: "g", Sample: "A", Instrument: "fine"}})
	after := w.cureOf(b.ID, time.Time{}).Lots[0]
	require.Empty(t, after.OddOnes())
	require.Len(t, after.Weighings, 14)
	require.NotNil(t, after.Curve, after.Refusal)
	requireNear(t, "15.4067", after.Curve.TauDays.Value, "0.001", "tau, as without the slip")
	require.NotEqual(t, before.Says, after.Says)
	w.verify()
}

// With too few weighings there is no curve, and the words say what to weigh and when; an uncut batch has no cure.
func TestCureIsRefusedInWords(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.bars(ledger.Output{What: "bars", Pieces: 9, Mass: grams("1215")})
	w.clock.Add(7 * 24 * time.Hour)
	c := w.cureOf(b.ID, time.Time{})
	require.Contains(t, c.Lots[0].Refusal, "Not enough weighings: mark a bar and weigh it")
	w.weighSeries(bars[0].ID, "A", checkDays[:3], checkGrams[:3])
	lot := w.cureOf(b.ID, time.Time{}).Lots[0]
	require.Nil(t, lot.Curve)
	require.Nil(t, lot.ReadyOn)
	require.Empty(t, lot.Expected)
	require.Contains(t, lot.Refusal, "Weigh the same bar again on "+c.CutOn.AddDate(0, 0, 5).Format(time.DateOnly))
	require.Contains(t, lot.Says, "Not ready yet. Cut 7 days ago; 28 days are asked for.")
	days, err := w.l.ReadyDays(t.Context(), w.batches())
	require.NoError(t, err)
	require.Empty(t, days)

	uncut := record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: w.formula.ID})
	_, err = w.l.Cure(t.Context(), uncut.ID, time.Time{})
	require.Equal(t, ledger.Conflict, ledger.FaultOf(err))
	require.ErrorContains(t, err, "was not cut")
	_, err = w.l.Cure(t.Context(), 99, time.Time{})
	require.Equal(t, ledger.NotFound, ledger.FaultOf(err))
}
