package ledger_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// second opens the same database once more, as another process would.
func (w *workshop) second() *ledger.Ledger {
	w.t.Helper()
	l, err := ledger.Open(w.t.Context(), w.db.Service, w.clock.Now)
	require.NoError(w.t, err)
	w.t.Cleanup(l.Close)
	return l
}

func TestManyTakeFromOneLot(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	lot := w.receive(w.mica, "MI-2", "100")
	ledgers := []*ledger.Ledger{w.l, w.second()}
	var wait sync.WaitGroup
	var taken atomic.Int64
	for i := range 16 {
		wait.Go(func() {
			for {
				_, err := ledgers[i%2].Record(t.Context(), w.owner, ledger.Request{Body: &ledger.StockMoved{Lot: lot, Way: ledger.Discarded, Amount: dec("3"), Reason: "a trial"}})
				if err != nil {
					if ledger.FaultOf(err) != ledger.Conflict {
						t.Errorf("not a word about the lot: %v", err)
					}
					return
				}
				taken.Add(3)
			}
		})
	}
	wait.Wait()
	require.Equal(t, int64(99), taken.Load())
	require.Equal(t, "1 99", w.at(lot, "shelf")+" "+w.at(lot, "waste"))
	w.verify()
}

func TestCodesAreGivenOnce(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	ledgers := []*ledger.Ledger{w.l, w.second()}
	codes := make([]string, 30)
	var wait sync.WaitGroup
	for i := range codes {
		wait.Go(func() {
			r, err := ledgers[i%2].Record(t.Context(), w.owner, ledger.Request{Body: &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: w.formula.ID}})
			if err != nil {
				t.Error(err)
				return
			}
			codes[i] = r.Record.(*ledger.BatchPlanned).Code
		})
	}
	wait.Wait()
	slices.Sort(codes)
	require.NotEmpty(t, codes[0])
	require.Len(t, slices.Compact(codes), 30)
	w.verify()
}

// cutting is a batch that is about to be cut.
func (w *workshop) cutting() int64 {
	w.t.Helper()
	b := record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: w.formula.ID, OilGrams: dec("100")})
	w.step(b.ID, ledger.StepStart)
	w.weigh(b.ID)
	w.warm(b.ID)
	w.step(b.ID, ledger.StepLyeMade, ledger.StepCombine, ledger.StepPour)
	w.clock.Add(25 * time.Hour)
	w.step(b.ID, ledger.StepUnmould)
	return b.ID
}

// Two batches are cut at once, one naming bars first and one trimmings: neither may wait for the other's codes in a
// circle. PostgreSQL would break the circle after its deadlock_timeout of a second, so slowness shows it.
func TestCutsAtOnceDoNotWaitInACircle(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	bars := ledger.Output{What: "bars", Pieces: 1, Mass: grams("100")}
	trim := ledger.Output{What: "remnants", Mass: grams("10")}
	var batches []int64
	for range 8 {
		batches = append(batches, w.cutting())
	}
	ledgers := []*ledger.Ledger{w.l, w.second()}
	var wait sync.WaitGroup
	for i, b := range batches {
		outputs := []ledger.Output{bars, trim}
		if i%2 == 1 {
			outputs = []ledger.Output{trim, bars}
		}
		wait.Go(func() {
			if _, err := ledgers[i%2].Record(t.Context(), w.owner, ledger.Request{Body: &ledger.BatchYielded{Batch: b, Outputs: outputs}}); err != nil {
				t.Error(err)
			}
		})
	}
	wait.Wait()
	require.Zero(t, queryColumn[int64](t, connect(t, w.db.Owner), `select deadlocks from pg_stat_database where datname = current_database()`)[0])
	w.verify()
}

// writer is one of many that record at random what may or may not be possible just then.
type writer struct {
	w       *workshop
	l       *ledger.Ledger
	rand    *rand.Rand
	batches []int64
	bars    []int64
	shared  *sync.Map // entries that may be corrected, with a body for it
}

