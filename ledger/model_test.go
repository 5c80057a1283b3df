package ledger_test

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"github.com/shopspring/decimal"

	"ashbook/ledger"
)

// model is a workshop in plain Go, told from the rules and not from the ledger's code: who holds how much of what, how
// far each batch is, what is on hold, and what a correction takes back. A command is tried on a clone, which is thrown
// away when the rules refuse it. It knows oil, alkali, water and bars, and formulas without portions or temperatures.
type model struct {
	lots       map[int64]modelLot
	batches    map[int64]modelBatch
	amounts    map[modelSpot]decimal.Decimal
	entries    map[int64]modelEntry
	weighings  []modelWeighing
	tests      []modelTest
	steps      []modelStep
	dispatches map[int64]modelDispatch
	now        time.Time
	own        []modelMove // of the entry that is being recorded
}

type modelLot struct {
	what   string // oil, lye, water or bars
	batch  int64
	amount decimal.Decimal
	poured decimal.Decimal
	held   bool
}

type modelBatch struct {
	stage    string
	lines    []modelLine
	pouredAt time.Time
	decision int64 // the entry of the decision that stands; 0: none
}

type modelLine struct {
	what               string
	planned, tolerance decimal.Decimal
}

type modelSpot struct {
	lot   int64
	place string
}

type modelMove struct {
	modelSpot
	amount decimal.Decimal
}

type modelEntry struct {
	body      ledger.Body
	made      int64 // the lot or dispatch that it made
	moves     []modelMove
	corrected bool
}

type modelWeighing struct {
	entry, batch, lot int64
	line              int
	grams, poured     decimal.Decimal
	amount            decimal.Decimal // in the unit of the lot
}

type modelTest struct {
	entry, batch int64
	passed       bool
}

type modelStep struct {
	entry, batch int64
	step         string
}

type modelDispatch struct {
	lot    int64
	struck bool
}

func newModel() *model {
	return &model{lots: map[int64]modelLot{}, batches: map[int64]modelBatch{}, amounts: map[modelSpot]decimal.Decimal{},
		entries: map[int64]modelEntry{}, dispatches: map[int64]modelDispatch{}}
}

func (m *model) clone() *model {
	c := *m
	c.lots, c.batches, c.amounts = maps.Clone(m.lots), maps.Clone(m.batches), maps.Clone(m.amounts)
	c.entries, c.dispatches = maps.Clone(m.entries), maps.Clone(m.dispatches)
	c.weighings, c.tests, c.steps = slices.Clone(m.weighings), slices.Clone(m.tests), slices.Clone(m.steps)
	return &c
}

// record tells whether the rules take a request; entry and made are the numbers that the ledger gave.
func (m *model) record(req ledger.Request, entry, made int64) bool {
	m.own = nil
	if req.Corrects != 0 {
		if !m.takeBack(req.Corrects, req.Body) {
			return false
		}
		made = max(made, m.entries[req.Corrects].made)
	}
	m.own = nil
	if !m.take(req, entry, made) {
		return false
	}
	m.entries[entry] = modelEntry{body: req.Body, made: made, moves: m.own}
	for spot, amount := range m.amounts {
		if amount.IsNegative() && spot.place != "supplier" && spot.place != "count" && spot.place[:4] != "made" {
			return false
		}
	}
	return true
}

func (m *model) take(req ledger.Request, entry, made int64) bool {
	override := req.Override != ""
	switch b := req.Body.(type) {
	case *ledger.EntryStruck:
		return true
	case *ledger.LotReceived:
		return m.receive(b, req.Corrects, made)
	case *ledger.LotHeld:
		return m.hold(b.Lot, true)
	case *ledger.LotFreed:
		return m.hold(b.Lot, false)
	case *ledger.WeighingTaken:
		return m.weigh(b, req.Corrects, entry, override)
	case *ledger.StepTaken:
		return m.step(b, entry, override)
	case *ledger.ReadingTaken:
		m.tests = append(m.tests, modelTest{entry, b.Batch, *b.Passed && dec(b.Typed).LessThanOrEqual(dec("0.05"))}) // the limit of a shop that set none
		return true
	case *ledger.BatchYielded:
		return m.yield(b, made)
	case *ledger.ReleaseDecided:
		return m.decide(b, entry, override)
	case *ledger.StockMoved:
		return m.moveStock(b)
	case *ledger.DispatchSent:
		return m.send(b, made, override)
	case *ledger.DispatchReturned:
		return m.bring(b)
	}
	panic(fmt.Sprintf("the model knows nothing of %T", req.Body))
}

func (m *model) move(lot int64, amount decimal.Decimal, from, to string) {
	m.put(modelMove{modelSpot{lot, from}, amount.Neg()})
	m.put(modelMove{modelSpot{lot, to}, amount})
}

