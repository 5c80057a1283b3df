package api

import (
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

func TestAFormThatIsSentTwiceMakesOneEntry(t *testing.T) {
	w := newWorkshop(t)
	p := w.as(ledger.Maker).hand(t)
	batch := w.plan("Two oils")
	p.open(fmt.Sprintf("/batches/%d", batch.ID))
	action, values := p.form("step")
	first, second := p.fill(action, values), p.fill(action, values)
	require.Equal(t, http.StatusSeeOther, first.status)
	require.Equal(t, http.StatusSeeOther, second.status, "the second sending is answered like the first: %s", second.words())
	require.Equal(t, first.to, second.to)
	steps, err := w.l.Steps(t.Context(), batch.ID)
	require.NoError(t, err)
	require.Len(t, steps, 1)
}

func TestWhatIsWrongIsSaidAtItsFieldAndNothingTypedIsLost(t *testing.T) {
	w := newWorkshop(t)
	p := w.as(ledger.Maker).hand(t)
	p.open("/lots/receive")
	r := p.try("receive", "material", digits(w.materials["Olive oil"]), "supplier", p.pick("Invented Oils"), "supplier_lot", "OL-9", "mass", "1,234", "cost", "cheap")
	require.Equal(t, http.StatusUnprocessableEntity, r.status)
	require.Regexp(t, `(?s)id="receive-cost-fault">.*?type digits`, r.html)
	require.Contains(t, r.html, `value="OL-9"`)
	require.Contains(t, r.html, `value="1,234"`)
	require.Contains(t, r.html, fmt.Sprintf(`<option value="%d" selected>`, w.materials["Olive oil"]))
	// With the cost mended it is the ledger that asks what is meant.
	r = p.try("receive", "material", digits(w.materials["Olive oil"]), "supplier", p.pick("Invented Oils"), "supplier_lot", "OL-9", "mass", "1,234")
	require.Equal(t, http.StatusUnprocessableEntity, r.status)
	require.Regexp(t, `(?s)id="receive-mass-fault">.*?1234 or 1\.234\?`, r.html)
}

func TestOnlyThoseWithTheRightMayGoOnAgainstAGate(t *testing.T) {
	w := newWorkshop(t)
	batch := w.plan("Two oils")
	w.steps(batch.ID, ledger.StepStart)
	at := fmt.Sprintf("/batches/%d", batch.ID)
	for role, may := range map[ledger.Role]bool{ledger.Maker: false, ledger.Reviewer: true} {
		p := w.as(role).hand(t).open(at)
		r := p.try("weigh", "mass", "50", "second_check", ledger.SecondMethod)
		require.Equal(t, http.StatusConflict, r.status)
		require.Contains(t, r.words(), "Stop the weigh gate stops this")
		require.Equal(t, may, regexp.MustCompile(`name="override"`).MatchString(r.html), "%s", role)
	}
	p := w.as(ledger.Maker).hand(t).open(at)
	action, values := p.form("weigh")
	values.Set("mass", "50")
	values.Set("second_check", ledger.SecondMethod)
	values.Set("override", "I say so")
	require.Equal(t, http.StatusForbidden, p.fill(action, values).status, "the ledger refuses what the page did not offer")
}

func TestARoleSeesOnlyTheFormsItMayUse(t *testing.T) {
	w := newWorkshop(t)
	batch, bars := w.bars("Two oils")
	visitor := w.as(ledger.Visitor)
	for _, path := range []string{"/", "/stock", "/materials", "/formulas", "/batches", "/suppliers", "/dispatches", "/journal", "/drills", "/shop", "/people",
		fmt.Sprintf("/batches/%d", batch.ID), fmt.Sprintf("/lots/%d", bars.ID)} {
		r := visitor.see(path)
		require.Equal(t, http.StatusOK, r.status, path)
		require.NotContains(t, r.html, `method="post"`, path)
	}
	require.Equal(t, http.StatusForbidden, visitor.see("/batches/plan").status)
	require.Equal(t, http.StatusForbidden, visitor.fill(fmt.Sprintf("/lots/%d/hold", bars.ID), url.Values{"reason": {"x"}}).status)
}

func TestAStruckWeighingStaysSeenWithItsReason(t *testing.T) {
	w := newWorkshop(t)
	batch := w.plan("Two oils")
	w.steps(batch.ID, ledger.StepStart)
	w.weigh(batch.ID, 2)
	list, err := w.l.Weighings(t.Context(), batch.ID)
	require.NoError(t, err)
	p := w.as(ledger.Maker).hand(t)
	p.open(fmt.Sprintf("/weighings/%d/correct?batch=%d", list[0].Entry, batch.ID)).says("It stays in the journal, struck through")
	p.send("weigh", "mass", "145.5", "reason", "read one row down").says("is put right.", "read one row down", "145.5 g")
	require.Regexp(t, `(?s)<tr class="struck">.*?<span class="strike">145\.1 g</span>`, p.on.html)
	p.open(fmt.Sprintf("/entries/%d/strike?back=/batches/%d", list[1].Entry, batch.ID)).says("Weighed")
	p.send("strike", "reason", "spilled").says("is struck.", "spilled", "Water")
	p.open("/journal").says("Entry struck", "puts right")
	require.Regexp(t, `(?s)<tr class="struck">`, p.on.html)
}

func TestWhatIsRecordedLateIsMarked(t *testing.T) {
	w := newWorkshop(t)
	batch := w.plan("Two oils")
	w.steps(batch.ID, ledger.StepStart)
	w.clock.Add(48 * time.Hour)
	p := w.as(ledger.Maker).hand(t).open(fmt.Sprintf("/batches/%d", batch.ID))
	// The clock of the test started on 4 May 2026 at 9:00 UTC; in Vienna that is 11:00.
	p.send("weigh", "mass", "145.1", "second_check", ledger.SecondMethod, "happened_at", "2026-05-04T11:30").says("4 May 2026, 11:30 recorded late")
	list, err := w.l.Weighings(t.Context(), batch.ID)
	require.NoError(t, err)
	require.Equal(t, time.Date(2026, 5, 4, 9, 30, 0, 0, time.UTC), list[0].HappenedAt.UTC())
	p.open("/journal").says("6 May 2026, 11:00 late")
}

func TestSigningInAndOut(t *testing.T) {
	w := newWorkshop(t)
	require.NoError(t, SetPassword(t.Context(), w.l, w.people[ledger.Maker].ID, anyPassword, true))
	p := w.nobody().hand(t)
	away := p.see("/stock?what=bars")
	require.Equal(t, http.StatusSeeOther, away.status)
	p.open(away.to)
	wrong := p.try("sign-in", "login", "maker", "password", "not this one, no")
	require.Equal(t, http.StatusUnauthorized, wrong.status)
	require.Contains(t, wrong.words(), "the login or the password is wrong")
	require.Contains(t, wrong.html, `value="maker"`)
	in := p.try("sign-in", "login", "maker", "password", anyPassword)
	require.Equal(t, "/stock?what=bars", in.to, "back to where one wanted to go")
	require.Equal(t, passwordPath, p.see(in.to).to, "the one-time password goes first")
	p.open(passwordPath).says("works once")
	short := p.try("password", "old", anyPassword, "password", "short", "repeated", "short")
	require.Equal(t, http.StatusUnprocessableEntity, short.status)
	require.Contains(t, short.words(), "take at least 12")
	p.send("password", "old", anyPassword, "password", "five other invented words", "repeated", "five other invented words").says("What waits")
	p.open("/more")
	out := p.try("sign-out")
	require.Equal(t, signInPath, out.to)
	require.Equal(t, http.StatusSeeOther, p.see("/").status)
}

func TestANewPersonGetsAOneTimePassword(t *testing.T) {
	w := newWorkshop(t)
	p := w.as(ledger.Owner).hand(t).open("/people")
	r := p.try("person", "login", "nina", "name", "Nina, invented", "role", "seller")
	require.Equal(t, http.StatusOK, r.status)
	m := regexp.MustCompile(`<p class="figure">([a-z0-9-]{23})</p>`).FindStringSubmatch(r.html)
	require.NotNil(t, m, r.words())
	require.NotContains(t, p.open("/people").on.html, m[1], "it is shown once")
	n := w.nobody().hand(t).open(signInPath)
	require.Equal(t, http.StatusSeeOther, n.try("sign-in", "login", "nina", "password", m[1]).status)
	taken := p.try("person", "login", "nina", "name", "Another", "role", "seller")
	require.Equal(t, http.StatusConflict, taken.status)
	require.Contains(t, taken.html, `value="Another"`)
}

func TestProblemsAreAnsweredAsPages(t *testing.T) {
	w := newWorkshop(t)
	p := w.as(ledger.Visitor)
	for path, status := range map[string]int{"/nowhere": 404, "/lots/999999": 404, "/lots/x": 404, "/batches/plan": 403, "/ask?q=B26999-11": 404, "/documents/1": 404} {
		r := p.see(path)
		require.Equal(t, status, r.status, path)
		require.Contains(t, r.html, "</html>", path)
		require.Contains(t, r.html, "<h1>", path)
	}
	require.Contains(t, p.see("/ask?q=nobody+knows").words(), "nothing is known of")
	css := p.see("/static/ashbook.css")
	require.Equal(t, http.StatusOK, css.status)
	require.Contains(t, css.html, "--paper")
}
