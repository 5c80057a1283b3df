package ledger_test

import (
	"context"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
	"ashbook/ledger/ledgertest"
	"ashbook/ledger/measure"
)

// workshop is a small invented shop, for tests to work in.
type workshop struct {
	t     *testing.T
	l     *ledger.Ledger
	clock *ledgertest.Clock
	db    ledgertest.Database
	owner ledger.Actor
	maker ledger.Actor

	supplier                                                                                        int64
	olive, coconut, sunflower, lye, water, scent, mica, spirit, blue, stock, hardener               int64
	oliveLot, coconutLot, sunflowerLot, lyeLot, waterLot, scentLot, micaLot, spiritLot, hardenerLot int64
	formula                                                                                         *ledger.FormulaDefined
}

func dec(s string) decimal.Decimal { return decimal.RequireFromString(s) }

func ptr[T any](v T) *T { return &v }

func grams(s string) measure.Mass { return measure.Mass{Typed: s, Unit: measure.Gram} }

// record records as the owner and fails the test on an error.
func record[B ledger.Body](w *workshop, b B) B {
	w.t.Helper()
	r, err := w.l.Record(w.t.Context(), w.owner, ledger.Request{Body: b})
	require.NoError(w.t, err)
	return r.Record.(B)
}

func (w *workshop) try(b ledger.Body) error {
	_, err := w.l.Record(w.t.Context(), w.owner, ledger.Request{Body: b})
	return err
}

// newWorkshop is a workshop with its settings, lots on the shelf and a formula.
func newWorkshop(t *testing.T) *workshop {
	t.Helper()
	w := bareWorkshop(t)
	record(w, &ledger.ShopSet{Name: "Invented Soap Works", Address: []string{"1 Nowhere Lane", "Inventia"}, Contact: "post@example.org",
		Timezone: "Europe/Vienna", Currency: "EUR", LabelStyle: "EU", CureDays: 28, LossPerWeek: dec("0.5")})
	w.receiveLots()
	w.defineFormula()
	return w
}

// bareWorkshop knows people, a supplier and materials.
func bareWorkshop(t *testing.T) *workshop {
	t.Helper()
	w := &workshop{t: t}
	w.l, w.clock, w.db = ledgertest.OpenDatabase(t)
	ctx := t.Context()
	add := func(by ledger.Actor, p *ledger.PersonAdded) ledger.Actor {
		r, err := w.l.Record(ctx, by, ledger.Request{Body: p})
		require.NoError(t, err)
		a, err := w.l.Actor(ctx, r.Record.(*ledger.PersonAdded).ID)
		require.NoError(t, err)
		return a
	}
	w.owner = add(ledger.System, &ledger.PersonAdded{Login: "olga", Name: "Olga", Role: ledger.Owner})
	w.maker = add(w.owner, &ledger.PersonAdded{Login: "mira", Name: "Mira", Role: ledger.Maker})
	w.supplier = record(w, &ledger.SupplierAdded{Name: "Invented Oils"}).ID
	w.defineMaterials()
	return w
}

