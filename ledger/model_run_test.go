package ledger_test

import (
	"context"
	"flag"
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ashbook/ledger"
	"ashbook/ledger/measure"
)

// Few runs, since each has a database of its own, but long ones. The flag -rapid.checks asks for more.
const (
	modelChecks   = "3"
	modelCommands = 150
)

// TestLedgerAgreesWithAModel records commands at random, and wants the ledger to take and refuse what the model does,
// and to hold the same amounts in the same places after each.
func TestLedgerAgreesWithAModel(t *testing.T) {
	t.Parallel()
	for name, value := range map[string]string{"rapid.checks": modelChecks, "rapid.nofailfile": "true"} {
		if f := flag.Lookup(name); f.Value.String() == f.DefValue {
			require.NoError(t, flag.Set(name, value))
		}
	}
	taken := map[string]int{}
	rapid.Check(t, func(rt *rapid.T) {
		r := newModelRun(t, rt)
		defer r.close()
		for range modelCommands {
			rapid.SampledFrom(r.possible()).Draw(rt, "command").do(rt)
			r.compare(rt)
		}
		v, err := r.w.l.Verify(t.Context())
		if err != nil || v.Difference != "" {
			rt.Fatalf("verify: %v %+v", err, v)
		}
		for kind, n := range r.taken {
			taken[kind] += n
		}
	})
	for _, kind := range []string{"weighing.taken", "batch.yielded", "release.decided", "dispatch.sent", "stock.moved", "entry.struck", "a correction", "refused"} {
		require.Positive(t, taken[kind], "no %s in all runs: %v", kind, taken)
	}
}

type command struct {
	name string
	do   func(*rapid.T)
}

// String is how a failing run names the command.
func (c command) String() string { return c.name }

// possible are the commands that there is something for. To go on with a batch is there more than once, so that
// batches come to their end.
func (r *modelRun) possible() []command {
	list := []command{{"receive", r.receive}, {"hold", r.hold}, {"stock", r.stock}, {"strike", r.strike}, {"correct", r.correct}, {"wait", r.wait}}
	if len(r.batches) < 6 {
		list = append(list, command{"plan", r.plan})
	}
	if len(r.batches) > 0 {
		list = append(list, command{"weigh", r.weigh}, command{"step", r.step}, command{"test", r.test}, command{"decide", r.decide})
		for range 10 {
			list = append(list, command{"go on", r.goOn})
		}
	}
	if len(r.bars()) > 0 {
		list = append(list, command{"rework", r.rework}, command{"send", r.send}, command{"send", r.send}, command{"correct", r.correct})
	}
	if len(r.dispatches) > 0 {
		list = append(list, command{"return", r.bring})
	}
	return list
}

type modelRun struct {
	w             *workshop
	m             *model
	conn          *pgx.Conn
	formula       int64
	materials     map[string]int64
	taken         map[string]int // by kind
	lots, batches []int64        // in the order in which they came
	dispatches    []int64
	entries       []int64
}

func newModelRun(t *testing.T, rt *rapid.T) *modelRun {
	w := bareWorkshop(t)
	record(w, &ledger.ShopSet{Name: "Invented Soap Works", Address: []string{"1 Nowhere Lane"}, Contact: "post@example.org", Timezone: "UTC",
		Currency: "EUR", LabelStyle: "EU"}) // asks for no days of cure
	r := &modelRun{w: w, m: newModel(), taken: map[string]int{}, conn: connect(t, w.db.Service), materials: map[string]int64{"oil": w.olive, "lye": w.lye, "water": w.water}}
	f := record(w, &ledger.FormulaDefined{Name: "One oil", OilGrams: dec("100"), Superfat: dec("0.05"), Concentration: dec("0.33"), Alkali: w.lye,
		AlkaliPurity: dec("0.98"), Water: w.water, MouldHours: 1, Bars: 4, Lines: []ledger.FormulaLine{{Material: w.olive, Basis: ledger.ByMass, Amount: dec("100")}}})
	r.formula = f.ID
	for _, what := range []string{"oil", "lye", "water"} {
		r.take(rt, what, "1000")
	}
	r.bake(rt)
	r.bake(rt)
	return r
}

