package api

import (
	"fmt"
	"io"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// The whole job, from an empty shop to an answer about a sold bar, through the forms as they are drawn.
func TestTheWholeJobThroughThePages(t *testing.T) {
	house := newHouse(t)
	p := house.as(ledger.Owner).hand(t)
	setUp(p)
	makeFormula(p)
	batch := makeSoap(p, house)
	bars := releaseIt(p, house, batch)
	sellIt(p, bars)
	answerFor(p, house, batch)
}

func setUp(p *hand) {
	p.open("/").says("First steps")
	p.open("/shop").send("shop", "name", "Invented Soap House", "address", "1 Nowhere Lane\r\nInventia").says("The shop is set up as Invented Soap House.")
	p.open("/suppliers").send("supplier", "name", "Invented Oils").says("Invented Oils is added.")
	define := func(kind string, fields ...string) {
		p.open("/materials/new").says("What is it?", "Stock lye and premixes")
		p.open("/materials/new?kind="+kind).send("define", append(fields, "invented", "yes")...)
	}
	define("oil", "name", "Olive oil", "eu_name", "OLEA EUROPAEA FRUIT OIL", "sap_min", "184", "sap_max", "196", "sap_source", "Codex CXS 33-1981")
	define("alkali", "name", "Lye", "alkali", "NaOH", "eu_name", "SODIUM HYDROXIDE", "cas", "1310-73-2")
	define("water", "name", "Water", "eu_name", "AQUA")
	define("colour", "name", "Mica", "eu_name", "CI 77019")
	p.open("/materials/new?kind=prepared")
	p.send("define", "name", "Blue dispersion", "parts.0.material", p.pick("Mica (colour)"), "parts.0.share", "20",
		"parts.1.material", p.pick("Olive oil (oil)"), "parts.1.share", "80").says("Blue dispersion is kept.", "20.0 % as planned")
	for _, lot := range [][]string{{"Olive oil", "OL-1", "6", ""}, {"Lye", "LY-1", "1", "98"}, {"Water", "WA-1", "9", ""}, {"Mica", "MI-1", "0.1", ""}} {
		p.open("/lots/receive")
		p.send("receive", "material", p.pick(lot[0]), "supplier", p.pick("Invented Oils"), "supplier_lot", lot[1], "mass", lot[2], "unit", "kg",
			"purity", lot[3]).says("Write the code on the container.")
	}
	p.upload("paper", "file", []byte("an invented certificate"), "title", "Certificate")
	p.says("Certificate")
}

func makeFormula(p *hand) {
	p.open("/formulas/new")
	olive, blue := p.pick("Olive oil"), p.pick("Blue dispersion")
	more := p.try("formula", "name", "Plain", "lines.0.material", olive, "more", "lines")
	require.Equal(p.t, http.StatusOK, more.status)
	require.Contains(p.t, more.html, `name="lines.9.material"`, "more rows, with nothing lost")
	require.Contains(p.t, more.html, `value="Plain"`)
	p.send("formula", "name", "Plain", "temp_min_c", "86", "temp_max_c", "122", "temp_unit", "F", "lines.0.material", olive, "lines.0.amount", "100",
		"lines.1.material", blue, "lines.1.amount", "20", "lines.1.basis", ledger.ByMass, "lines.1.portion", "blue",
		"portions.0.name", "white", "portions.0.amount", "60", "portions.1.name", "blue", "portions.1.amount", "40")
	p.says("Plain, version 1, is kept.", "86 to 122 °F (30 to 50 °C)", "What to weigh")
	edit := p.open(strings.SplitN(p.at, "#", 2)[0] + "/next")
	edit.send("formula", "bars", "9").says("Plain, version 2, is kept.")
}

// makeSoap makes the premix first, then the soap, up to bars on the rack.
func makeSoap(p *hand, house *house) int64 {
	p.open("/batches/plan")
	p.send("prep", "purpose", ledger.ForPremix, "material", p.pick("Blue dispersion (prepared)"), "total", "40").says("The batch is B", "Mica")
	p.send("weigh", "mass", "32").send("weigh", "mass", "8").says("Fill and weigh")
	p.send("fill", "mass", "39.5").says("It gave P", "Made", "Weighed in 40 g; came out 39.5 g; no waste noted; not found 0.5.")

	p.open("/batches/plan").send("plan", "oil_grams", "1000").says("Start")
	at := p.at
	p.send("step").says("Lye burns", "Recorded: start.")
	lines := weighListOf(p, house)
	p.send("weigh", "mass", lines[0].Planned.String(), "second_check", ledger.SecondMethod)
	p.send("weigh", "mass", lines[1].Planned.String())
	p.send("weigh", "mass", "1", "unit", "kg").says("Make the lye")
	p.open(at).send("step").says("Combine oils and lye", "Both at 86 to 122 °F (30 to 50 °C).")
	p.send("reading-now", "typed", "104", "unit", "F").send("reading-now", "typed", "41", "unit", "C")
	p.send("event", "step", ledger.StepTrace, "note", "thin").send("step").says("Divide the pot")
	p.send("split", "portions.0.mass", "800", "portions.1.mass", "610").says("Blue dispersion")
	p.send("weigh", "mass", "20").says("Pour").send("step").says("In the mould", "Fresh soap is still caustic")
	early := p.try("step")
	require.Equal(p.t, http.StatusConflict, early.status)
	require.Contains(p.t, early.words(), "the formula asks for 24 hours in the mould")
	require.Contains(p.t, early.words(), "Go on against the gate")
	house.clock.Add(25 * time.Hour)
	p.open(at).send("step").says("Cut, count, weigh")
	p.send("cut", "outputs.0.pieces", "9", "outputs.0.mass", "1300", "remnants", "60", "waste", "20").says("It gave S", "Cure and test")
	return idIn(p.t, at)
}

func idIn(t *testing.T, path string) int64 {
	var id int64
	_, err := fmt.Sscanf(path[strings.LastIndex(path, "/")+1:], "%d", &id)
	require.NoError(t, err, path)
	return id
}

func weighListOf(p *hand, house *house) []ledger.BatchLine {
	lines, err := house.l.BatchLines(p.t.Context(), idIn(p.t, p.at))
	require.NoError(p.t, err)
	return lines
}

func releaseIt(p *hand, house *house, batch int64) ledger.Lot {
	at := fmt.Sprintf("/batches/%d", batch)
	p.open(at).send("deviation", "what", "the loaf cracked").says("open the loaf cracked")
	for _, mass := range []string{"140", "132.2", "131.9", "131.7", "131.6"} {
		p.open(at).send("bar", "sample", "1", "typed", mass)
		house.clock.Add(7 * 24 * time.Hour)
	}
	p.open(at).send("test", "type", ledger.FreeAlkali, "typed", "0.03", "method", "titration", "passed", "yes").says("open deviation: the loaf cracked")
	refused := p.try("release", "decision", ledger.Released, "statement", "looked at it")
	require.Equal(p.t, http.StatusConflict, refused.status)
	decide := regexp.MustCompile(`id="(decide-\d+)"`).FindStringSubmatch(p.on.html)
	require.NotNil(p.t, decide)
	p.send(decide[1], "decision", "only the look").says("Decide")
	p.send("release", "decision", ledger.Released, "statement", "weights, cure, alkali").says("is released.")
	p.send("label", "copies", "10").says("A label is drawn, 10 copies.")
	outputs, err := house.l.Outputs(p.t.Context(), batch)
	require.NoError(p.t, err)
	return outputs[0]
}

func sellIt(p *hand, bars ledger.Lot) {
	p.open("/buyers").send("buyer", "type", "shop", "name", "Invented Corner Shop").says("Invented Corner Shop is added.")
	lot := fmt.Sprintf("/lots/%d", bars.ID)
	p.open(lot).send("move", "way", ledger.KeptBack, "amount", "1", "reason", "retained sample").says("kept as samples 1 bar")
	p.send("hold", "reason", "a question came up").says("On hold", "a question came up")
	p.open("/dispatches/new")
	held := p.try("send", "channel", "gift", "lines.0.lot", digits(bars.ID), "lines.0.pieces", "1")
	require.Equal(p.t, http.StatusConflict, held.status)
	require.Contains(p.t, held.words(), "is on hold: a question came up")
	p.open(lot).send("free", "reason", "answered")
	p.open("/dispatches/new").send("send", "channel", "shop", "buyer", p.pick("Invented Corner Shop"), "reference", "INV-7", "lines.0.lot", digits(bars.ID), "lines.0.pieces", "5")
	p.says("The dispatch is D", "INV-7")
	p.send("return", "lot", digits(bars.ID), "pieces", "2", "decision", ledger.Restock, "reason", "unsold").says("2 came back.")
}

func answerFor(p *hand, house *house, batch int64) {
	p.open("/ask?q=MI-1").says("Mica", "went into", "Invented Corner Shop", "unaccounted for")
	p.open("/ask?q=Invented+Corner").says("Invented Corner Shop", "INV-7")
	p.open("/drills").send("drill-start", "subject", "OL-1").says("A drill is running")
	house.clock.Add(3 * time.Minute)
	p.send("drill", "notes", "all found").says("The drill is recorded.", "3m", "all found")

	weighings, err := house.l.Weighings(p.t.Context(), batch)
	require.NoError(p.t, err)
	first := weighings[0]
	p.open(fmt.Sprintf("/weighings/%d/correct?batch=%d", first.Entry, batch))
	none := p.try("weigh", "mass", "1")
	require.Equal(p.t, http.StatusUnprocessableEntity, none.status)
	require.Contains(p.t, none.words(), "a correction says why")
	p.open("/journal").says("Drill recorded", "Label drawn", "Sent")
	verdict, err := house.l.Verify(p.t.Context())
	require.NoError(p.t, err)
	require.Empty(p.t, verdict.Difference)
}

func TestAPaperIsHandedOutAndNeverOpened(t *testing.T) {
	w := newWorkshop(t)
	p := w.as(ledger.Maker).hand(t)
	p.open(fmt.Sprintf("/lots/%d", w.lots["OL-1"].ID))
	p.upload("paper", "file", []byte("<script>alert(1)</script>"), "title", `odd "name"/..`)
	link := regexp.MustCompile(`/documents/\d+`).FindString(p.on.html)
	res, err := p.http.Get(w.url + link)
	require.NoError(t, err)
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	require.Equal(t, "<script>alert(1)</script>", string(b))
	require.Contains(t, res.Header.Get("Content-Disposition"), "attachment")
	require.Contains(t, res.Header.Get("Content-Security-Policy"), "sandbox")
}
