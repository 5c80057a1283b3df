package ledger_test

import (
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

// Lye-heavy soap that was made over keeps the soap that it went into from release.
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
	w.cure(b.ID, w.lot(y.Outputs[0].ID))

	weighings, err := w.l.Weighings(t.Context(), first.ID)
	require.NoError(t, err)
	lye := weighings[0]
	_, err = w.l.Record(t.Context(), w.owner, ledger.Request{Corrects: lye.Entry, Reason: "the display was misread", Override: "it was so",
		Body: &ledger.WeighingTaken{Batch: first.ID, Line: *lye.Line, Lot: lye.Lot, Mass: grams("175")}})
	require.NoError(t, err)
	w.stops(&ledger.ReleaseDecided{Batch: b.ID, Decision: ledger.Released, Statement: "looked"}, "reworked-lye-heavy")
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