// close ends the connections of a run at its end, and not at the test's, which has many runs.
func (r *modelRun) close() {
	_ = r.conn.Close(context.Background())
	r.w.l.Close()
}

// bake takes a batch as planned to its release, so that the commands find something to go on from.
func (r *modelRun) bake(rt *rapid.T) {
	r.plan(rt)
	id := r.batches[len(r.batches)-1]
	do := func(b ledger.Body) { r.try(rt, ledger.Request{Body: b}) }
	do(&ledger.StepTaken{Batch: id, Step: ledger.StepStart})
	for i, line := range r.m.batches[id].lines {
		lot := r.lots[slices.Index([]string{"oil", "lye", "water"}, line.what)]
		do(&ledger.WeighingTaken{Batch: id, Line: i + 1, Lot: lot, Mass: grams(line.planned.String())})
	}
	for _, step := range []string{ledger.StepLyeMade, ledger.StepCombine, ledger.StepPour, ledger.StepUnmould} {
		r.w.clock.Add(time.Hour)
		do(&ledger.StepTaken{Batch: id, Step: step})
	}
	do(&ledger.BatchYielded{Batch: id, Outputs: []ledger.Output{{What: "bars", Pieces: 6, Mass: grams("120")}}})
	do(&ledger.ReadingTaken{Batch: id, Type: ledger.FreeAlkali, Typed: "0.02", Method: "titration", Passed: ptr(true)})
	do(&ledger.ReleaseDecided{Batch: id, Decision: ledger.Released, Statement: "looked"})
	require.Equal(r.w.t, ledger.Released, r.m.batches[id].stage)
}

// try records a request in the ledger and in the model, and fails when only one of them takes it.
func (r *modelRun) try(rt *rapid.T, req ledger.Request) {
	if req.Corrects != 0 {
		req.Reason = "at random"
	}
	receipt, err := r.w.l.Record(r.w.t.Context(), r.w.owner, req)
	if err != nil && ledger.FaultOf(err) == ledger.Internal {
		rt.Fatalf("%s: %v", req.Body.Kind(), err)
	}
	var entry, made int64
	if err == nil {
		entry = receipt.Entry
		switch b := receipt.Record.(type) {
		case *ledger.LotReceived:
			made = b.ID
		case *ledger.BatchYielded:
			made = b.Outputs[0].ID
		case *ledger.DispatchSent:
			made = b.ID
		}
	}
	r.m.now = r.w.clock.Now()
	next := r.m.clone()
	if ok := next.record(req, entry, made); ok != (err == nil) {
		rt.Fatalf("%s %+v (override %q, corrects %d): the model says %v, the ledger %v", req.Body.Kind(), req.Body, req.Override, req.Corrects, ok, err)
	}
	if err != nil {
		r.taken["refused"]++
		return
	}
	r.m = next
	r.taken[receipt.Kind]++
	if req.Corrects != 0 && receipt.Kind != "entry.struck" {
		r.taken["a correction"]++
	}
	r.note(receipt, made)
}

func (r *modelRun) note(receipt *ledger.Receipt, made int64) {
	switch receipt.Record.(type) {
	case *ledger.LotReceived, *ledger.BatchYielded:
		if !slices.Contains(r.lots, made) {
			r.lots = append(r.lots, made)
		}
	case *ledger.DispatchSent:
		if !slices.Contains(r.dispatches, made) {
			r.dispatches = append(r.dispatches, made)
		}
	}
	switch receipt.Record.(type) {
	case *ledger.LotHeld, *ledger.LotFreed, *ledger.BatchYielded, *ledger.EntryStruck: // these cannot be corrected
	default:
		r.entries = append(r.entries, receipt.Entry)
	}
}