func (m *model) put(x modelMove) {
	m.amounts[x.modelSpot] = m.amounts[x.modelSpot].Add(x.amount)
	m.own = append(m.own, x)
}

// home is where a lot lies that is not in use.
func (m *model) home(lot int64) string {
	l := m.lots[lot]
	switch {
	case l.what != "bars":
		return "shelf"
	case m.batches[l.batch].stage == ledger.Released:
		return "ready"
	}
	return "rack"
}

func (m *model) receive(b *ledger.LotReceived, corrects, lot int64) bool {
	grams := dec(b.Mass.Typed)
	l := m.lots[lot]
	if corrects == 0 {
		l.what = b.SupplierLot // the run names the lot after what it is
	}
	l.amount, l.poured = grams, grams
	m.lots[lot] = l
	m.move(lot, grams, "supplier", "shelf")
	return true
}

func (m *model) hold(lot int64, held bool) bool {
	l := m.lots[lot]
	if l.held == held {
		return false
	}
	l.held = held
	m.lots[lot] = l
	return true
}

func (m *model) weighed(batch int64, line int) (grams decimal.Decimal, times int) {
	for _, w := range m.weighings {
		if w.batch == batch && w.line == line {
			grams, times = grams.Add(w.grams), times+1
		}
	}
	return grams, times
}

func (m *model) weigh(b *ledger.WeighingTaken, corrects, entry int64, override bool) bool {
	batch, lot := m.batches[b.Batch], m.lots[b.Lot]
	open := slices.Contains([]string{ledger.Weighing, ledger.LyeMade, ledger.Combined}, batch.stage)
	same := corrects != 0 && m.entries[corrects].body.(*ledger.WeighingTaken).Batch == b.Batch
	if !open && !same || lot.batch != 0 && m.isMadeOf(lot.batch, b.Batch) {
		return false
	}
	grams := dec(b.Mass.Typed)
	if !override && (lot.held || b.Line == 0 && lot.what == "lye" || b.Line > 0 && !m.fits(batch, b, lot.what, grams)) {
		return false
	}
	amount, poured := grams, grams
	if lot.what == "bars" {
		amount, poured = *b.Pieces, lot.poured.Mul(*b.Pieces).DivRound(lot.amount, 6)
	}
	m.weighings = append(m.weighings, modelWeighing{entry, b.Batch, b.Lot, b.Line, grams, poured, amount})
	m.pourAnew(b.Batch)
	m.move(b.Lot, amount, m.home(b.Lot), fmt.Sprintf("pot/%d", b.Batch))
	return true
}

// fits tells whether a weighing is of the right material and mass for its line.
func (m *model) fits(batch modelBatch, b *ledger.WeighingTaken, what string, grams decimal.Decimal) bool {
	line := batch.lines[b.Line-1]
	so, times := m.weighed(b.Batch, b.Line)
	if what != line.what || times > 0 && so.GreaterThanOrEqual(line.planned.Sub(line.tolerance)) {
		return false
	}
	total := so.Add(grams)
	low, high := line.planned.Sub(line.tolerance), line.planned.Add(line.tolerance)
	return total.LessThanOrEqual(high) && (total.GreaterThanOrEqual(low) || b.Partial)
}

// isMadeOf tells whether a batch is another or has it in it.
func (m *model) isMadeOf(batch, other int64) bool {
	if batch == other {
		return true
	}
	return slices.ContainsFunc(m.weighings, func(w modelWeighing) bool {
		from := m.lots[w.lot].batch
		return w.batch == batch && from != 0 && m.isMadeOf(from, other)
	})
}

// lyeFits tells whether there are oils for all the alkali: 98 % NaOH against olive oil at SAP 190, molar masses 39.997
// and 56.1056 g/mol.
func (m *model) lyeFits(batch int64) bool {
	oil, lye := decimal.Zero, decimal.Zero
	for _, w := range m.weighings {
		if w.batch != batch {
			continue
		}
		switch m.lots[w.lot].what {
		case "oil":
			oil = oil.Add(w.grams)
		case "lye":
			lye = lye.Add(w.grams)
		}
	}
	takes, has := oil.Mul(dec("0.190")).Mul(dec("39.997")), lye.Mul(dec("0.98")).Mul(dec("56.1056"))
	return oil.IsPositive() && lye.IsPositive() && has.LessThanOrEqual(takes)
}

func (m *model) allWeighed(batch int64) bool {
	for i := range m.batches[batch].lines {
		if _, times := m.weighed(batch, i+1); times == 0 {
			return false
		}
	}
	return true
}