// TestReplayGivesTheSameTables is the test of the claim that entries applied at once give the tables that a replay in
// the order of their numbers gives.
func TestReplayGivesTheSameTables(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	var batches, bars []int64
	for range 3 {
		b, lot := w.released()
		batches, bars = append(batches, b.ID), append(bars, lot.ID)
	}
	for range 2 {
		batches = append(batches, w.started().ID)
	}
	ledgers := []*ledger.Ledger{w.l, w.second()}
	shared := &sync.Map{}
	var wait sync.WaitGroup
	var done atomic.Int64
	for i := range 12 {
		x := &writer{w: w, l: ledgers[i%2], rand: rand.New(rand.NewPCG(7, uint64(i))), batches: batches, bars: bars, shared: shared}
		wait.Go(func() {
			for range 25 {
				if x.step(t.Context()) {
					done.Add(1)
				}
			}
		})
	}
	wait.Wait()
	require.Greater(t, done.Load(), int64(100), "most of it was refused: the test tests little")
	w.verify()
}

func pick[T any](r *rand.Rand, list ...T) T { return list[r.IntN(len(list))] }

// step records something, and tells whether it was taken.
func (x *writer) step(ctx context.Context) bool {
	body := x.body()
	req := ledger.Request{Body: body, Override: "at random"}
	if x.rand.IntN(4) == 0 {
		x.shared.Range(func(entry, b any) bool {
			req.Corrects, req.Reason, req.Body = entry.(int64), "at random", b.(ledger.Body)
			return x.rand.IntN(5) != 0
		})
	}
	r, err := x.l.Record(ctx, x.w.owner, req)
	if err != nil {
		if e, ok := errors.AsType[*ledger.Error](err); !ok || e.Fault == ledger.Internal {
			x.w.t.Errorf("%s: %v", req.Body.Kind(), err)
		}
		return false
	}
	switch r.Record.(type) {
	case *ledger.LotReceived, *ledger.WeighingTaken, *ledger.StockMoved, *ledger.DispatchSent, *ledger.ReleaseDecided, *ledger.ReadingTaken:
		x.shared.Store(r.Entry, pick(x.rand, ledger.Body(&ledger.EntryStruck{}), req.Body))
	}
	return true
}

func (x *writer) body() ledger.Body {
	w, r := x.w, x.rand
	few := dec(strconv.Itoa(1 + r.IntN(3)))
	material, bars := pick(r, w.oliveLot, w.coconutLot, w.scentLot), pick(r, x.bars...)
	switch r.IntN(11) {
	case 0:
		return &ledger.LotReceived{Material: pick(r, w.olive, w.scent), Supplier: w.supplier, SupplierLot: "at random", Mass: grams(few.String())}
	case 1:
		return &ledger.WeighingTaken{Batch: pick(r, x.batches...), Lot: material, Mass: grams(few.String())}
	case 2:
		return &ledger.WeighingTaken{Batch: pick(r, x.batches[3:]...), Lot: bars, Pieces: ptr(dec("1")), Mass: grams("100")}
	case 3:
		return &ledger.LotHeld{Lot: pick(r, material, bars), Reason: "at random"}
	case 4:
		return &ledger.LotFreed{Lot: pick(r, material, bars), Reason: "at random"}
	case 5, 6:
		return &ledger.ReleaseDecided{Batch: pick(r, x.batches[:3]...), Decision: ledger.Released, Statement: "at random"}
	case 7:
		return &ledger.DispatchSent{Channel: "gift", Lines: []ledger.DispatchLine{{Lot: bars, Pieces: 1}}}
	case 8:
		return &ledger.StockMoved{Lot: pick(r, material, bars), Way: pick(r, ledger.Discarded, ledger.Surplus, ledger.KeptBack), Amount: dec("1"), Reason: "at random"}
	case 9:
		return &ledger.MaterialDefined{ID: w.scent, Name: fmt.Sprintf("Scent %d", r.IntN(1000)), Type: "scent"}
	}
	return &ledger.ReadingTaken{Lot: bars, Type: ledger.PH, Typed: "9.5", Method: "at random", Passed: ptr(true)}
}
