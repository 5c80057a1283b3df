package api

import (
	"context"
	"html"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
	"ashbook/ledger/measure"
)

// workshop is a house with materials, lots and a formula; everything in it is invented.
type workshop struct {
	*house
	materials map[string]int64
	lots      map[string]ledger.LotReceived
	formula   *ledger.FormulaDefined
}

func dec(s string) decimal.Decimal { return decimal.RequireFromString(s) }

func inGrams(typed string) measure.Mass { return measure.Mass{Typed: typed, Unit: measure.Gram} }

func newWorkshop(t *testing.T) *workshop {
	t.Helper()
	w := &workshop{house: newHouse(t), materials: map[string]int64{}, lots: map[string]ledger.LotReceived{}}
	supplier := w.record(&ledger.SupplierAdded{Name: "Invented Oils"}).Record.(*ledger.SupplierAdded).ID
	define := func(m ledger.MaterialDefined) {
		m.Invented = true
		w.materials[m.Name] = w.record(&m).Record.(*ledger.MaterialDefined).ID
	}
	oil := func(name, us, eu, low, high string) {
		least, most := dec(low), dec(high)
		define(ledger.MaterialDefined{Name: name, Type: "oil", USName: us, EUName: eu, SAPMin: &least, SAPMax: &most, SAPSource: "Codex CXS 33-1981 and CXS 210-1999"})
	}
	oil("Olive oil", "Olea Europaea (Olive) Fruit Oil", "OLEA EUROPAEA FRUIT OIL", "184", "196")
	oil("Coconut oil", "Cocos Nucifera (Coconut) Oil", "COCOS NUCIFERA OIL", "248", "265")
	define(ledger.MaterialDefined{Name: "Lye", Type: "alkali", Alkali: "NaOH", USName: "Sodium Hydroxide", EUName: "SODIUM HYDROXIDE", CAS: "1310-73-2"})
	define(ledger.MaterialDefined{Name: "Water", Type: "water", USName: "Water", EUName: "AQUA"})
	define(ledger.MaterialDefined{Name: "Scent of hay", Type: "scent", USName: "Fragrance", EUName: "PARFUM"})
	for _, d := range []struct{ name, number, mass, best string }{
		{"Olive oil", "OL-2", "9000", "2026-12-31"}, {"Olive oil", "OL-1", "900", "2026-05-20"}, {"Coconut oil", "CO-1", "5000", "2027-03-31"},
		{"Lye", "LY-1", "3000", ""}, {"Water", "WA-1", "20000", ""}, {"Scent of hay", "SC-1", "500", "2026-09-30"},
	} {
		r := &ledger.LotReceived{Material: w.materials[d.name], Supplier: supplier, SupplierLot: d.number, Mass: inGrams(d.mass), BestBefore: d.best}
		if d.name == "Lye" {
			purity := dec("0.98")
			r.Purity = &purity
		}
		w.lots[d.number] = *w.record(r).Record.(*ledger.LotReceived)
	}
	least, most := dec("30"), dec("50")
	w.formula = w.record(&ledger.FormulaDefined{Name: "Two oils", OilGrams: dec("1000"), Superfat: dec("0.05"), Concentration: dec("0.33"),
		Alkali: w.materials["Lye"], AlkaliPurity: dec("0.98"), Water: w.materials["Water"], TempMinC: &least, TempMaxC: &most, MouldHours: 24, Bars: 12,
		Lines: []ledger.FormulaLine{{Material: w.materials["Olive oil"], Basis: ledger.ByPercent, Amount: dec("70")},
			{Material: w.materials["Coconut oil"], Basis: ledger.ByMass, Amount: dec("300")}, {Material: w.materials["Scent of hay"], Basis: ledger.ByPercent, Amount: dec("3")}}}).Record.(*ledger.FormulaDefined)
	return w
}

func (w *workshop) plan(name string) *ledger.BatchPlanned {
	w.t.Helper()
	return w.record(&ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: w.formula.ID, Name: name}).Record.(*ledger.BatchPlanned)
}

func (w *workshop) steps(batch int64, steps ...string) {
	w.t.Helper()
	for _, s := range steps {
		w.record(&ledger.StepTaken{Batch: batch, Step: s})
	}
}

// weigh weighs the lines of a batch as planned, up to a number of lines.
func (w *workshop) weigh(batch int64, most int) {
	w.t.Helper()
	lot := map[string]string{"Olive oil": "OL-2", "Coconut oil": "CO-1", "Lye": "LY-1", "Water": "WA-1", "Scent of hay": "SC-1"}
	lines, err := w.l.BatchLines(w.t.Context(), batch)
	require.NoError(w.t, err)
	for i, line := range lines {
		if i < most {
			w.record(&ledger.WeighingTaken{Batch: batch, Line: line.Line, Lot: w.lots[lot[line.Name]].ID, Mass: inGrams(line.Planned.String()), SecondCheck: ledger.SecondMethod})
		}
	}
}