func (w *workshop) defineMaterials() {
	material := func(m ledger.MaterialDefined) int64 { return record(w, &m).ID }
	oil := func(name, us, eu, low, high string) int64 {
		return material(ledger.MaterialDefined{Name: name, Type: "oil", USName: us, EUName: eu, SAPMin: ptr(dec(low)), SAPMax: ptr(dec(high)),
			SAPSource: "Codex CXS 33-1981 and CXS 210-1999", Density: ptr(dec("0.915"))})
	}
	w.olive = oil("Olive oil", "Olea Europaea (Olive) Fruit Oil", "OLEA EUROPAEA FRUIT OIL", "184", "196")
	w.coconut = oil("Coconut oil", "Cocos Nucifera (Coconut) Oil", "COCOS NUCIFERA OIL", "248", "265")
	w.sunflower = oil("Sunflower oil", "Helianthus Annuus (Sunflower) Seed Oil", "HELIANTHUS ANNUUS SEED OIL", "187", "194")
	w.lye = material(ledger.MaterialDefined{Name: "Lye", Type: "alkali", Alkali: "NaOH", USName: "Sodium Hydroxide", EUName: "SODIUM HYDROXIDE", CAS: "1310-73-2"})
	w.water = material(ledger.MaterialDefined{Name: "Water", Type: "water", USName: "Water", EUName: "AQUA", CAS: "7732-18-5", Density: ptr(dec("0.998"))})
	w.scent = material(ledger.MaterialDefined{Name: "Scent of hay", Type: "scent", USName: "Fragrance", EUName: "PARFUM"})
	w.mica = material(ledger.MaterialDefined{Name: "Mica", Type: "colour", USName: "Mica", EUName: "CI 77019"})
	w.spirit = material(ledger.MaterialDefined{Name: "Spirit", Type: "spirit", USName: "Alcohol Denat.", EUName: "ALCOHOL DENAT."})
	w.hardener = material(ledger.MaterialDefined{Name: "Sodium lactate 60 %", Type: "additive", USName: "Sodium Lactate", EUName: "SODIUM LACTATE", Density: ptr(dec("1.33"))})
	w.blue = material(ledger.MaterialDefined{Name: "Blue dispersion", Type: "prepared", Parts: []ledger.MaterialPart{{Material: w.mica, Share: dec("0.2")}, {Material: w.sunflower, Share: dec("0.8")}}})
	w.stock = material(ledger.MaterialDefined{Name: "Stock lye 1:1", Type: "prepared", Parts: []ledger.MaterialPart{{Material: w.lye, Share: dec("0.5")}, {Material: w.water, Share: dec("0.5")}}})
}

func (w *workshop) receive(material int64, number, mass string) int64 {
	r := &ledger.LotReceived{Material: material, Supplier: w.supplier, SupplierLot: number, Mass: grams(mass)}
	if material == w.lye {
		r.Purity = ptr(dec("0.98"))
	}
	if material == w.scent { // high enough for whatever the tests pour
		r.LimitShare, r.LimitNote = ptr(dec("0.5")), "invented certificate"
	}
	return record(w, r).ID
}

func (w *workshop) receiveLots() {
	w.oliveLot = w.receive(w.olive, "OL-1", "5000")
	w.coconutLot = w.receive(w.coconut, "CO-1", "3000")
	w.sunflowerLot = w.receive(w.sunflower, "SU-1", "1000")
	w.lyeLot = w.receive(w.lye, "LY-1", "2000")
	w.waterLot = w.receive(w.water, "WA-1", "10000")
	w.scentLot = w.receive(w.scent, "SC-1", "500")
	w.micaLot = w.receive(w.mica, "MI-1", "100")
	w.spiritLot = w.receive(w.spirit, "SP-1", "500")
}

func (w *workshop) defineFormula() {
	w.formula = record(w, &ledger.FormulaDefined{Name: "Two oils", OilGrams: dec("1000"), Superfat: dec("0.05"), Concentration: dec("0.33"), Alkali: w.lye,
		AlkaliPurity: dec("0.98"), Water: w.water, TempMinC: ptr(dec("30")), TempMaxC: ptr(dec("50")), MouldHours: 24, Bars: 12,
		Lines: []ledger.FormulaLine{
			{Material: w.olive, Basis: ledger.ByPercent, Amount: dec("70")},
			{Material: w.coconut, Basis: ledger.ByMass, Amount: dec("300")},
			{Material: w.scent, Basis: ledger.ByPercent, Amount: dec("3")},
		}})
}

func (w *workshop) lotFor(material int64) int64 {
	return map[int64]int64{w.olive: w.oliveLot, w.coconut: w.coconutLot, w.sunflower: w.sunflowerLot, w.lye: w.lyeLot, w.water: w.waterLot,
		w.scent: w.scentLot, w.mica: w.micaLot, w.spirit: w.spiritLot}[material]
}

