package ledger_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// yieldEntry is the entry that made a lot.
func (w *workshop) yieldEntry(batch int64) int64 {
	w.t.Helper()
	entries, err := w.l.Journal(w.t.Context(), ledger.JournalQuery{Kind: "batch.yielded"})
	require.NoError(w.t, err)
	for _, e := range entries {
		if e.Body.(*ledger.BatchYielded).Batch == batch {
			return e.ID
		}
	}
	require.Fail(w.t, "the batch gave nothing")
	return 0
}

func TestMiscountedBarsAreCorrectedAfterSale(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.make()
	w.cure(b.ID, bars)
	w.release(b.ID)
	record(w, &ledger.DispatchSent{Channel: "market", Occasion: "Invented fair", Lines: []ledger.DispatchLine{{Lot: bars.ID, Pieces: 5}}})
	entry := w.yieldEntry(b.ID)

	recount := func(pieces int64) error {
		_, err := w.l.Record(t.Context(), w.owner, ledger.Request{Corrects: entry, Reason: "counted again", Body: &ledger.BatchYielded{Batch: b.ID,
			Outputs: []ledger.Output{{What: "bars", Pieces: pieces, Mass: grams("1400")}}}})
		return err
	}
	require.Equal(t, ledger.Conflict, ledger.FaultOf(recount(4)), "five were sent")
	require.NoError(t, recount(13))
	after := w.lot(bars.ID)
	require.Equal(t, bars.Code, after.Code)
	require.Equal(t, "13", after.Amount.String())
	require.Equal(t, "8", after.OnHand.String())

	_, err := w.l.Record(t.Context(), w.owner, ledger.Request{Corrects: entry, Reason: "again", Body: &ledger.EntryStruck{}})
	require.Equal(t, ledger.Conflict, ledger.FaultOf(err), "the entry was corrected already")
	w.verify()
}

func TestStruckCutIsMadeAnew(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.make()
	_, err := w.l.Record(t.Context(), w.owner, ledger.Request{Corrects: w.yieldEntry(b.ID), Reason: "another batch was cut", Body: &ledger.EntryStruck{}})
	require.NoError(t, err)
	require.Equal(t, "struck", w.lot(bars.ID).State())
	now, err := w.l.Batch(t.Context(), b.ID)
	require.NoError(t, err)
	require.Equal(t, ledger.Unmoulded, now.Stage)

	y := record(w, &ledger.BatchYielded{Batch: b.ID, Outputs: []ledger.Output{{What: "bars", Pieces: 11, Mass: grams("1390")}}})
	require.NotEqual(t, bars.Code, y.Outputs[0].Code, "a code is never used again")
	outputs, err := w.l.Outputs(t.Context(), b.ID)
	require.NoError(t, err)
	require.Len(t, outputs, 1)
	a, err := w.l.Ask(t.Context(), "OL-1")
	require.NoError(t, err)
	require.Len(t, a.Reached, 2, "the olive oil and the bars that there are")
	struck, err := w.l.Ask(t.Context(), bars.Code)
	require.NoError(t, err)
	require.True(t, struck.Reached[0].Struck)
	w.verify()
}

func TestWhatABatchGaveCannotBecomeOtherLots(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, _ := w.make()
	_, err := w.l.Record(t.Context(), w.owner, ledger.Request{Corrects: w.yieldEntry(b.ID), Reason: "r", Body: &ledger.BatchYielded{Batch: b.ID,
		Outputs: []ledger.Output{{What: "remnants", Mass: grams("1400")}}}})
	require.ErrorContains(t, err, "the same lots in the same order")
}

// A weighing that is corrected after the cut changes what was poured; the bars share it as they did.
func TestCorrectedWeighingIsPouredAnew(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.make()
	weighings, err := w.l.Weighings(t.Context(), b.ID)
	require.NoError(t, err)
	last := weighings[len(weighings)-1] // the scent, 30 g
	require.Equal(t, "30", last.Grams.String())
	_, err = w.l.Record(t.Context(), w.owner, ledger.Request{Corrects: last.Entry, Reason: "it was 20 g", Override: "it was 20 g",
		Body: &ledger.WeighingTaken{Batch: b.ID, Line: *last.Line, Lot: last.Lot, Mass: grams("20")}})
	require.NoError(t, err)
	require.Equal(t, bars.PouredGrams.Sub(dec("10")).String(), w.lot(bars.ID).PouredGrams.String())
	w.verify()
}