func one[T any](rt *rapid.T, what string, list []T) T {
	return rapid.SampledFrom(list).Draw(rt, what)
}

// newest is one of the last few: the run would otherwise spread over ever more.
func newest[T any](rt *rapid.T, what string, list []T) T {
	return one(rt, what, list[max(0, len(list)-5):])
}

func override(rt *rapid.T) string {
	if rapid.IntRange(0, 3).Draw(rt, "override") == 0 {
		return "at random"
	}
	return ""
}

func mass(rt *rapid.T, low, high int) measure.Mass {
	return grams(decimal.New(int64(rapid.IntRange(low*10, high*10).Draw(rt, "tenths of a gram")), -1).String())
}

func (r *modelRun) take(rt *rapid.T, what, typed string) {
	body := &ledger.LotReceived{Material: r.materials[what], Supplier: r.w.supplier, SupplierLot: what, Mass: grams(typed)}
	if what == "lye" {
		body.Purity = ptr(dec("0.98"))
	}
	r.try(rt, ledger.Request{Body: body})
}

func (r *modelRun) receive(rt *rapid.T) {
	r.take(rt, one(rt, "what", []string{"oil", "lye", "water"}), mass(rt, 1, 300).Typed)
}

func (r *modelRun) hold(rt *rapid.T) {
	lot := newest(rt, "lot", r.lots)
	var body ledger.Body = &ledger.LotHeld{Lot: lot, Reason: "at random"}
	if r.m.lots[lot].held || rapid.IntRange(0, 9).Draw(rt, "free") == 0 {
		body = &ledger.LotFreed{Lot: lot, Reason: "at random"}
	}
	r.try(rt, ledger.Request{Body: body})
}

func (r *modelRun) plan(rt *rapid.T) {
	b := record(r.w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: r.formula})
	batch := modelBatch{stage: ledger.Planned}
	for _, line := range b.Lines {
		for what, material := range r.materials {
			if material == line.Material {
				batch.lines = append(batch.lines, modelLine{what, line.Grams, line.Tolerance})
			}
		}
	}
	require.Len(r.w.t, batch.lines, 3)
	r.m.batches[b.ID] = batch
	r.batches = append(r.batches, b.ID)
}

// goOn does with a batch what comes next, as planned.
func (r *modelRun) goOn(rt *rapid.T) {
	id := newest(rt, "batch", r.batches)
	batch := r.m.batches[id]
	next := map[string]string{ledger.Planned: ledger.StepStart, ledger.LyeMade: ledger.StepCombine, ledger.Combined: ledger.StepPour, ledger.Poured: ledger.StepUnmould}[batch.stage]
	switch {
	case next != "":
		r.try(rt, ledger.Request{Body: &ledger.StepTaken{Batch: id, Step: next}, Override: override(rt)})
	case batch.stage == ledger.Weighing:
		for i, line := range batch.lines {
			if so, _ := r.m.weighed(id, i+1); so.LessThan(line.planned.Sub(line.tolerance)) {
				r.weighLine(rt, id, i+1, line.planned.Sub(so).String())
				return
			}
		}
		r.try(rt, ledger.Request{Body: &ledger.StepTaken{Batch: id, Step: ledger.StepLyeMade}})
	case batch.stage == ledger.Unmoulded:
		share := decimal.New(int64(rapid.IntRange(80, 103).Draw(rt, "per cent")), -2)
		r.try(rt, ledger.Request{Body: &ledger.BatchYielded{Batch: id, Outputs: []ledger.Output{{What: "bars", Pieces: rapid.Int64Range(1, 6).Draw(rt, "pieces"),
			Mass: grams(decimal.Max(r.m.inPot(id), dec("10")).Mul(share).Round(1).String())}}}})
	default:
		r.decideAbout(rt, id)
	}
}

