package ledger_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// correct records a body in the place of an earlier entry; a nil body strikes it.
func (w *workshop) correct(entry int64, body ledger.Body) (*ledger.Receipt, error) {
	if body == nil {
		body = &ledger.EntryStruck{}
	}
	return w.l.Record(w.t.Context(), w.owner, ledger.Request{Corrects: entry, Reason: "read the scale wrong", Body: body})
}

func (w *workshop) corrected(entry int64, body ledger.Body) *ledger.Receipt {
	w.t.Helper()
	r, err := w.correct(entry, body)
	require.NoError(w.t, err)
	return r
}

// enter is record with the receipt.
func (w *workshop) enter(b ledger.Body) *ledger.Receipt {
	w.t.Helper()
	r, err := w.l.Record(w.t.Context(), w.owner, ledger.Request{Body: b})
	require.NoError(w.t, err)
	return r
}

// at tells how much of a lot is at a place, in words.
func (w *workshop) at(lot int64, place string) string {
	w.t.Helper()
	holdings, err := w.l.Holdings(w.t.Context(), lot)
	require.NoError(w.t, err)
	sum := dec("0")
	for _, h := range holdings {
		if h.Place == place {
			sum = sum.Add(h.Amount)
		}
	}
	return sum.String()
}

func (w *workshop) stage(batch int64) string {
	w.t.Helper()
	b, err := w.l.Batch(w.t.Context(), batch)
	require.NoError(w.t, err)
	return b.Stage
}

// started opens a batch that waits for its weighings.
func (w *workshop) started() *ledger.BatchPlanned {
	w.t.Helper()
	b := record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: w.formula.ID})
	w.step(b.ID, ledger.StepStart)
	return b
}

func (w *workshop) lineOf(b *ledger.BatchPlanned, material int64) int {
	w.t.Helper()
	for i, line := range b.Lines {
		if line.Material == material {
			return i + 1
		}
	}
	require.Fail(w.t, "no such line")
	return 0
}

func TestCorrectAWeighingAndItsCorrection(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := w.started()
	weighing := func(mass string) *ledger.WeighingTaken {
		return &ledger.WeighingTaken{Batch: b.ID, Line: w.lineOf(b, w.olive), Lot: w.oliveLot, Mass: grams(mass)}
	}
	first := w.enter(weighing("705"))
	require.Equal(t, "4295", w.at(w.oliveLot, "shelf"))

	second := w.corrected(first.Entry, weighing("695"))
	require.Equal(t, "695", w.at(w.oliveLot, "pot"))
	require.Equal(t, "4305", w.at(w.oliveLot, "shelf"))
	_, err := w.correct(first.Entry, weighing("700"))
	fault(t, err, ledger.Conflict)
	_, err = w.correct(first.Entry, nil)
	fault(t, err, ledger.Conflict)
	w.verify()

	third := w.corrected(second.Entry, weighing("700"))
	require.Equal(t, "700", w.at(w.oliveLot, "pot"), "the correction of a correction must not bring the first back")
	require.Equal(t, "4300", w.at(w.oliveLot, "shelf"))
	w.verify()

	strike := w.corrected(third.Entry, nil)
	require.Equal(t, "0", w.at(w.oliveLot, "pot"))
	require.Equal(t, "5000", w.at(w.oliveLot, "shelf"))
	_, err = w.correct(strike.Entry, nil)
	fault(t, err, ledger.Invalid)

	list, err := w.l.Weighings(t.Context(), b.ID)
	require.NoError(t, err)
	require.Len(t, list, 3, "all stay visible")
	for i, by := range []int64{second.Entry, third.Entry, strike.Entry} {
		require.Equal(t, by, *list[i].StruckBy)
		require.Equal(t, "read the scale wrong", list[i].StruckWhy)
	}
	w.verify()
}

