package bench

import (
	"context"
	"fmt"
	"strconv"
	"time"

	"github.com/shopspring/decimal"

	"ashbook/ledger"
	"ashbook/ledger/measure"
)

// firstDay is the morning on which the model is made; the copies begin a year later.
var firstDay = time.Date(2003, 1, 2, 9, 0, 0, 0, time.UTC)

// model is an invented shop with one batch, all of it recorded through the ledger's door. The batch has the 12 uses
// and the 5 dispatches that every copy of it has.
type model struct {
	l     *ledger.Ledger
	now   time.Time
	by    ledger.Actor
	err   error
	names map[int64]string // of materials

	lots   []*ledger.LotReceived // one for each line of the weigh list, in its order
	batch  *ledger.BatchPlanned
	bars   int64
	buyers []int64
	life   []moment // of the batch, in the order of the journal
}

// moment is an entry of the model batch.
type moment struct {
	entry int64
	after time.Duration // since the batch was planned
	body  ledger.Body
}

// makeModel records the model in an empty ledger that was opened with m.clock.
func (m *model) make(ctx context.Context, l *ledger.Ledger) error {
	m.l, m.by, m.names = l, ledger.System, map[int64]string{}
	m.furnish(ctx)
	formula := m.formula(ctx)
	if m.err == nil {
		m.makeBatch(ctx, formula)
	}
	return m.err
}

func (m *model) clock() time.Time { return m.now }

// record records until the first error, which stays in m.err.
func record[B ledger.Body](ctx context.Context, m *model, body B) B {
	return send(ctx, m, ledger.Request{Body: body}).Record.(B)
}

func send(ctx context.Context, m *model, r ledger.Request) *ledger.Receipt {
	if m.err != nil {
		return &ledger.Receipt{Record: r.Body}
	}
	receipt, err := m.l.Record(ctx, m.by, r)
	if err != nil {
		m.err = fmt.Errorf("record %s: %w", r.Body.Kind(), err)
		return &ledger.Receipt{Record: r.Body}
	}
	return receipt
}

func (m *model) furnish(ctx context.Context) {
	m.now = firstDay
	owner := record(ctx, m, &ledger.PersonAdded{Login: "owner", Name: "Invented Owner", Role: ledger.Owner})
	m.by = ledger.Actor{ID: owner.ID, Name: owner.Name, Role: ledger.Owner}
	record(ctx, m, &ledger.ShopSet{Name: "Invented Soap Works", Address: []string{"1 Nowhere Lane", "Inventia"}, Contact: "post@example.org",
		Timezone: "Europe/Vienna", Currency: "EUR", LabelStyle: "EU", CureDays: 28, LossPerWeek: decimal.New(5, -1)})
	for i := range 200 {
		buyer := send(ctx, m, ledger.Request{Body: &ledger.BuyerAdded{Type: "shop"}, Contact: &ledger.Contact{Name: fmt.Sprintf("Invented Buyer %03d", i+1)}})
		m.buyers = append(m.buyers, buyer.Record.(*ledger.BuyerAdded).ID)
	}
}

func (m *model) material(ctx context.Context, d ledger.MaterialDefined) int64 {
	d.Invented, d.USName, d.EUName = true, d.Name, d.Name
	id := record(ctx, m, &d).ID
	m.names[id] = d.Name
	return id
}