func (w *workshop) temperatures(batch int64) {
	w.t.Helper()
	w.record(&ledger.ReadingTaken{Batch: batch, Type: ledger.OilTemperature, Typed: "42", Unit: "C"})
	w.record(&ledger.ReadingTaken{Batch: batch, Type: ledger.LyeTemperature, Typed: "104", Unit: "F"})
}

// bars makes a batch up to bars on the rack.
func (w *workshop) bars(name string) (*ledger.BatchPlanned, ledger.Output) {
	w.t.Helper()
	b := w.plan(name)
	w.steps(b.ID, ledger.StepStart)
	w.weigh(b.ID, 99)
	w.temperatures(b.ID)
	w.steps(b.ID, ledger.StepLyeMade, ledger.StepCombine, ledger.StepPour)
	w.clock.Add(30 * time.Hour)
	w.steps(b.ID, ledger.StepUnmould)
	y := w.record(&ledger.BatchYielded{Batch: b.ID, Outputs: []ledger.Output{{What: "bars", Pieces: 12, Mass: inGrams("1400")}}}).Record.(*ledger.BatchYielded)
	return b, y.Outputs[0]
}

// released makes a batch that may be sold.
func (w *workshop) released(name string) (*ledger.BatchPlanned, ledger.Output) {
	w.t.Helper()
	b, bars := w.bars(name)
	for _, mass := range []string{"116.0", "110.6", "110.4", "110.3", "110.2"} {
		w.record(&ledger.ReadingTaken{Lot: bars.ID, Type: ledger.BarMass, Typed: mass, Unit: "g", Sample: "1"})
		w.clock.Add(7 * 24 * time.Hour)
	}
	passed := true
	w.record(&ledger.ReadingTaken{Batch: b.ID, Type: ledger.FreeAlkali, Typed: "0.02", Method: "titration with 0.1 mol/L acid", Passed: &passed})
	w.record(&ledger.ReleaseDecided{Batch: b.ID, Decision: ledger.Released, Statement: "looked at weights, cure and alkali"})
	return b, bars
}

// sheet is an answer to a person.
type sheet struct {
	status int
	html   string
	to     string
}

func (v *visitor) read(res *http.Response, err error) sheet {
	v.h.t.Helper()
	require.NoError(v.h.t, err)
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	require.NoError(v.h.t, err)
	return sheet{res.StatusCode, string(b), res.Header.Get("Location")}
}

// see fetches a page.
func (v *visitor) see(path string) sheet {
	v.h.t.Helper()
	return v.submit(context.Background(), http.MethodGet, path, nil)
}

// fill sends a form with the fields that are given; a key is taken from them or made.
func (v *visitor) fill(path string, values url.Values) sheet {
	v.h.t.Helper()
	return v.submit(context.Background(), http.MethodPost, path, values)
}