func TestWhatCannotBeCorrected(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := w.started()
	weighed := w.enter(&ledger.WeighingTaken{Batch: b.ID, Line: w.lineOf(b, w.olive), Lot: w.oliveLot, Mass: grams("700")})
	_, err := w.correct(weighed.Entry, &ledger.StepTaken{Batch: b.ID, Step: ledger.StepNote, Note: "another kind"})
	fault(t, err, ledger.Invalid)
	_, err = w.correct(1<<40, nil)
	fault(t, err, ledger.NotFound)
	_, err = w.l.Record(t.Context(), w.owner, ledger.Request{Corrects: weighed.Entry, Body: &ledger.EntryStruck{}})
	fault(t, err, ledger.Invalid) // no reason
	held := w.enter(&ledger.LotHeld{Lot: w.oliveLot, Reason: "smells odd"})
	_, err = w.correct(held.Entry, nil)
	fault(t, err, ledger.Invalid)
	w.verify()
}

func TestTwoCorrectionsAtOnce(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := w.started()
	entry := w.enter(&ledger.WeighingTaken{Batch: b.ID, Line: w.lineOf(b, w.olive), Lot: w.oliveLot, Mass: grams("700")}).Entry
	errs := make(chan error)
	for _, body := range []ledger.Body{
		&ledger.WeighingTaken{Batch: b.ID, Line: w.lineOf(b, w.olive), Lot: w.oliveLot, Mass: grams("690")},
		&ledger.WeighingTaken{Batch: b.ID, Line: w.lineOf(b, w.olive), Lot: w.oliveLot, Mass: grams("710")}, nil, nil,
	} {
		go func() {
			_, err := w.correct(entry, body)
			errs <- err
		}()
	}
	won := 0
	for range 4 {
		err := <-errs
		if err == nil {
			won++
			continue
		}
		fault(t, err, ledger.Conflict)
	}
	require.Equal(t, 1, won)
	w.verify()
}

// entryOf finds the entry of the weighing of a material.
func (w *workshop) entryOf(batch, lot int64) int64 {
	w.t.Helper()
	list, err := w.l.Weighings(w.t.Context(), batch)
	require.NoError(w.t, err)
	for _, x := range list {
		if x.Lot == lot && x.StruckBy == nil {
			return x.Entry
		}
	}
	require.Fail(w.t, "not weighed")
	return 0
}

func (w *workshop) released() (*ledger.BatchPlanned, ledger.Lot) {
	w.t.Helper()
	b, bars := w.make()
	w.cure(b.ID, bars)
	w.release(b.ID)
	return b, bars
}

func (w *workshop) reopened(batch int64) {
	w.t.Helper()
	require.Equal(w.t, ledger.Curing, w.stage(batch))
	list, err := w.l.Releases(w.t.Context(), batch)
	require.NoError(w.t, err)
	require.NotNil(w.t, list[len(list)-1].ReopenedBy)
}

func TestCorrectedCompositionOpensTheReleaseAgain(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.released()
	sent := w.enter(&ledger.DispatchSent{Channel: "market", Occasion: "Invented fair", Lines: []ledger.DispatchLine{{Lot: bars.ID, Pieces: 4}}})
	dispatch := sent.Record.(*ledger.DispatchSent).ID
	require.Equal(t, "8", w.at(bars.ID, "ready"))

	again := func(mass string) *ledger.WeighingTaken {
		return &ledger.WeighingTaken{Batch: b.ID, Line: w.lineOf(b, w.olive), Lot: w.oliveLot, Mass: grams(mass)}
	}
	first := w.corrected(w.entryOf(b.ID, w.oliveLot), again("705"))
	w.reopened(b.ID)
	require.Equal(t, "8", w.at(bars.ID, "rack"))
	require.Equal(t, "0", w.at(bars.ID, "ready"))
	require.Equal(t, "4", w.at(bars.ID, "sent"))
	fault(t, w.try(&ledger.DispatchSent{Channel: "gift", Lines: []ledger.DispatchLine{{Lot: bars.ID, Pieces: 1}}}), ledger.Refused)

	// What comes back meanwhile goes to where its batch lies.
	record(w, &ledger.DispatchReturned{Dispatch: dispatch, Lot: bars.ID, Pieces: 1, Decision: ledger.Restock, Reason: "unsold"})
	require.Equal(t, "9", w.at(bars.ID, "rack"))
	w.release(b.ID)
	require.Equal(t, "9", w.at(bars.ID, "ready"))

	// The bars that a correction put back on the rack are not moved by correcting it.
	w.corrected(first.Entry, again("700"))
	w.reopened(b.ID)
	require.Equal(t, "9", w.at(bars.ID, "rack"))
	require.Equal(t, "700", w.at(w.oliveLot, "pot"))
	w.verify()
}