// weigh weighs every line of a batch as planned.
func (w *workshop) weigh(batch int64) {
	lines, err := w.l.BatchLines(w.t.Context(), batch)
	require.NoError(w.t, err)
	for _, line := range lines {
		record(w, &ledger.WeighingTaken{Batch: batch, Line: line.Line, Lot: w.lotFor(line.Material), Mass: grams(line.Planned.String()), SecondCheck: ledger.SecondMethod})
	}
}

func (w *workshop) step(batch int64, steps ...string) {
	for _, s := range steps {
		record(w, &ledger.StepTaken{Batch: batch, Step: s})
	}
}

// make makes a batch of the plain formula up to its bars on the rack, and gives the batch and the bars.
func (w *workshop) make() (*ledger.BatchPlanned, ledger.Lot) {
	w.t.Helper()
	b, lots := w.bars(ledger.Output{What: "bars", Pieces: 12, Mass: grams("1400")})
	return b, lots[0]
}

// bars is make for lots of one's own.
func (w *workshop) bars(outputs ...ledger.Output) (*ledger.BatchPlanned, []ledger.Lot) {
	w.t.Helper()
	b := record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: w.formula.ID})
	w.step(b.ID, ledger.StepStart)
	w.weigh(b.ID)
	w.warm(b.ID)
	w.step(b.ID, ledger.StepLyeMade, ledger.StepCombine, ledger.StepPour)
	w.clock.Add(30 * time.Hour)
	w.step(b.ID, ledger.StepUnmould)
	var lots []ledger.Lot
	for _, o := range record(w, &ledger.BatchYielded{Batch: b.ID, Outputs: outputs}).Outputs {
		lots = append(lots, w.lot(o.ID))
	}
	return b, lots
}

func (w *workshop) warm(batch int64) {
	record(w, &ledger.ReadingTaken{Batch: batch, Type: ledger.OilTemperature, Typed: "42", Unit: "C"})
	record(w, &ledger.ReadingTaken{Batch: batch, Type: ledger.LyeTemperature, Typed: "104", Unit: "F"})
}

// cure weighs a bar over four weeks, tests it, and releases the batch.
func (w *workshop) cure(batch int64, bars ledger.Lot) {
	w.t.Helper()
	w.dry(bars)
	record(w, &ledger.ReadingTaken{Batch: batch, Type: ledger.FreeAlkali, Typed: "0.02", Method: "titration with 0.1 mol/L acid", Passed: ptr(true)})
}

// dry weighs a bar each week over four weeks.
func (w *workshop) dry(bars ledger.Lot) {
	w.t.Helper()
	for _, mass := range []string{"116.0", "110.6", "110.4", "110.3", "110.2"} {
		record(w, &ledger.ReadingTaken{Lot: bars.ID, Type: ledger.BarMass, Typed: mass, Unit: "g", Sample: "1"})
		w.clock.Add(7 * 24 * time.Hour)
	}
}

// lyeHeavy is make with its alkali corrected to what is far too much: 175 g for 145.1 g.
func (w *workshop) lyeHeavy() (*ledger.BatchPlanned, ledger.Lot) {
	w.t.Helper()
	b, bars := w.make()
	_, err := w.l.Record(w.t.Context(), w.owner, ledger.Request{Corrects: w.entryOf(b.ID, w.lyeLot), Reason: "the display was misread", Override: "it was so",
		Body: &ledger.WeighingTaken{Batch: b.ID, Line: 1, Lot: w.lyeLot, Mass: grams("175")}})
	require.NoError(w.t, err)
	return b, bars
}

func (w *workshop) release(batch int64) {
	w.t.Helper()
	record(w, &ledger.ReleaseDecided{Batch: batch, Decision: ledger.Released, Statement: "looked at weights, cure and alkali"})
}

func (w *workshop) lot(id int64) ledger.Lot {
	w.t.Helper()
	lot, err := w.l.Lot(w.t.Context(), id)
	require.NoError(w.t, err)
	return lot
}

// verify fails the test unless the tables follow from the journal.
func (w *workshop) verify() {
	w.t.Helper()
	v, err := w.l.Verify(context.Background())
	require.NoError(w.t, err)
	require.Empty(w.t, v.Difference)
	require.Positive(w.t, v.Entries)
}
