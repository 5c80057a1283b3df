package ledgertest

import (
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
	"ashbook/ledger/measure"
)

// Bars is an invented shop with one batch of cured and tested bars that wait for their release.
type Bars struct {
	t      testing.TB
	Ledger *ledger.Ledger
	Clock  *Clock
	Owner  ledger.Actor
	Olive  int64 // a lot of olive oil, supplier's number OL-1
	Batch  *ledger.BatchPlanned
	Lot    ledger.Lot
}

// MakeBars records a whole batch of 1000 g of oils: 700 g olive, 300 g coconut, 30 g scent, and 20 g of a dispersion
// of one part mica in four parts sunflower oil; 5 % superfat, 33 % lye; 12 bars, the last weighed at 110.2 g.
func MakeBars(t testing.TB) *Bars {
	t.Helper()
	b := &Bars{t: t}
	b.Ledger, b.Clock = Open(t)
	b.open()
	oil := func(name, us, eu, low, high string) int64 {
		min, max := decimal.RequireFromString(low), decimal.RequireFromString(high)
		return record(b, &ledger.MaterialDefined{Name: name, Type: "oil", USName: us, EUName: eu, SAPMin: &min, SAPMax: &max,
			SAPSource: "Codex CXS 33-1981 and CXS 210-1999", Invented: true}).ID
	}
	plain := func(name, kind, us, eu, alkali string) int64 {
		return record(b, &ledger.MaterialDefined{Name: name, Type: kind, USName: us, EUName: eu, Alkali: alkali, Invented: true}).ID
	}
	olive := oil("Olive oil", "Olea Europaea (Olive) Fruit Oil", "OLEA EUROPAEA FRUIT OIL", "184", "196")
	coconut := oil("Coconut oil", "Cocos Nucifera (Coconut) Oil", "COCOS NUCIFERA OIL", "248", "265")
	sunflower := oil("Sunflower oil", "Helianthus Annuus (Sunflower) Seed Oil", "HELIANTHUS ANNUUS SEED OIL", "187", "194")
	lye := plain("Lye", "alkali", "Sodium Hydroxide", "SODIUM HYDROXIDE", "NaOH")
	water := plain("Water", "water", "Water", "AQUA", "")
	scent := plain("Scent of hay", "scent", "Fragrance", "PARFUM", "")
	mica := plain("Mica", "colour", "Mica", "CI 77019", "")
	spirit := plain("Spirit", "spirit", "Alcohol Denat.", "ALCOHOL DENAT.", "")
	dispersion := record(b, &ledger.MaterialDefined{Name: "Mica dispersion", Type: "prepared", Invented: true, Parts: []ledger.MaterialPart{
		{Material: mica, Share: decimal.RequireFromString("0.2")}, {Material: sunflower, Share: decimal.RequireFromString("0.8")}}}).ID
	lots := map[int64]int64{}
	for material, number := range map[int64]string{olive: "OL-1", coconut: "CO-1", sunflower: "SU-1", lye: "LY-1", water: "WA-1", scent: "SC-1", mica: "MI-1", spirit: "SP-1"} {
		lots[material] = b.receive(material, number, material == lye)
	}
	b.Olive = lots[olive]
	lots[dispersion] = b.disperse(dispersion, lots[mica], lots[sunflower])
	formula := record(b, &ledger.FormulaDefined{Name: "Hay", OilGrams: decimal.NewFromInt(1000), Superfat: decimal.RequireFromString("0.05"),
		Concentration: decimal.RequireFromString("0.33"), Alkali: lye, AlkaliPurity: decimal.RequireFromString("0.98"), Water: water, MouldHours: 24, Bars: 12,
		Lines: []ledger.FormulaLine{
			{Material: olive, Basis: ledger.ByPercent, Amount: decimal.NewFromInt(70)}, {Material: coconut, Basis: ledger.ByPercent, Amount: decimal.NewFromInt(30)},
			{Material: scent, Basis: ledger.ByPercent, Amount: decimal.NewFromInt(3)}, {Material: dispersion, Basis: ledger.ByMass, Amount: decimal.NewFromInt(20)}}})
	b.make(formula.ID, lots, lots[spirit])
	return b
}