func TestCorrectedTestOpensTheReleaseAgain(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.make()
	w.cure(b.ID, bars)
	test := w.enter(&ledger.ReadingTaken{Lot: bars.ID, Type: ledger.PH, Typed: "9.5", Method: "meter, 1 % solution", Passed: ptr(true)})
	w.release(b.ID)
	w.corrected(test.Entry, &ledger.ReadingTaken{Lot: bars.ID, Type: ledger.PH, Typed: "12.5", Method: "meter, 1 % solution", Passed: ptr(false)})
	w.reopened(b.ID)
	require.Equal(t, "12", w.at(bars.ID, "rack"))
	fault(t, w.try(&ledger.ReleaseDecided{Batch: b.ID, Decision: ledger.Released, Statement: "looked again"}), ledger.Refused)
	w.verify()
}

func TestCorrectADecision(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.make()
	w.cure(b.ID, bars)
	entry := w.enter(&ledger.ReleaseDecided{Batch: b.ID, Decision: ledger.Rejected, Statement: "took it for another batch"}).Entry
	entry = w.corrected(entry, &ledger.ReleaseDecided{Batch: b.ID, Decision: ledger.Released, Statement: "looked at the right one"}).Entry
	require.Equal(t, "12", w.at(bars.ID, "ready"))
	entry = w.corrected(entry, &ledger.ReleaseDecided{Batch: b.ID, Decision: ledger.Released, Statement: "with a better statement"}).Entry
	require.Equal(t, "12", w.at(bars.ID, "ready"))
	require.Equal(t, ledger.Released, w.stage(b.ID))

	sent := w.enter(&ledger.DispatchSent{Channel: "gift", Lines: []ledger.DispatchLine{{Lot: bars.ID, Pieces: 1}}})
	_, err := w.correct(entry, nil)
	fault(t, err, ledger.Conflict) // a bar has left on the strength of it
	w.corrected(sent.Entry, nil)
	w.corrected(entry, nil)
	require.Equal(t, "12", w.at(bars.ID, "rack"))
	require.Equal(t, ledger.Curing, w.stage(b.ID))
	w.verify()
}

// A decision that a correction has opened again is no longer there to be struck under the one that followed it.
func TestAnOpenedDecisionCannotBeStruck(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.make()
	w.cure(b.ID, bars)
	first := w.enter(&ledger.ReleaseDecided{Batch: b.ID, Decision: ledger.Released, Statement: "the first"})
	w.corrected(w.entryOf(b.ID, w.scentLot), nil)
	w.release(b.ID)
	_, err := w.correct(first.Entry, nil)
	fault(t, err, ledger.Conflict)
	require.Equal(t, ledger.Released, w.stage(b.ID))
	require.Equal(t, "12", w.at(bars.ID, "ready"))
	w.verify()
}

