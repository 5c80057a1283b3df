package api

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// The lye of a soap batch: how hot it may get, its density beside its masses, and the gate that stops when they quarrel. 1.3300 g/mL at 20 °C is
// 30.216 % (chem-check-values.csv, inv_density_2), and 145.1 g of 98 % in 294.6 g of water 32.34 %.
func TestTheLyeIsComparedOnTheBench(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	p := w.as(ledger.Owner).hand(t)
	b := w.plan("Two oils")
	w.steps(b.ID, ledger.StepStart)
	w.weigh(b.ID, 4)
	at := "/batches/" + itoa(b.ID)
	p.open(at).says("Make the lye", "May reach about", "no room temperature was read", "With a third of the water as ice", "steam and spatter burn",
		"Never in aluminium", "children, pets", "safety data sheet", "emergency", "Hydroxide by mass 32.34 %", "not read")
	p.send("reading", "type", ledger.RoomTemperature, "typed", "15").says("as the room was last read")

	p.send("density", "typed", "1.3300", "unit", "g/mL", "at", "20").says("Read: lye density, 1.3300 g/mL.", "they do not agree", "30.2", "standard uncertainties", "It may be:", "at 20 °C")
	w.temperatures(b.ID)
	p.open(at).send("step")
	stopped := p.try("step")
	require.Equal(t, http.StatusConflict, stopped.status)
	require.Contains(t, stopped.words(), "they do not agree")

	record := p.on.html[strings.Index(p.on.html, "Readings and tests"):]
	require.Contains(t, record, "at 20 °C")
	p.send("density", "typed", "38", "unit", "Be 145", "at", "68", "at_unit", "F", "within", "0.5").says("they agree within what was measured", "38 Be 145 at 68 °F ± 0.5")
	p.send("step").says("Recorded: combine.")
	wrong := p.open(at).try("density", "typed", "0.9", "unit", "g/mL", "at", "20")
	require.Equal(t, http.StatusUnprocessableEntity, wrong.status)
	require.Contains(t, wrong.words(), "below that of water")
	w.sound()
}

// Stock lye of 500 g each that lost 20 g as steam holds 49 × 1000 / 980 = 50 %.
func TestAStockLyeShowsItsStrength(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	p := w.as(ledger.Owner).hand(t)
	b := w.stockLye("Stock lye")
	p.open("/batches/"+itoa(b)).says("Fill and weigh", "May reach about 113 °C", "Stock lye looks like water", "Hydroxide by mass 49.00 %")
	lot := "/lots/" + itoa(w.fill(b).ID)
	require.NotContains(t, p.open("/batches/"+itoa(b)).on.html, "cure.pdf", "no bars, no cure")
	refused := w.as(ledger.Visitor).get("/batches/" + itoa(b) + "/cure.pdf")
	require.Equal(t, http.StatusConflict, refused.status)
	require.Contains(t, string(refused.body), "makes no bars")
	p.open(lot).says("Strength now", "50.00 %", "On hand 980 g").
		send("density", "typed", "1.5240", "unit", "g/mL", "at", "20").says("has its density recorded", "they agree within what was measured")
	p.send("density", "typed", "1.4500", "unit", "g/mL", "at", "20").says("they do not agree", "drew damp")
	require.NotContains(t, p.open("/lots/"+itoa(w.lots["OL-2"].ID)).on.words(), "Strength now")
	w.sound()
}