// formula is 5 kg of six oils with two scents, a colour and an additive: 12 lines to weigh, alkali and water included.
func (m *model) formula(ctx context.Context) *ledger.FormulaDefined {
	low, high := decimal.NewFromInt(184), decimal.NewFromInt(196)
	f := &ledger.FormulaDefined{Name: "Six oils", OilGrams: decimal.NewFromInt(5000), Superfat: decimal.New(5, -2), Concentration: decimal.New(33, -2),
		AlkaliPurity: decimal.New(98, -2), MouldHours: 24, Bars: 40,
		Alkali: m.material(ctx, ledger.MaterialDefined{Name: "Invented lye", Type: "alkali", Alkali: "NaOH"}),
		Water:  m.material(ctx, ledger.MaterialDefined{Name: "Water", Type: "water"})}
	add := func(d ledger.MaterialDefined, grams int64) {
		f.Lines = append(f.Lines, ledger.FormulaLine{Material: m.material(ctx, d), Basis: ledger.ByMass, Amount: decimal.NewFromInt(grams)})
	}
	for i, grams := range []int64{1500, 1250, 1000, 500, 500, 250} {
		add(ledger.MaterialDefined{Name: fmt.Sprintf("Invented oil %d", i+1), Type: "oil", SAPMin: &low, SAPMax: &high, SAPSource: "invented"}, grams)
	}
	add(ledger.MaterialDefined{Name: "Invented clay", Type: "additive"}, 100)
	add(ledger.MaterialDefined{Name: "Invented scent 1", Type: "scent"}, 75)
	add(ledger.MaterialDefined{Name: "Invented scent 2", Type: "scent"}, 75)
	add(ledger.MaterialDefined{Name: "Invented colour", Type: "colour"}, 25)
	return record(ctx, m, f)
}

func grams(g decimal.Decimal) measure.Mass {
	return measure.Mass{Typed: g.String(), Unit: measure.Gram}
}

func wholeGrams(g int64) measure.Mass { return grams(decimal.NewFromInt(g)) }

// makeBatch takes one batch through every gate up to its last dispatch.
func (m *model) makeBatch(ctx context.Context, f *ledger.FormulaDefined) {
	supplier := record(ctx, m, &ledger.SupplierAdded{Name: "Invented Oils"}).ID
	for _, line := range f.Plan {
		m.lots = append(m.lots, record(ctx, m, &ledger.LotReceived{Material: line.Material, Supplier: supplier, SupplierLot: "model", Mass: grams(line.Grams)}))
	}
	began := m.now
	live := func(body ledger.Body) ledger.Body {
		r := send(ctx, m, ledger.Request{Body: body})
		m.life = append(m.life, moment{r.Entry, m.now.Sub(began), r.Record})
		return r.Record
	}
	wait := func(days int) { m.now = m.now.AddDate(0, 0, days) }
	m.batch = live(&ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: f.ID}).(*ledger.BatchPlanned)
	step := func(name string) { live(&ledger.StepTaken{Batch: m.batch.ID, Step: name}) }
	step(ledger.StepStart)
	for i, line := range m.batch.Lines {
		live(&ledger.WeighingTaken{Batch: m.batch.ID, Line: i + 1, Lot: m.lots[i].ID, Mass: grams(line.Grams), Scale: "bench scale", SecondCheck: ledger.SecondMethod})
	}
	step(ledger.StepLyeMade)
	step(ledger.StepCombine)
	step(ledger.StepPour)
	wait(2)
	step(ledger.StepUnmould)
	yield, ok := live(&ledger.BatchYielded{Batch: m.batch.ID, Outputs: []ledger.Output{{What: "bars", Pieces: 40, Mass: wholeGrams(7000)}}}).(*ledger.BatchYielded)
	if !ok || m.err != nil {
		return
	}
	m.bars = yield.Outputs[0].ID
	for _, mass := range []string{"175.0", "166.5", "166.2", "166.0", "165.9"} {
		live(&ledger.ReadingTaken{Lot: m.bars, Type: ledger.BarMass, Typed: mass, Unit: "g", Sample: "1"})
		wait(7)
	}
	passed := true
	live(&ledger.ReadingTaken{Batch: m.batch.ID, Type: ledger.FreeAlkali, Typed: "0.02", Method: "titration", Passed: &passed})
	live(&ledger.ReleaseDecided{Batch: m.batch.ID, Decision: ledger.Released, Statement: "invented: cured and tested"})
	for i := range 5 {
		wait(3)
		live(&ledger.DispatchSent{Channel: "shop", Buyer: m.buyers[i], Reference: "invoice " + strconv.Itoa(i), Lines: []ledger.DispatchLine{{Lot: m.bars, Pieces: 6}}})
	}
}