func (v *visitor) submit(ctx context.Context, method, path string, values url.Values) sheet {
	v.h.t.Helper()
	req, err := http.NewRequestWithContext(ctx, method, v.h.url+path, strings.NewReader(values.Encode()))
	require.NoError(v.h.t, err)
	if method == http.MethodPost {
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	return v.read(v.http.Do(req))
}

var tags = regexp.MustCompile(`<[^>]*>`)

// words are the visible text of a page, for asserting on what a person reads.
func (a sheet) words() string {
	return strings.Join(strings.Fields(html.UnescapeString(tags.ReplaceAllString(a.html, " "))), " ")
}

// scene fills the workshop with what a day in it holds, and gives the pages worth looking at.
func (w *workshop) scene() map[string]string {
	w.t.Helper()
	done, bars := w.released("Hay and olive")
	w.record(&ledger.DispatchSent{Channel: "market", Occasion: "Invented spring fair", Lines: []ledger.DispatchLine{{Lot: bars.ID, Pieces: 5}}})
	w.record(&ledger.StockMoved{Lot: bars.ID, Way: ledger.KeptBack, Amount: dec("1"), Reason: "retained sample"})
	curing, _ := w.bars("Winter bar")
	w.record(&ledger.DeviationOpened{Batch: curing.ID, What: "part of the loaf gelled, the ends did not"})
	w.plan("Plain bar")
	bench := w.plan("Two oils")
	w.steps(bench.ID, ledger.StepStart)
	w.weigh(bench.ID, 2)
	lye := w.plan("Two oils, second pot")
	w.steps(lye.ID, ledger.StepStart)
	poured := w.plan("Evening pot")
	w.steps(poured.ID, ledger.StepStart)
	w.weigh(poured.ID, 99)
	w.temperatures(poured.ID)
	w.steps(poured.ID, ledger.StepLyeMade, ledger.StepCombine, ledger.StepPour)
	ready := w.plan("Morning pot")
	w.steps(ready.ID, ledger.StepStart)
	w.weigh(ready.ID, 4)
	cured, _ := w.curing("Slow bar", "113.0")
	w.record(density(ready.ID, 0, "1.3300", "20"))
	w.record(&ledger.ReadingTaken{Batch: curing.ID, Type: ledger.FreeAlkali, Titration: &ledger.Titrated{Method: "ethanol", Sample: "10.00", Volume: "1.25", Titrant: "0.1"}})
	dissolving, stock := w.stockLye("Stock lye, June"), w.stockLye("Stock lye, July")
	filled := w.fill(stock)
	w.record(density(0, filled.ID, "1.5240", "20"))
	inspected, out := w.inspected()
	w.record(&ledger.LotHeld{Lot: w.lots["SC-1"].ID, Reason: "the supplier asks to wait for a new allergen declaration"})
	paper := []byte("%PDF-1.7 an invented certificate")
	_, err := w.l.Record(w.t.Context(), w.people[ledger.Owner], ledger.Request{Body: ledger.FileDocument(w.lots["OL-2"].ID, "certificate", "Certificate", "", paper), Files: [][]byte{paper}})
	require.NoError(w.t, err)
	path := func(room string, id int64) string { return "/" + room + "/" + itoa(id) }
	return map[string]string{
		"inspected": path("batches", inspected), "ask-out": "/ask?q=" + out.Code, "ask-oil": "/ask?q=OL-2", "lot-oil": path("lots", w.lots["OL-2"].ID),
		"stock-lye": path("batches", dissolving), "stock-lye-lot": path("lots", filled.ID),
		"home": "/", "bench": path("batches", bench.ID), "bench-lye": path("batches", lye.ID), "bench-make": path("batches", ready.ID), "cure": path("batches", cured.ID) + "?on=2026-12-24", "curing": path("batches", curing.ID), "released": path("batches", done.ID),
		"ask": "/ask?q=" + done.Code, "materials": "/materials", "formula": path("formulas", w.formula.ID), "formula-new": "/formulas/new", "lot": path("lots", bars.ID),
		"stock": "/stock", "receive": "/lots/receive", "kinds": "/materials/new", "define-oil": "/materials/new?kind=oil&like=coconut&usual=coconut+oil", "define-prepared": "/materials/new?kind=prepared", "define-acid": "/materials/new?kind=additive&acid=vinegar,+5+%25+acetic+acid", "plan": "/batches/plan", "send": "/dispatches/new", "journal": "/journal", "more": "/more", "shop": "/shop", "people": "/people",
	}
}

// stockLye weighs a stock lye of equal parts, ready to be made and filled.
func (w *workshop) stockLye(name string) int64 {
	w.t.Helper()
	lye, water, half := w.materials["Lye"], w.materials["Water"], dec("0.5")
	m := w.record(&ledger.MaterialDefined{Name: name, Type: "prepared", Parts: []ledger.MaterialPart{{Material: lye, Share: half}, {Material: water, Share: half}}}).Record.(*ledger.MaterialDefined)
	b := w.record(&ledger.BatchPlanned{Purpose: ledger.ForStockLye, Material: m.ID,
		Lines: []ledger.PlanLine{{Material: lye, Grams: dec("500")}, {Material: water, Grams: dec("500")}}}).Record.(*ledger.BatchPlanned)
	w.weigh(b.ID, 99)
	return b.ID
}

// fill fills it; 20 g of its 1000 g went as steam.
func (w *workshop) fill(batch int64) ledger.Output {
	w.t.Helper()
	return w.record(&ledger.BatchYielded{Batch: batch, Outputs: []ledger.Output{{What: "prepared", Mass: inGrams("980")}}}).Record.(*ledger.BatchYielded).Outputs[0]
}

// density reads the density of the lye of a batch or of a lot.
func density(batch, lot int64, typed, celsius string) *ledger.ReadingTaken {
	return &ledger.ReadingTaken{Batch: batch, Lot: lot, Type: ledger.LyeDensity, Typed: typed, Unit: "g/mL", At: &ledger.ReadAt{Typed: celsius, Unit: "C"}}
}