func (m *model) enough(batch modelBatch) bool {
	for _, line := range batch.lines {
		usable := decimal.Zero
		for id, l := range m.lots {
			if l.what == line.what && !l.held {
				usable = usable.Add(m.amounts[modelSpot{id, "shelf"}])
			}
		}
		if usable.LessThan(line.planned) {
			return false
		}
	}
	return true
}

func (m *model) step(b *ledger.StepTaken, entry int64, override bool) bool {
	batch := m.batches[b.Batch]
	var from []string
	var to string
	ok := true
	switch b.Step {
	case ledger.StepStart:
		from, to, ok = []string{ledger.Planned}, ledger.Weighing, m.enough(batch)
	case ledger.StepLyeMade:
		from, to = []string{ledger.Weighing}, ledger.LyeMade
	case ledger.StepCombine:
		from, to, ok = []string{ledger.Weighing, ledger.LyeMade}, ledger.Combined, m.allWeighed(b.Batch) && m.lyeFits(b.Batch)
	case ledger.StepPour:
		from, to, ok = []string{ledger.Combined}, ledger.Poured, m.allWeighed(b.Batch) && m.lyeFits(b.Batch)
		batch.pouredAt = m.now
	case ledger.StepUnmould:
		from, to, ok = []string{ledger.Poured}, ledger.Unmoulded, !m.now.Before(batch.pouredAt.Add(time.Hour))
	}
	if !slices.Contains(from, batch.stage) || !ok && !override {
		return false
	}
	batch.stage = to
	m.batches[b.Batch] = batch
	m.steps = append(m.steps, modelStep{entry, b.Batch, b.Step})
	return true
}

func (m *model) inPot(batch int64) decimal.Decimal {
	sum := decimal.Zero
	for _, w := range m.weighings {
		if w.batch == batch {
			sum = sum.Add(w.poured)
		}
	}
	return sum
}

// pourAnew gives the bars of a batch all that was poured, and what they went into its part of it; a model batch gives one
// lot and no waste.
func (m *model) pourAnew(batch int64) {
	for id, l := range m.lots {
		pot := m.inPot(batch)
		if l.what != "bars" || l.batch != batch || l.poured.Equal(pot) {
			continue
		}
		l.poured = pot
		m.lots[id] = l
		for i := range m.weighings {
			if w := &m.weighings[i]; w.lot == id {
				w.poured = l.poured.Mul(w.amount).DivRound(l.amount, 6)
				m.pourAnew(w.batch)
			}
		}
	}
}

func (m *model) yield(b *ledger.BatchYielded, lot int64) bool {
	batch, pot := m.batches[b.Batch], m.inPot(b.Batch)
	if batch.stage != ledger.Unmoulded || dec(b.Outputs[0].Mass.Typed).GreaterThan(pot.Mul(dec("1.02"))) {
		return false
	}
	batch.stage = ledger.Curing
	m.batches[b.Batch] = batch
	pieces := decimal.NewFromInt(b.Outputs[0].Pieces)
	m.lots[lot] = modelLot{what: "bars", batch: b.Batch, amount: pieces, poured: pot}
	m.move(lot, pieces, fmt.Sprintf("made/%d", b.Batch), "rack")
	return true
}

func (m *model) decide(b *ledger.ReleaseDecided, entry int64, override bool) bool {
	batch := m.batches[b.Batch]
	if batch.stage != ledger.Curing {
		return false
	}
	if b.Decision == ledger.Released {
		passed := false
		for _, x := range m.tests {
			if x.batch == b.Batch {
				passed = x.passed
			}
		}
		if !override && (!passed || !m.lyeFits(b.Batch)) {
			return false
		}
		m.moveBars(b.Batch, "rack", "ready")
	}
	batch.stage, batch.decision = b.Decision, entry
	m.batches[b.Batch] = batch
	return true
}

func (m *model) moveBars(batch int64, from, to string) {
	for id, l := range m.lots {
		if l.batch == batch && m.amounts[modelSpot{id, from}].IsPositive() {
			m.move(id, m.amounts[modelSpot{id, from}], from, to)
		}
	}
}

func (m *model) moveStock(b *ledger.StockMoved) bool {
	var lies []string
	for _, place := range []string{"shelf", "rack", "ready"} {
		if m.amounts[modelSpot{b.Lot, place}].IsPositive() {
			lies = append(lies, place)
		}
	}
	if len(lies) == 0 {
		lies = []string{m.home(b.Lot)}
	}
	if len(lies) > 1 || b.Way == ledger.Surplus && lies[0] != m.home(b.Lot) {
		return false
	}
	switch b.Way {
	case ledger.Surplus:
		m.move(b.Lot, b.Amount, "count", lies[0])
	case ledger.Missing:
		m.move(b.Lot, b.Amount, lies[0], "count")
	case ledger.KeptBack:
		m.move(b.Lot, b.Amount, lies[0], "kept")
	case ledger.Discarded:
		m.move(b.Lot, b.Amount, lies[0], "waste")
	}
	return true
}