func (r *modelRun) weighLine(rt *rapid.T, batch int64, line int, typed string) {
	var fitting []int64
	for _, id := range r.lots {
		if r.m.lots[id].what == r.m.batches[batch].lines[line-1].what {
			fitting = append(fitting, id)
		}
	}
	r.try(rt, ledger.Request{Override: override(rt), Body: &ledger.WeighingTaken{Batch: batch, Line: line, Lot: one(rt, "lot", fitting), Mass: grams(typed)}})
}

func (r *modelRun) anyWeighing(rt *rapid.T, lot int64) *ledger.WeighingTaken {
	b := &ledger.WeighingTaken{Batch: newest(rt, "batch", r.batches), Line: rapid.IntRange(0, 3).Draw(rt, "line"), Lot: lot, Mass: mass(rt, 1, 110), Partial: rapid.Bool().Draw(rt, "partial")}
	if r.m.lots[lot].what == "bars" {
		b.Pieces = ptr(decimal.NewFromInt(rapid.Int64Range(1, 2).Draw(rt, "pieces")))
	}
	return b
}

func (r *modelRun) weigh(rt *rapid.T) {
	r.try(rt, ledger.Request{Body: r.anyWeighing(rt, one(rt, "lot", r.lots)), Override: override(rt)})
}

func (r *modelRun) bars() (list []int64) {
	for _, id := range r.lots {
		if r.m.lots[id].what == "bars" {
			list = append(list, id)
		}
	}
	return list
}

func (r *modelRun) rework(rt *rapid.T) {
	b := r.anyWeighing(rt, newest(rt, "bars", r.bars()))
	b.Line = 0
	r.try(rt, ledger.Request{Body: b, Override: override(rt)})
}

func (r *modelRun) step(rt *rapid.T) {
	steps := []string{ledger.StepStart, ledger.StepLyeMade, ledger.StepCombine, ledger.StepPour, ledger.StepUnmould}
	r.try(rt, ledger.Request{Body: &ledger.StepTaken{Batch: newest(rt, "batch", r.batches), Step: one(rt, "step", steps)}, Override: override(rt)})
}

func (r *modelRun) test(rt *rapid.T) {
	r.w.clock.Add(time.Minute)
	passed := rapid.IntRange(0, 3).Draw(rt, "passed") > 0
	typed := one(rt, "free alkali", []string{"0", "0.02", "0.05", "0.051", "0.9"})
	r.try(rt, ledger.Request{Body: &ledger.ReadingTaken{Batch: newest(rt, "batch", r.batches), Type: ledger.FreeAlkali, Typed: typed, Method: "at random", Passed: &passed}})
}

func (r *modelRun) decide(rt *rapid.T) { r.decideAbout(rt, newest(rt, "batch", r.batches)) }

func (r *modelRun) decideAbout(rt *rapid.T, batch int64) {
	decision := ledger.Released
	if rapid.IntRange(0, 7).Draw(rt, "reject") == 0 {
		decision = ledger.Rejected
	}
	r.try(rt, ledger.Request{Body: &ledger.ReleaseDecided{Batch: batch, Decision: decision, Statement: "at random"}, Override: override(rt)})
}

func (r *modelRun) anyDispatch(rt *rapid.T) *ledger.DispatchSent {
	return &ledger.DispatchSent{Channel: "gift", Lines: []ledger.DispatchLine{{Lot: newest(rt, "bars", r.bars()), Pieces: rapid.Int64Range(1, 3).Draw(rt, "pieces")}}}
}

func (r *modelRun) send(rt *rapid.T) {
	r.try(rt, ledger.Request{Body: r.anyDispatch(rt), Override: override(rt)})
}

func (r *modelRun) anyReturn(rt *rapid.T) *ledger.DispatchReturned {
	d := newest(rt, "dispatch", r.dispatches)
	return &ledger.DispatchReturned{Dispatch: d, Lot: r.m.dispatches[d].lot, Pieces: rapid.Int64Range(1, 2).Draw(rt, "pieces"),
		Decision: one(rt, "decision", []string{ledger.Restock, ledger.Scrap, ledger.Keep}), Reason: "at random"}
}

