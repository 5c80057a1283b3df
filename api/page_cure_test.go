package api

import (
	"bytes"
	"encoding/json"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// The synthetic check series of the reference notes on cure (chemistry, section 7).
var (
	checkDays  = []int{0, 1, 2, 3, 5, 7, 10, 14, 18, 21, 25, 28, 35, 42}
	checkGrams = []string{"135.0", "133.1", "131.7", "130.9", "129.1", "128.0", "126.4", "124.8", "123.8", "122.9", "122.3", "121.6", "120.9", "120.2"}
)

// curing makes a batch with the check series as the weighings of bar A, 42 days after the cut; slip is what is typed for day 18
// of bar B, which is lighter by a ninth. It gives the entry of that weighing.
func (w *workshop) curing(name, slip string) (batch *ledger.BatchPlanned, entry int64) {
	w.t.Helper()
	batch, bars := w.bars(name)
	w.clock.Add(42 * 24 * time.Hour)
	cut, err := w.l.Batch(w.t.Context(), batch.ID)
	require.NoError(w.t, err)
	for i, day := range checkDays {
		lighter := dec(checkGrams[i]).Mul(dec("8")).DivRound(dec("9"), 1).String()
		if day == 18 {
			lighter = slip
		}
		for j, typed := range []string{checkGrams[i], lighter} {
			mark := []string{"A", "B"}[j]
			r, err := w.l.Record(w.t.Context(), w.people[ledger.Owner], ledger.Request{HappenedAt: cut.CutAt.Add(time.Duration(day) * 24 * time.Hour),
				Body: &ledger.ReadingTaken{Lot: bars.ID, Type: ledger.BarMass, Typed: typed, Unit: "g", Sample: mark, Instrument: "fine"}})
			require.NoError(w.t, err)
			if day == 18 && mark == "B" {
				entry = r.Entry
			}
		}
	}
	return batch, entry
}

// A person without a script asks about a day, sees what is odd, puts it right, and the curve follows.
func TestTheCureOfABatchByHand(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	batch, entry := w.curing("Winter bar", "113.0")
	h := w.as(ledger.Owner).hand(t)
	at := "/batches/" + itoa(batch.ID)
	h.open(at).says("Cure", "lies 3.1 g above its curve", "It counts until it is put right", "Weighed so far: A, B.", "It informs; it does not certify")
	require.Contains(t, h.on.html, `<svg class="chart chart-wide" role="img"`)
	require.Contains(t, h.on.words(), "Weighings: 28; marked bars: 2; from day 0 to day 42 after the cut.")
	require.Contains(t, h.on.html, `href="/bars/`+itoa(entry)+`/correct?batch=`+itoa(batch.ID)+`"`)

	h.open("/bars/" + itoa(entry) + "/correct?batch=" + itoa(batch.ID)).says("bar B: 113.0 g, by Invented owner")
	require.Equal(t, http.StatusUnprocessableEntity, h.try("bar", "typed", "110.0").status, "a reason is asked for")
	h.send("bar", "typed", "110.0", "reason", "read 110.0 as 113.0").says("is put right")
	require.NotContains(t, h.on.words(), "above its curve")
	c, err := w.l.Cure(t.Context(), batch.ID, time.Time{})
	require.NoError(t, err)
	require.Len(t, c.Lots[0].Weighings, 28)
	h.says(c.Lots[0].Says, "when ready", "mean of these")

	day := c.CutOn.AddDate(0, 0, 49)
	h.open(at+"?on="+day.Format(time.DateOnly)).says(day.Format("2 Jan 2006"), "119.8 ± 0.2 g") // the notes: 119.756 ± 0.302 from bar A alone
	h.says("By the curve no marked bar of " + c.Lots[0].Code + " is expected under 106.")
	require.Contains(t, h.on.html, `value="`+day.Format(time.DateOnly)+`"`)
	h.open(at + "?on=1999-01-01").says("ask about a day from the cut")
	h.open(at + "?on=soon").says("write the day as year, month and day")
	h.open("/").says("ready from " + c.ReadyOn.Format("2 Jan 2006") + " by its curve")
	h.open("/batches?stage=curing").says("by its curve")
	require.Equal(t, http.StatusNotFound, h.see("/bars/1/correct?batch="+itoa(batch.ID)).status)
}

// The sheet can be read by a foreign reader, is the same twice, and may be kept when ASHBOOK_SCREENSHOTS names a folder.
func TestTheCureSheet(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	batch, entry := w.curing("Winter bar", "113.0")
	c, err := w.l.Cure(t.Context(), batch.ID, time.Time{})
	require.NoError(t, err)
	v := w.as(ledger.Visitor)
	path := "/batches/" + itoa(batch.ID) + "/cure.pdf"
	first, second := v.get(path), v.get(path)
	require.Equal(t, http.StatusOK, first.status)
	require.Equal(t, "application/pdf", first.header.Get("Content-Type"))
	require.Equal(t, first.body, second.body)
	if dir := os.Getenv("ASHBOOK_SCREENSHOTS"); dir != "" {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "cure.pdf"), first.body, 0o644))
	}
	cmd := exec.CommandContext(t.Context(), "pdftotext", "-", "-")
	cmd.Stdin = bytes.NewReader(first.body)
	out, err := cmd.Output()
	require.NoError(t, err, "pdftotext (poppler-utils) must be installed")
	text := strings.Join(strings.Fields(string(out)), " ")
	for _, want := range append([]string{batch.Code, "Winter bar", c.Lots[0].Code, c.Lots[0].Says, "28 days; no more than 0.5 % a week", "135.0 g", "Look again at entry " + itoa(entry),
		"It informs; it does not certify", "days from the cut", "page 1 of "}, c.Lots[0].Expected[0].Mean.Grams()) {
		require.Contains(t, text, want)
	}
	uncut := w.plan("Plain bar")
	require.Equal(t, http.StatusConflict, v.get("/batches/"+itoa(uncut.ID)+"/cure.pdf").status)
}

func TestTheCureOverHTTP(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	batch, _ := w.curing("Winter bar", "110.0")
	v := w.as(ledger.Visitor)
	path := "/v1/batches/" + itoa(batch.ID) + "/cure"
	c, err := w.l.Cure(t.Context(), batch.ID, time.Time{})
	require.NoError(t, err)
	day := c.CutOn.AddDate(0, 0, 49)
	c, err = w.l.Cure(t.Context(), batch.ID, day)
	require.NoError(t, err)
	var got ledger.Cure
	answer := v.get(path + "?on=" + day.Format(time.DateOnly))
	require.Equal(t, http.StatusOK, answer.status, "%s", answer.body)
	answer.json(t, &got)
	want, err := json.Marshal(c)
	require.NoError(t, err)
	again, err := json.Marshal(got)
	require.NoError(t, err)
	require.JSONEq(t, string(want), string(again))
	requireOn := func(query, says string) {
		r := v.get(path + query)
		require.Equal(t, http.StatusUnprocessableEntity, r.status)
		require.Equal(t, "query.on", r.problem(t).Errors[0].Location)
		require.Contains(t, string(r.body), says)
	}
	requireOn("?on=1999-01-01", "from the cut")
	requireOn("?on=soon", "")
	require.Equal(t, http.StatusConflict, v.get("/v1/batches/"+itoa(w.plan("Plain bar").ID)+"/cure").status)
	require.Equal(t, http.StatusNotFound, v.get("/v1/batches/99999/cure").status)
}