func (m *model) send(b *ledger.DispatchSent, dispatch int64, override bool) bool {
	line := b.Lines[0]
	lot := m.lots[line.Lot]
	if lot.what != "bars" || m.batches[lot.batch].stage != ledger.Released || lot.held && !override {
		return false
	}
	m.dispatches[dispatch] = modelDispatch{lot: line.Lot}
	m.move(line.Lot, decimal.NewFromInt(line.Pieces), "ready", fmt.Sprintf("sent/%d", dispatch))
	return true
}

func (m *model) bring(b *ledger.DispatchReturned) bool {
	d := m.dispatches[b.Dispatch]
	if d.struck || d.lot != b.Lot {
		return false
	}
	to := map[string]string{ledger.Restock: m.home(b.Lot), ledger.Scrap: "waste", ledger.Keep: "kept"}[b.Decision]
	m.move(b.Lot, decimal.NewFromInt(b.Pieces), fmt.Sprintf("sent/%d", b.Dispatch), to)
	return true
}

// takeBack undoes an entry in the name of another.
func (m *model) takeBack(entry int64, by ledger.Body) bool {
	old := m.entries[entry]
	_, strikes := by.(*ledger.EntryStruck)
	if old.corrected {
		return false
	}
	old.corrected = true
	m.entries[entry] = old
	_, release := old.body.(*ledger.ReleaseDecided)
	for _, x := range old.moves {
		if !release && (x.place == "rack" || x.place == "ready") {
			x.place = m.home(x.lot)
		}
		m.put(modelMove{x.modelSpot, x.amount.Neg()})
	}
	switch b := old.body.(type) {
	case *ledger.LotReceived:
		if l := m.lots[old.made]; strikes {
			l.held = true
			m.lots[old.made] = l
		}
	case *ledger.WeighingTaken:
		m.weighings = slices.DeleteFunc(m.weighings, func(w modelWeighing) bool { return w.entry == entry })
		m.pourAnew(b.Batch)
		m.openAgainBelow(b.Batch)
	case *ledger.ReadingTaken:
		m.tests = slices.DeleteFunc(m.tests, func(x modelTest) bool { return x.entry == entry })
		m.openAgain(b.Batch)
	case *ledger.StepTaken:
		return m.stepBack(entry, b)
	case *ledger.ReleaseDecided:
		batch := m.batches[b.Batch]
		if batch.decision != entry {
			return false
		}
		batch.stage, batch.decision = ledger.Curing, 0
		m.batches[b.Batch] = batch
	case *ledger.DispatchSent:
		m.dispatches[old.made] = modelDispatch{lot: m.dispatches[old.made].lot, struck: true}
	}
	return true
}

func (m *model) stepBack(entry int64, b *ledger.StepTaken) bool {
	batch := m.batches[b.Batch]
	m.steps = slices.DeleteFunc(m.steps, func(s modelStep) bool { return s.entry == entry })
	after := map[string]string{ledger.StepStart: ledger.Weighing, ledger.StepLyeMade: ledger.LyeMade, ledger.StepCombine: ledger.Combined,
		ledger.StepPour: ledger.Poured, ledger.StepUnmould: ledger.Unmoulded}[b.Step]
	before := map[string]string{ledger.StepStart: ledger.Planned, ledger.StepLyeMade: ledger.Weighing, ledger.StepCombine: ledger.Weighing,
		ledger.StepPour: ledger.Combined, ledger.StepUnmould: ledger.Poured}[b.Step]
	if batch.stage != after {
		return false
	}
	if b.Step == ledger.StepCombine && slices.ContainsFunc(m.steps, func(s modelStep) bool { return s.batch == b.Batch && s.step == ledger.StepLyeMade }) {
		before = ledger.LyeMade
	}
	batch.stage = before
	m.batches[b.Batch] = batch
	return true
}

// openAgain takes the decision about a batch back, since what it stood on has changed.
func (m *model) openAgain(batch int64) {
	b := m.batches[batch]
	if b.decision == 0 {
		return
	}
	m.moveBars(batch, "ready", "rack")
	b.stage, b.decision = ledger.Curing, 0
	m.batches[batch] = b
}

// openAgainBelow does so for a batch and for all that it went into.
func (m *model) openAgainBelow(batch int64) {
	for id := range m.batches {
		if m.isMadeOf(id, batch) {
			m.openAgain(id)
		}
	}
}