func record[B ledger.Body](b *Bars, body B) B {
	b.t.Helper()
	r, err := b.Ledger.Record(b.t.Context(), b.Owner, ledger.Request{Body: body})
	require.NoError(b.t, err)
	return r.Record.(B)
}

func grams(s string) measure.Mass { return measure.Mass{Typed: s, Unit: measure.Gram} }

func (b *Bars) open() {
	b.t.Helper()
	b.Owner = ledger.System
	p := record(b, &ledger.PersonAdded{Login: "olga", Name: "Olga", Role: ledger.Owner})
	var err error
	b.Owner, err = b.Ledger.Actor(b.t.Context(), p.ID)
	require.NoError(b.t, err)
	record(b, &ledger.ShopSet{Name: "Invented Soap Works", Address: []string{"1 Nowhere Lane", "Inventia"}, Contact: "post@example.org",
		Timezone: "Europe/Vienna", Currency: "EUR", LabelStyle: "EU", CureDays: 28, LossPerWeek: decimal.RequireFromString("0.5")})
}

func (b *Bars) receive(material int64, number string, alkali bool) int64 {
	b.t.Helper()
	suppliers, err := b.Ledger.Suppliers(b.t.Context())
	require.NoError(b.t, err)
	if len(suppliers) == 0 {
		suppliers = []ledger.Supplier{{ID: record(b, &ledger.SupplierAdded{Name: "Invented Oils"}).ID}}
	}
	lot := &ledger.LotReceived{Material: material, Supplier: suppliers[0].ID, SupplierLot: number, Mass: grams("5000")}
	if alkali {
		purity := decimal.RequireFromString("0.98")
		lot.Purity = &purity
	}
	return record(b, lot).ID
}

func (b *Bars) disperse(material, mica, oil int64) int64 {
	b.t.Helper()
	batch := record(b, &ledger.BatchPlanned{Purpose: ledger.ForPremix, Material: material})
	record(b, &ledger.WeighingTaken{Batch: batch.ID, Lot: mica, Mass: grams("10")})
	record(b, &ledger.WeighingTaken{Batch: batch.ID, Lot: oil, Mass: grams("40")})
	return record(b, &ledger.BatchYielded{Batch: batch.ID, Outputs: []ledger.Output{{What: "prepared", Mass: grams("50")}}}).Outputs[0].ID
}

func (b *Bars) make(formula int64, lots map[int64]int64, spirit int64) {
	b.t.Helper()
	b.Batch = record(b, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: formula})
	step := func(name string) { record(b, &ledger.StepTaken{Batch: b.Batch.ID, Step: name}) }
	step(ledger.StepStart)
	for i, line := range b.Batch.Lines {
		record(b, &ledger.WeighingTaken{Batch: b.Batch.ID, Line: i + 1, Lot: lots[line.Material], Mass: grams(line.Grams.String()), SecondCheck: ledger.SecondMethod})
	}
	step(ledger.StepLyeMade)
	step(ledger.StepCombine)
	step(ledger.StepPour)
	record(b, &ledger.WeighingTaken{Batch: b.Batch.ID, Lot: spirit, Mass: grams("5")})
	b.Clock.Add(30 * time.Hour)
	step(ledger.StepUnmould)
	y := record(b, &ledger.BatchYielded{Batch: b.Batch.ID, Outputs: []ledger.Output{{What: "bars", Pieces: 12, Mass: grams("1400")}}})
	for _, mass := range []string{"116.0", "110.6", "110.4", "110.3", "110.2"} {
		record(b, &ledger.ReadingTaken{Lot: y.Outputs[0].ID, Type: ledger.BarMass, Typed: mass, Unit: "g", Sample: "1"})
		b.Clock.Add(7 * 24 * time.Hour)
	}
	passed := true
	record(b, &ledger.ReadingTaken{Batch: b.Batch.ID, Type: ledger.FreeAlkali, Typed: "0.02", Method: "titration with 0.1 mol/L acid", Passed: &passed})
	var err error
	b.Lot, err = b.Ledger.Lot(b.t.Context(), y.Outputs[0].ID)
	require.NoError(b.t, err)
}

// Release lays the bars ready for sale.
func (b *Bars) Release() {
	b.t.Helper()
	record(b, &ledger.ReleaseDecided{Batch: b.Batch.ID, Decision: ledger.Released, Statement: "looked at weights, cure and alkali"})
}