func (r *modelRun) bring(rt *rapid.T) { r.try(rt, ledger.Request{Body: r.anyReturn(rt)}) }

func (r *modelRun) anyStock(rt *rapid.T) *ledger.StockMoved {
	return &ledger.StockMoved{Lot: newest(rt, "lot", r.lots), Way: one(rt, "way", []string{ledger.Discarded, ledger.KeptBack, ledger.Missing, ledger.Surplus}),
		Amount: decimal.NewFromInt(rapid.Int64Range(1, 3).Draw(rt, "amount")), Reason: "at random"}
}

func (r *modelRun) stock(rt *rapid.T) { r.try(rt, ledger.Request{Body: r.anyStock(rt)}) }

func (r *modelRun) wait(rt *rapid.T) {
	r.w.clock.Add(time.Duration(rapid.IntRange(1, 90).Draw(rt, "minutes")) * time.Minute)
}

func (r *modelRun) strike(rt *rapid.T) {
	r.try(rt, ledger.Request{Corrects: newest(rt, "entry", r.entries), Body: &ledger.EntryStruck{}})
}

// correct puts another body of the same kind in the place of an earlier one.
func (r *modelRun) correct(rt *rapid.T) {
	entry := one(rt, "entry", r.entries)
	if rapid.Bool().Draw(rt, "a late one") {
		entry = newest(rt, "entry", r.entries)
	}
	req := ledger.Request{Corrects: entry, Override: override(rt)}
	switch was := r.m.entries[entry].body.(type) {
	case *ledger.LotReceived:
		b := *was
		b.Mass = mass(rt, 1, 1200)
		req.Body = &b
	case *ledger.WeighingTaken:
		b := r.anyWeighing(rt, one(rt, "lot", r.lots))
		if rapid.IntRange(0, 3).Draw(rt, "another batch") > 0 {
			b.Batch = was.Batch
		}
		req.Body = b
	case *ledger.StockMoved:
		req.Body = r.anyStock(rt)
	case *ledger.DispatchSent:
		req.Body = r.anyDispatch(rt)
	case *ledger.DispatchReturned:
		req.Body = r.anyReturn(rt)
	case *ledger.ReleaseDecided:
		req.Body = &ledger.ReleaseDecided{Batch: was.Batch, Decision: one(rt, "decision", []string{ledger.Released, ledger.Rejected}), Statement: "at random"}
	default: // steps and tests are only struck here
		req.Body = &ledger.EntryStruck{}
	}
	r.try(rt, req)
}

// compare wants the same amounts in the same places, the same stages and the same holds.
func (r *modelRun) compare(rt *rapid.T) {
	has := queryColumn[string](r.w.t, r.conn, `select line from (
		select format('%s at %s%s: %s', lot_id, place, case when place_id = 0 then '' else '/' || place_id end, trim_scale(amount)) line from balance where amount <> 0
		union all select format('%s is %s', id, stage) from batch
		union all select format('%s is held', id) from lot where held
		union all select format('%s is %s as poured', id, trim_scale(poured_grams)) from lot) x`)
	var want []string
	for spot, amount := range r.m.amounts {
		if !amount.IsZero() {
			want = append(want, fmt.Sprintf("%d at %s: %s", spot.lot, spot.place, amount))
		}
	}
	for id, b := range r.m.batches {
		want = append(want, fmt.Sprintf("%d is %s", id, b.stage))
	}
	for id, l := range r.m.lots {
		want = append(want, fmt.Sprintf("%d is %s as poured", id, l.poured))
		if l.held {
			want = append(want, fmt.Sprintf("%d is held", id))
		}
	}
	slices.Sort(has)
	slices.Sort(want)
	if !slices.Equal(has, want) {
		rt.Fatalf("the ledger has\n%v\nthe model\n%v", has, want)
	}
}