func TestCorrectAReceipt(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	r := w.enter(&ledger.LotReceived{Material: w.olive, Supplier: w.supplier, SupplierLot: "OL-9", Mass: grams("1000")})
	lot := r.Record.(*ledger.LotReceived)
	record(w, &ledger.StockMoved{Lot: lot.ID, Way: ledger.Discarded, Amount: dec("300"), Reason: "spilt"})
	again := func(mass string) *ledger.LotReceived {
		return &ledger.LotReceived{Material: w.olive, Supplier: w.supplier, SupplierLot: "OL-9b", Mass: grams(mass), BestBefore: "2027-01-31"}
	}
	entry := r.Entry
	for _, c := range []struct{ mass, left string }{{"900", "600"}, {"1200", "900"}, {"300", "0"}, {"1000", "700"}} {
		entry = w.corrected(entry, again(c.mass)).Entry
		now := w.lot(lot.ID)
		require.Equal(t, c.left, now.OnHand.String(), c.mass)
		require.Equal(t, c.mass, now.Amount.String())
		require.Equal(t, lot.Code, now.Code)
		require.Equal(t, "OL-9b", now.SupplierLot)
		require.Equal(t, "-"+c.mass, w.at(lot.ID, "supplier"))
	}
	_, err := w.correct(entry, again("299.999"))
	fault(t, err, ledger.Conflict)
	_, err = w.correct(entry, nil)
	fault(t, err, ledger.Conflict)
	_, err = w.correct(entry, &ledger.LotReceived{Material: w.coconut, Supplier: w.supplier, SupplierLot: "OL-9", Mass: grams("1000")})
	fault(t, err, ledger.Invalid)
	require.Equal(t, "700", w.lot(lot.ID).OnHand.String())
	w.verify()
}

func TestStrikeAReceipt(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	r := w.enter(&ledger.LotReceived{Material: w.olive, Supplier: w.supplier, NoSupplierLot: true, Mass: grams("1000")})
	w.corrected(r.Entry, nil)
	lot := w.lot(r.Record.(*ledger.LotReceived).ID)
	require.True(t, lot.OnHand.IsZero())
	require.True(t, lot.Held)
	w.verify()
}

func TestCorrectADispatch(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.released()
	send := func(pieces int64) *ledger.DispatchSent {
		return &ledger.DispatchSent{Channel: "market", Occasion: "Invented fair", Lines: []ledger.DispatchLine{{Lot: bars.ID, Pieces: pieces}}}
	}
	r := w.enter(send(12))
	was := r.Record.(*ledger.DispatchSent)
	entry := r.Entry
	for _, pieces := range []int64{5, 12, 7} {
		fixed := w.corrected(entry, send(pieces))
		entry = fixed.Entry
		require.Equal(t, was.Code, fixed.Record.(*ledger.DispatchSent).Code)
		require.Equal(t, dec("12").Sub(dec(w.at(bars.ID, "sent"))).String(), w.at(bars.ID, "ready"))
		lines, err := w.l.SentLines(t.Context(), was.ID)
		require.NoError(t, err)
		require.Len(t, lines, 1)
		require.Equal(t, pieces, lines[0].Pieces.IntPart())
	}
	_, err := w.correct(entry, send(13))
	fault(t, err, ledger.Conflict)

	back := w.enter(&ledger.DispatchReturned{Dispatch: was.ID, Lot: bars.ID, Pieces: 2, Decision: ledger.Restock, Reason: "unsold"})
	_, err = w.correct(entry, send(1)) // two came back from it
	fault(t, err, ledger.Conflict)
	scrap := w.corrected(back.Entry, &ledger.DispatchReturned{Dispatch: was.ID, Lot: bars.ID, Pieces: 3, Decision: ledger.Scrap, Reason: "wet"})
	require.Equal(t, "5 4 3", w.at(bars.ID, "ready")+" "+w.at(bars.ID, "sent")+" "+w.at(bars.ID, "waste"))
	w.corrected(scrap.Entry, nil)

	// Struck after the release was taken back, the bars go to the rack with the others.
	w.corrected(w.entryOf(b.ID, w.scentLot), nil)
	w.corrected(entry, nil)
	require.Equal(t, "12 0 0", w.at(bars.ID, "rack")+" "+w.at(bars.ID, "ready")+" "+w.at(bars.ID, "sent"))
	w.verify()
}

