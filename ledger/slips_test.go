package ledger_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// What the person says of the time counts: bars cannot leave before they are released, nor come back before they left.
func TestTimesOfADispatchAreJudged(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.make()
	w.cure(b.ID, bars)
	w.release(b.ID)
	send := ledger.Request{HappenedAt: w.clock.Now().Add(-24 * time.Hour), Body: &ledger.DispatchSent{Channel: "market", Occasion: "Invented fair",
		Lines: []ledger.DispatchLine{{Lot: bars.ID, Pieces: 3}}}}
	_, err := w.l.Record(t.Context(), w.owner, send)
	require.Equal(t, ledger.Refused, ledger.FaultOf(err))
	send.HappenedAt = time.Time{}
	sent, err := w.l.Record(t.Context(), w.owner, send)
	require.NoError(t, err)
	_, err = w.l.Record(t.Context(), w.owner, ledger.Request{HappenedAt: w.clock.Now().Add(-48 * time.Hour), Body: &ledger.DispatchReturned{
		Dispatch: sent.Record.(*ledger.DispatchSent).ID, Lot: bars.ID, Pieces: 1, Decision: ledger.Restock, Reason: "unsold"}})
	require.ErrorContains(t, err, "cannot have come back before")
	w.verify()
}

// Lye-heavy soap that was made over keeps the soap that it went into from release, unless the oils of that one are
// predicted to have taken its alkali up: then it is named, with figures. The oils of a batch want 149.67078 g of NaOH. A sixth
// of the first goes into the second, whose oils have 7.47278 g left to take (145.1 g of lye at 98 %).
func TestReworkedLyeHeavySoapIsNamed(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	first, bars := w.make()
	b := record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: w.formula.ID})
	w.step(b.ID, ledger.StepStart)
	w.weigh(b.ID)
	record(w, &ledger.WeighingTaken{Batch: b.ID, Lot: bars.ID, Pieces: ptr(dec("2")), Mass: grams("220")})
	w.warm(b.ID)
	w.step(b.ID, ledger.StepLyeMade, ledger.StepCombine, ledger.StepPour)
	w.clock.Add(30 * time.Hour)
	w.step(b.ID, ledger.StepUnmould)
	y := record(w, &ledger.BatchYielded{Batch: b.ID, Outputs: []ledger.Output{{What: "bars", Pieces: 14, Mass: grams("1630")}}})
	reworked := w.lot(y.Outputs[0].ID)
	w.cure(b.ID, reworked)

	lye := w.entryOf(first.ID, w.lyeLot)
	weighed := func(mass string) {
		r, err := w.l.Record(t.Context(), w.owner, ledger.Request{Corrects: lye, Reason: "the display was misread", Override: "it was so",
			Body: &ledger.WeighingTaken{Batch: first.ID, Line: 1, Lot: w.lyeLot, Mass: grams(mass)}})
		require.NoError(t, err)
		lye = r.Entry
	}
	judged := func(level ledger.Level) string {
		found, err := w.l.ReleaseFindings(t.Context(), b.ID)
		require.NoError(t, err)
		require.Equal(t, []string{"reworked-lye-heavy"}, slices.DeleteFunc(rules(found, level), func(r string) bool { return r != "reworked-lye-heavy" }))
		return textOf(t, &ledger.Error{Findings: found}, "reworked-lye-heavy")
	}
	decide := &ledger.ReleaseDecided{Batch: b.ID, Decision: ledger.Released, Statement: "looked"}

	weighed("198") // (194.04 - 149.67078) / 6 = 7.395 g: just taken up
	require.Contains(t, judged(ledger.Warn), "are predicted to have taken up its alkali: no free alkali is predicted, and 0.0 % of unreacted oil")
	require.True(t, w.madeOf(reworked).Poured.FreeAlkali.IsZero())

	weighed("199") // (195.02 - 149.67078) / 6 = 7.558 g: 0.085 g are left
	require.Contains(t, judged(ledger.Stop), "do not release")
	m := w.madeOf(reworked)
	require.True(t, m.Poured.FreeOil.IsZero())
	require.Equal(t, "0.085", m.Poured.FreeAlkali.Mul(m.Poured.Grams).StringFixed(3))
	w.stops(decide, "free-alkali-predicted", "reworked-lye-heavy")

	weighed("175")
	require.Contains(t, judged(ledger.Warn), "superfat as weighed is -14.6 %")
	record(w, decide)
	w.verify()
}

// Lye-heavy soap in the pot of a batch is seen before its lye meets its oils.
func TestReworkThatBringsAlkaliStopsBeforeCombining(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	_, bars := w.lyeHeavy()
	for pieces, stops := range map[string][]string{"2": nil, "6": {"free-alkali-predicted"}} { // 3.6 and 10.9 g of NaOH; 7.5 are wanted
		b := w.started()
		w.weigh(b.ID)
		w.warm(b.ID)
		record(w, &ledger.WeighingTaken{Batch: b.ID, Lot: bars.ID, Pieces: ptr(dec(pieces)), Mass: grams("600")})
		if stops != nil {
			w.stops(combine(b.ID), stops...)
			continue
		}
		record(w, combine(b.ID))
	}
	w.verify()
}

func TestSlipsOfTheScaleAreRefused(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	_, bars := w.make() // 12 bars of 1400 g
	for _, mass := range []string{"1300", "50"} {
		require.ErrorContains(t, w.try(&ledger.ReadingTaken{Lot: bars.ID, Type: ledger.BarMass, Typed: mass, Unit: "g"}), "cannot be one bar", mass)
	}
	plan := record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: w.formula.ID})
	entries, err := w.l.Journal(t.Context(), ledger.JournalQuery{Kind: "batch.planned", Limit: 1})
	require.NoError(t, err)
	_, err = w.l.Record(t.Context(), w.owner, ledger.Request{Corrects: entries[0].ID, Reason: "not today", Body: &ledger.EntryStruck{}})
	require.NoError(t, err)
	dropped, err := w.l.Batch(t.Context(), plan.ID)
	require.NoError(t, err)
	require.Equal(t, ledger.Dropped, dropped.Stage)
	w.verify()
}
