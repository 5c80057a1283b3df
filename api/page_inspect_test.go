package api

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// inspected is a batch in which everything happened that an inspector asks about. It was released and sold from, and a
// correction of a weighing then opened it again.
func (w *workshop) inspected() (batch int64, bars ledger.Output) {
	w.t.Helper()
	do := func(req ledger.Request) *ledger.Receipt {
		w.t.Helper()
		r, err := w.l.Record(w.t.Context(), w.people[ledger.Owner], req)
		require.NoError(w.t, err)
		return r
	}
	b := w.plan("Inspector's bar").ID
	w.steps(b, ledger.StepStart)
	lines, err := w.l.BatchLines(w.t.Context(), b)
	require.NoError(w.t, err)
	lye := &ledger.WeighingTaken{Batch: b, Line: lines[0].Line, Lot: w.lots["LY-1"].ID, Mass: inGrams(lines[0].Planned.String()),
		SecondCheck: ledger.SecondPerson, CheckedBy: w.people[ledger.Reviewer].ID}
	weighed := do(ledger.Request{Body: lye, HappenedAt: w.l.Now()})
	w.clock.Add(48 * time.Hour)
	short := &ledger.WeighingTaken{Batch: b, Line: lines[1].Line, Lot: w.lots["WA-1"].ID, Mass: inGrams("100"), SecondCheck: ledger.SecondMethod}
	do(ledger.Request{Body: short, Override: "the rest follows as ice", HappenedAt: w.l.Now().Add(-30 * time.Hour)})
	rest := *short
	rest.Mass = inGrams(lines[1].Planned.Sub(dec("100")).String())
	do(ledger.Request{Body: &rest})
	lot := map[string]string{"Olive oil": "OL-2", "Coconut oil": "CO-1", "Scent of hay": "SC-1"}
	for _, line := range lines[2:] {
		w.record(&ledger.WeighingTaken{Batch: b, Line: line.Line, Lot: w.lots[lot[line.Name]].ID, Mass: inGrams(line.Planned.String()), SecondCheck: ledger.SecondMethod})
	}
	wrong := w.record(&ledger.ReadingTaken{Batch: b, Type: ledger.RoomTemperature, Typed: "91", Unit: "C"})
	do(ledger.Request{Corrects: wrong.Entry, Reason: "read upside down", Body: &ledger.EntryStruck{}})
	w.temperatures(b)
	w.steps(b, ledger.StepLyeMade, ledger.StepCombine)
	note := w.record(&ledger.StepTaken{Batch: b, Step: ledger.StepNote, Note: "thick"})
	do(ledger.Request{Corrects: note.Entry, Reason: "of another pot", Body: &ledger.EntryStruck{}})
	w.steps(b, ledger.StepPour)
	w.clock.Add(30 * time.Hour)
	w.steps(b, ledger.StepUnmould)
	waste := inGrams("20")
	y := w.record(&ledger.BatchYielded{Batch: b, Waste: &waste, Outputs: []ledger.Output{{What: "bars", Pieces: 12, Mass: inGrams("1300")},
		{What: "remnants", Name: "Trimmings", Mass: inGrams("100")}}}).Record.(*ledger.BatchYielded)
	d := w.record(&ledger.DeviationOpened{Batch: b, What: "the lid was off for an hour"}).Record.(*ledger.DeviationOpened)
	w.record(&ledger.DeviationDecided{Deviation: d.ID, Decision: "looked over, nothing fell in"})
	for _, mass := range []string{"116.0", "110.6", "110.4", "110.3", "110.2"} {
		w.record(&ledger.ReadingTaken{Lot: y.Outputs[0].ID, Type: ledger.BarMass, Typed: mass, Unit: "g", Sample: "1"})
		w.clock.Add(7 * 24 * time.Hour)
	}
	passed := true
	w.record(&ledger.ReadingTaken{Batch: b, Type: ledger.FreeAlkali, Typed: "0.02", Method: "titration", Passed: &passed})
	w.record(&ledger.ReleaseDecided{Batch: b, Decision: ledger.Released, Statement: "looked at weights, cure and alkali"})
	buyer := do(ledger.Request{Body: &ledger.BuyerAdded{Type: "person"}, Contact: &ledger.Contact{Name: "Invented Ivana"}}).Record.(*ledger.BuyerAdded).ID
	w.record(&ledger.DispatchSent{Channel: "online", Buyer: buyer, Lines: []ledger.DispatchLine{{Lot: y.Outputs[0].ID, Pieces: 3}}})
	shop := do(ledger.Request{Body: &ledger.BuyerAdded{Type: "shop"}, Contact: &ledger.Contact{Name: "Invented Corner Shop"}}).Record.(*ledger.BuyerAdded).ID
	w.record(&ledger.DispatchSent{Channel: "shop", Buyer: shop, Lines: []ledger.DispatchLine{{Lot: y.Outputs[0].ID, Pieces: 2}}})
	more := *lye
	more.Mass = inGrams("190")
	do(ledger.Request{Corrects: weighed.Entry, Reason: "the scale's slip says 190", Body: &more, Override: "it was so"})
	return b, y.Outputs[0]
}