// 1.00 mL of 0.1 mol/L acid on 10.00 g is 0.04 % NaOH (chem-check-values.csv, free_alkali_10g).
func TestAlkaliTestsOnThePage(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	p := w.as(ledger.Owner).hand(t)
	b, _ := w.bars("Hay")
	p.open("/batches/"+itoa(b.ID)).says("Phenolphthalein on a wet bar always goes pink", "Nobody should taste soap", "Hot ethanol burns", "Barium chloride is poisonous", "no measured alkali test")
	p.send("test", "type", ledger.AlkaliTongueTest, "typed", "0", "method", "wet finger", "passed", "yes").says("no measured alkali test")
	p.send("ph", "typed", "9.8", "way", "meter", "at", "21", "passed", "yes").says("meter, 1 % solution at 21 °C", "Soap itself shows this", "pH-only: a weak test of free alkali")
	p.send("test", "type", ledger.FreeAlkali, "typed", "0.90", "method", "ISO 456", "measured_by", "Invented Laboratory", "passed", "yes").
		says("measured by Invented Laboratory", "the figure decides", "failed")
	p.send("test", "type", ledger.FreeAlkali, "typed", "0.08", "method", "ISO 456", "passed", "yes", "within", "0.01", "own_percent", "0.1", "own_source", "our buyer").
		says("measured by the person who recorded it", "our buyer, as given", "passed")
	p.send("titration", "titration.method", "ethanol", "titration.sample", "10.00", "titration.volume", "1.25").says("too close to call", "Repeat with a larger sample")
	p.send("titration", "titration.method", "ethanol", "titration.sample", "10.00", "titration.volume", "1.00").
		says("Read: free alkali, 0.040 % NaOH.", "10.00 g of soap, 1.00 mL of titrant at 0.1 mol/L (assumed: burette good to ±0.05 mL, titrant good to ±1 %)", "usual limit for toilet soap", "from memory (medium)", "passed")
	require.NotContains(t, p.on.words(), "pH-only")
	p.send("titration", "titration.method", "oven", "titration.sample", "8.000", "titration.volume", "", "titration.dried", "7.000").says("12.500 %")
	p.send("titration", "titration.method", "dried potassium soap", "titration.sample", "5.000", "titration.volume", "20.00", "titration.titrant", "0.5", "titration.dried", "4.380",
		"limit", p.pick("total fatty matter at least 76 %, toilet soap, grade 1: Indian Standard IS 2888:2004, by secondary texts (retrieved (secondary))")).says("80.000 % found", "pass")
	p.send("titration", "titration.method", "silver nitrate", "titration.sample", "5.000", "titration.volume", "5.00", "own_percent", "0.5", "own_source", "our buyer").
		says("0.585 % found", "our buyer", "did not pass")
	wrong := p.try("titration", "titration.method", "ethanol", "titration.sample", "ten", "titration.volume", "1.00")
	require.Equal(t, http.StatusUnprocessableEntity, wrong.status)
	require.Contains(t, wrong.html, `id="titration-titration.sample-fault"`)
	nobody := p.try("titration", "titration.method", "silver nitrate", "titration.sample", "5.000", "titration.volume", "5.00", "own_percent", "0.5")
	require.Contains(t, nobody.words(), "say whose limit that is")

	p.open("/shop").send("shop", "free_alkali_limit", "0.03")
	p.open("/batches/"+itoa(b.ID)).send("titration", "titration.method", "ethanol", "titration.sample", "10.00", "titration.volume", "1.00").says("failed", "at most 0.03 %")
	w.sound()
}

// The JSON API keeps what was typed and answers with what it comes to.
func TestLyeAndTestsOverTheAPI(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	v := w.as(ledger.Maker)
	b := w.plan("Two oils")
	w.steps(b.ID, ledger.StepStart)
	w.weigh(b.ID, 4)
	made := v.made("/v1/readings", fields{"batch": b.ID, "type": "lye density", "typed": "1.3300", "unit": "g/mL", "at": fields{"typed": "20", "unit": "C"}})
	require.Equal(t, "0.0001", made["within"])
	require.Equal(t, "20", made["at"].(fields)["celsius"])
	var got fields
	v.get("/v1/batches/"+itoa(b.ID)).json(t, &got)
	strength := got["lye_strength"].(fields)
	require.Equal(t, "disagree", strength["verdict"])
	require.Equal(t, "0.30216", strength["by_density"].(fields)["share"])
	require.NotEmpty(t, got["lye_peak"].(fields)["celsius"])
	require.Equal(t, "20", got["readings"].([]any)[0].(fields)["at_celsius"])

	test := v.made("/v1/readings", fields{"batch": b.ID, "type": "free alkali", "titration": fields{"method": "ethanol", "sample": "10.00", "volume": "1.00", "titrant": "0.1"}})
	require.Equal(t, []any{"0.04", "pass", true, "0.040"}, []any{test["value"], test["verdict"], test["passed"], test["typed"]})
	require.Equal(t, "1.00", test["titration"].(fields)["volume"])
	stock := w.fill(w.stockLye("Stock lye"))
	v.get("/v1/lots/"+itoa(stock.ID)).json(t, &got)
	require.Equal(t, "0.5", got["lye_strength"].(fields)["by_mass"].(fields)["share"])
	w.sound()
}

// sound fails the test unless the tables follow from the journal.
func (w *workshop) sound() {
	w.t.Helper()
	v, err := w.l.Verify(w.t.Context())
	require.NoError(w.t, err)
	require.Empty(w.t, v.Difference)
}