func TestCorrectStepsInTheirOrder(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := w.started()
	w.weigh(b.ID)
	w.warm(b.ID)
	var entries []int64
	for _, s := range []string{ledger.StepLyeMade, ledger.StepCombine, ledger.StepPour} {
		entries = append(entries, w.enter(&ledger.StepTaken{Batch: b.ID, Step: s}).Entry)
	}
	w.clock.Add(25 * time.Hour)
	entries = append(entries, w.enter(&ledger.StepTaken{Batch: b.ID, Step: ledger.StepUnmould}).Entry)
	_, err := w.correct(entries[1], nil)
	fault(t, err, ledger.Conflict)
	before := []string{ledger.Weighing, ledger.LyeMade, ledger.Combined, ledger.Poured}
	for i := 3; i >= 0; i-- {
		w.corrected(entries[i], nil)
		require.Equal(t, before[i], w.stage(b.ID))
		w.verify()
	}
	steps, err := w.l.Steps(t.Context(), b.ID)
	require.NoError(t, err)
	require.Len(t, steps, 5, "struck steps stay visible")
}

// A lot that was made from a batch cannot go into it, even when a weighing is corrected long after.
func TestNoLotIsMadeFromItself(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	first, bars := w.make()
	second := w.started()
	w.weigh(second.ID)
	record(w, &ledger.WeighingTaken{Batch: second.ID, Lot: bars.ID, Pieces: ptr(dec("2")), Mass: grams("230")})
	w.warm(second.ID)
	w.step(second.ID, ledger.StepLyeMade, ledger.StepCombine, ledger.StepPour)
	w.clock.Add(25 * time.Hour)
	w.step(second.ID, ledger.StepUnmould)
	y := record(w, &ledger.BatchYielded{Batch: second.ID, Outputs: []ledger.Output{{What: "bars", Pieces: 10, Mass: grams("1600")}}})
	_, err := w.correct(w.entryOf(first.ID, w.scentLot), &ledger.WeighingTaken{Batch: first.ID, Lot: y.Outputs[0].ID, Pieces: ptr(dec("1")), Mass: grams("30")})
	fault(t, err, ledger.Invalid)
	require.ErrorContains(t, err, "cannot go into it")
	_, err = w.l.Ingredients(t.Context(), w.lot(y.Outputs[0].ID))
	require.NoError(t, err)
	w.verify()
}

// A weighing that was recorded for the wrong batch moves to the right one, if that is still open.
func TestMoveAWeighingToAnotherBatch(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	done, bars := w.released()
	open := w.started()
	scent := func(batch int64) *ledger.WeighingTaken {
		return &ledger.WeighingTaken{Batch: batch, Line: w.lineOf(open, w.scent), Lot: w.scentLot, Mass: grams("30")}
	}
	moved := w.corrected(w.entryOf(done.ID, w.scentLot), scent(open.ID))
	w.reopened(done.ID)
	require.Equal(t, "12", w.at(bars.ID, "rack"))
	_, err := w.correct(moved.Entry, scent(done.ID))
	fault(t, err, ledger.Conflict)
	w.verify()
}

func TestBarsComeBackToWhereTheirBatchLies(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.make()
	lost := w.enter(&ledger.StockMoved{Lot: bars.ID, Way: ledger.Discarded, Amount: dec("2"), Reason: "chipped"})
	w.cure(b.ID, bars)
	w.release(b.ID)
	w.corrected(lost.Entry, nil) // they were good after all, and the batch is released by now
	require.Equal(t, "12 0", w.at(bars.ID, "ready")+" "+w.at(bars.ID, "rack"))

	record(w, &ledger.DispatchSent{Channel: "gift", Lines: []ledger.DispatchLine{{Lot: bars.ID, Pieces: 12}}})
	found := w.enter(&ledger.StockMoved{Lot: bars.ID, Way: ledger.Surplus, Amount: dec("1"), Reason: "behind the rack"})
	require.Equal(t, "1", w.at(bars.ID, "ready"))
	w.corrected(w.entryOf(b.ID, w.scentLot), nil)
	fault(t, w.try(&ledger.StockMoved{Lot: bars.ID, Way: ledger.Surplus, From: "ready", Amount: dec("1"), Reason: "not released"}), ledger.Invalid)
	w.corrected(found.Entry, nil)
	require.Equal(t, "0 0", w.at(bars.ID, "ready")+" "+w.at(bars.ID, "rack"))
	w.verify()
}