func TestABatchTellsAllThatAnInspectorAsks(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	batch, _ := w.inspected()
	p := w.as(ledger.Visitor).hand(t).open("/batches/" + itoa(batch))
	p.says("Gates passed against their word", "The weigh gate", "Reason: the rest follows as ice", "checked by second person: Invented reviewer",
		"recorded later:", "read upside down (entry", "of another pot (entry", "the scale's slip says 190 (entry",
		"noted by Invented owner", "decided by Invented owner", "looked over, nothing fell in",
		"(bars 1300, trimmings 100); thrown away 20", "It was released, and that no longer holds since entry", "5 bars of it are out",
		"no longer holds since entry", "more alkali than the oils can take: hold it", "98.0 % by its certificate")
	require.NotContains(t, p.on.html, `state-good">released`, "a release that no longer holds has no tick")

	poured, err := w.l.Yielded(t.Context(), batch)
	require.NoError(t, err)
	p.says("Poured " + poured.Poured.Round(2).String() + " g; came out 1400 g")
	p.says("not found " + poured.Poured.Sub(dec("1420")).Round(2).String())

	var rec batchRecord
	w.as(ledger.Visitor).get("/v1/batches/"+itoa(batch)).json(t, &rec)
	require.Equal(t, "the rest follows as ice", rec.Passings[0].Reason)
	require.NotEmpty(t, rec.Passings[0].Findings)
	require.Equal(t, "20", rec.Yield.Record.Waste.Grams.String())
}

// While the oils are still to come the superfat is below zero for no harm: the card says what is missing instead.
func TestLyeBeforeTheOilsAlarmsNobody(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := w.plan("Two oils").ID
	w.steps(b, ledger.StepStart)
	w.weigh(b, 3) // lye, water and the first oil
	lye, err := w.l.Lye(t.Context(), b)
	require.NoError(t, err)
	require.True(t, lye.Superfat.IsNegative())
	p := w.as(ledger.Maker).hand(t).open("/batches/" + itoa(b)).says("when the rest is weighed as planned")
	require.NotContains(t, p.on.words(), "more alkali than the oils can take")
	require.NotContains(t, p.on.words(), "Free alkali, predicted")
}

func TestPrivateBuyersAreNotNamedToAVisitor(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	batch, bars := w.inspected()
	list, err := w.l.Dispatches(t.Context(), 0)
	require.NoError(t, err)
	at := itoa(list[1].ID) // the one to the private person came first
	b, err := w.l.Batch(t.Context(), batch)
	require.NoError(t, err)
	visitor, seller := w.as(ledger.Visitor), w.as(ledger.Seller)
	for _, path := range []string{"/ask?q=" + bars.Code, "/ask?q=" + b.Code, "/dispatches", "/dispatches/" + at, "/v1/ask?q=" + bars.Code, "/v1/dispatches", "/v1/dispatches/" + at, "/v1/ask?q=Invented+I"} {
		seen := string(visitor.get(path).body)
		require.NotContains(t, seen, "Ivana", path)
		require.Contains(t, seen, privateBuyer, path)
		require.Contains(t, string(seller.get(path).body), "Ivana", path)
	}
	require.Contains(t, string(visitor.get("/dispatches").body), "Invented Corner Shop", "a recall goes through shops")
}

// Office papers are zip archives inside, tables are plain text: their own endings stay, anything unknown is bytes.
func TestFilesAreNamedByWhatIsInThem(t *testing.T) {
	for _, c := range [][3]string{
		{"Certificate", "application/pdf", "Certificate.pdf"}, {"Certificate.PDF", "application/pdf", "Certificate.PDF"}, {"photo.jpeg", "image/jpeg", "photo.jpeg"},
		{"readings.csv", "text/plain; charset=utf-8", "readings.csv"}, {"readings", "text/plain; charset=utf-8", "readings.txt"},
		{"sheet.docx", "application/zip", "sheet.docx"}, {"page.html", "text/html; charset=utf-8", "page.html.bin"}, {"a.exe", "application/pdf", "a.exe.pdf"}, {"a/b", "application/octet-stream", "a-b.bin"},
	} {
		require.Equal(t, c[2], fileName(c[0], c[1]))
	}
}
