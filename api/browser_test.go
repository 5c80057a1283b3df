package api

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// browser is a Chromium with one tab.
type browser struct {
	t   *testing.T
	ctx context.Context
}

// newBrowser starts a Chromium of its own. A machine without one fails the test: what it proves is proved nowhere else.
func newBrowser(t *testing.T) browser {
	t.Helper()
	program, err := exec.LookPath("chromium")
	if err != nil {
		program, err = exec.LookPath("google-chrome")
	}
	require.NoError(t, err, "the pages are tested in a browser; install chromium (on Debian: apt-get install chromium)")
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(program), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-sync", true), chromedp.UserDataDir(t.TempDir()))
	ctx, stop := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, end := chromedp.NewContext(ctx)
	t.Cleanup(func() {
		_ = chromedp.Cancel(ctx) // waits until the program has gone, so that its folder can be removed
		end()
		stop()
	})
	require.NoError(t, chromedp.Do(ctx), "chromium did not start")
	return browser{t, ctx}
}

// patience is how long a step in the browser may take on a busy machine.
const patience = 30 * time.Second

// do takes steps and fails the test, with what the page says, when one cannot be taken.
func (b browser) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, end := context.WithTimeout(b.ctx, patience)
	defer end()
	if err := chromedp.Do(ctx, steps...); err != nil {
		require.NoError(b.t, err, "the page says:\n%s", read(b, chromedp.Text("body")))
	}
}

// read gives what a step finds on the page.
func read[T any](b browser, a chromedp.Action[T]) T {
	b.t.Helper()
	ctx, end := context.WithTimeout(b.ctx, patience)
	defer end()
	v, err := chromedp.Run(ctx, a)
	require.NoError(b.t, err)
	return v
}

func (b browser) text(selector string) string { b.t.Helper(); return read(b, chromedp.Text(selector)) }

func (b browser) signIn(w *workshop, role ledger.Role) {
	b.t.Helper()
	require.NoError(b.t, SetPassword(b.t.Context(), w.l, w.people[role].ID, anyPassword, false))
	b.do(chromedp.Navigate(w.url+"/"), chromedp.SendKeys("#sign-in-login", string(role)), chromedp.SendKeys("#sign-in-password", anyPassword),
		chromedp.Click("#sign-in button[type=submit]"), chromedp.WaitVisible(".page-home"))
}

func TestABatchIsWeighedInABrowser(t *testing.T) {
	w, b := newWorkshop(t), newBrowser(t)
	batch := w.plan("Two oils")
	b.signIn(w, ledger.Owner)
	b.do(chromedp.Navigate(fmt.Sprintf("%s/batches/%d", w.url, batch.ID)), chromedp.Click("#step button[type=submit]"), chromedp.WaitVisible("#weigh"))
	require.Contains(t, b.text(".now"), "Lye burns", "the caution stands before the lye is weighed")
	require.Contains(t, b.text(".now"), "safety data sheet")
	lines, err := w.l.BatchLines(t.Context(), batch.ID)
	require.NoError(t, err)
	require.Equal(t, lines[0].Planned.String(), b.text(".now-figure"))

	b.do(chromedp.SendKeys("#weigh-mass", lines[0].Planned.String()))
	require.Equal(t, "Within what needs no reason", b.text(".scale-word"))
	b.do(chromedp.Click(`#weigh input[value="second method"]`), chromedp.Click("#weigh .actions button"), chromedp.WaitVisible(".wl-done"))
	require.Contains(t, b.text(".flash"), "Weighed: Lye")
	weighings, err := w.l.Weighings(t.Context(), batch.ID)
	require.NoError(t, err)
	require.Len(t, weighings, 1)
	require.Equal(t, ledger.SecondMethod, weighings[0].SecondCheck)
}

// A slip of ten: the gate stops it, in words, with what was typed kept, and a person with the right goes on.
func TestAGateStopsAWrongWeighingInABrowser(t *testing.T) {
	w, b := newWorkshop(t), newBrowser(t)
	batch := w.plan("Two oils")
	w.steps(batch.ID, ledger.StepStart)
	w.weigh(batch.ID, 1)
	b.signIn(w, ledger.Owner)
	b.do(chromedp.Navigate(fmt.Sprintf("%s/batches/%d", w.url, batch.ID)), chromedp.SendKeys("#weigh-mass", "27"))
	require.Contains(t, b.text(".scale-word"), "g under")
	b.do(chromedp.Click("#weigh .actions button"), chromedp.WaitVisible("#weigh .finding-stop"))
	said := b.text("#weigh")
	require.Contains(t, said, "the weigh gate stops this")
	require.Contains(t, said, "Water: 27 g in the pot")
	require.Contains(t, said, "Go on against the gate")
	require.Equal(t, "27", read(b, chromedp.Value("#weigh-mass")))
	require.Len(t, b.weighings(w, batch.ID), 1, "nothing was recorded")
	b.do(chromedp.SendKeys("#weigh-override", "the rest follows as ice"), chromedp.Click("#weigh .actions button"), chromedp.WaitVisible(".flash"))
	require.Len(t, b.weighings(w, batch.ID), 2)
}

func (b browser) weighings(w *workshop, batch int64) []ledger.Weighed {
	b.t.Helper()
	list, err := w.l.Weighings(b.t.Context(), batch)
	require.NoError(b.t, err)
	return list
}

func TestALabelIsDrawnAndALotAskedAboutInABrowser(t *testing.T) {
	w, b := newWorkshop(t), newBrowser(t)
	batch, bars := w.released("Two oils")
	b.signIn(w, ledger.Owner)
	b.do(chromedp.Navigate(fmt.Sprintf("%s/lots/%d", w.url, bars.ID)), chromedp.SetValue("#label-copies", "12"),
		chromedp.Click("#label .actions button"), chromedp.WaitVisible(".flash"))
	require.Contains(t, b.text(".flash"), "A label is drawn, 12 copies")
	href := read(b, chromedp.AttributeValue(`#labels a[href$=".pdf"]`, "href")).Value
	encoded := read(b, chromedp.Evaluate[string](fmt.Sprintf(`fetch(%q).then(r => r.arrayBuffer())
		.then(b => btoa(Array.from(new Uint8Array(b), c => String.fromCharCode(c)).join("")))`, href), chromedp.EvalAwaitPromise))
	pdf, err := base64.StdEncoding.DecodeString(encoded)
	require.NoError(t, err)
	require.Equal(t, "%PDF", string(pdf[:4]))
	labels, err := w.l.Labels(t.Context(), batch.ID)
	require.NoError(t, err)
	require.Len(t, labels, 1)
	digest := sha256.Sum256(pdf)
	require.Equal(t, []byte(labels[0].Digest), digest[:], "what is handed out is what was recorded")

	b.do(chromedp.SendKeys("#askbox", "OL-2"), chromedp.Click(".askbox button"), chromedp.WaitVisible(".page-ask h1 .code"))
	answer := b.text("main")
	require.Contains(t, answer, w.lots["OL-2"].Code)
	require.Contains(t, answer, bars.Code, "what it went into")
	require.Contains(t, answer, batch.Code)
}

// The pages fit a telephone, a tablet and a desk. Pictures are taken when ASHBOOK_SCREENSHOTS names a folder for them.
func TestPagesFitEveryWidth(t *testing.T) {
	w := newWorkshop(t)
	rooms := w.scene()
	b := newBrowser(t)
	b.fits("sign-in", w.url+"/sign-in", "light")
	b.fits("sign-in-dark", w.url+"/sign-in", "dark")
	b.signIn(w, ledger.Owner)
	for name, path := range rooms {
		b.fits(name, w.url+path, "light")
	}
	b.fits("bench-dark", w.url+rooms["bench"], "dark")
	b.fits("cure-dark", w.url+rooms["cure"], "dark")
	b.fits("home-dark", w.url+"/", "dark")
}

// fits sees that nothing of a page hangs over the side and that everything that is pressed can be hit with a glove on.
func (b browser) fits(name, address, scheme string) {
	b.t.Helper()
	colours := func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
		return chromedp.Void{}, err
	}
	b.do(colours, chromedp.Navigate(address), chromedp.WaitVisible("main"))
	for _, width := range []int64{390, 820, 1200, 1440} {
		b.do(chromedp.EmulateViewport(width, 900))
		if dir := os.Getenv("ASHBOOK_SCREENSHOTS"); dir != "" {
			require.NoError(b.t, os.MkdirAll(dir, 0o755))
			require.NoError(b.t, os.WriteFile(filepath.Join(dir, fmt.Sprintf("%s-%d.png", name, width)), read(b, chromedp.FullScreenshot(100)), 0o644))
		}
		for range 2 { // as it comes, and with every fold open
			require.Empty(b.t, read(b, chromedp.Evaluate[[]string](overTheSide)), "%s at %d px", address, width)
			require.LessOrEqual(b.t, read(b, chromedp.Evaluate[int64](`document.documentElement.scrollWidth`)), width, "%s scrolls sideways at %d px, because of %v", address, width,
				read(b, chromedp.Evaluate[[]string](beyond)))
			require.Empty(b.t, read(b, chromedp.Evaluate[[]string](tooSmall)), "%s at %d px has targets that are hard to hit", address, width)
			read(b, chromedp.Evaluate[int](`[...document.querySelectorAll("details")].map(d => d.open = true).length`))
		}
		read(b, chromedp.Evaluate[int](`[...document.querySelectorAll("details")].map(d => d.open = false).length`))
	}
}

// On paper only what was recorded is left: no menu, no form, no button.
func TestAnAnswerPrintsWithoutMenuAndForms(t *testing.T) {
	w := newWorkshop(t)
	rooms := w.scene()
	b := newBrowser(t)
	b.signIn(w, ledger.Owner)
	for _, room := range []string{"ask", "bench", "released", "cure"} {
		b.do(chromedp.Navigate(w.url+rooms[room]), chromedp.WaitVisible("main"))
		sheet := read(b, chromedp.PrintToPDF())
		require.Equal(t, "%PDF", string(sheet[:4]))
		onPaper := func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
			_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
			return chromedp.Void{}, err
		}
		b.do(onPaper)
		require.Empty(t, read(b, chromedp.Evaluate[[]string](`[...document.querySelectorAll("nav, form, button, .button")].filter(e => e.offsetParent).map(e => e.outerHTML.slice(0, 120))`)), room)
		if dir := os.Getenv("ASHBOOK_SCREENSHOTS"); dir != "" {
			require.NoError(t, os.WriteFile(filepath.Join(dir, room+"-print.png"), read(b, chromedp.FullScreenshot(100)), 0o644))
		}
		onScreen := func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
			_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{})
			return chromedp.Void{}, err
		}
		b.do(onScreen)
	}
}

// overTheSide lists what is wider than the page or than the card that it stands in.
const overTheSide = `[...document.querySelectorAll("main *")].filter(e => {
	if (!e.checkVisibility() || e.closest(".unseen, .scale-track, .track")) return false;
	if (e.closest("thead")?.getBoundingClientRect().width <= 1) return false; // for readers of the screen only
	const box = e.getBoundingClientRect(), card = (e.closest(".card, .now") || document.documentElement).getBoundingClientRect();
	return box.width > 1 && (box.right > card.right + 1 || box.left < card.left - 1);
}).map(e => e.outerHTML.slice(0, 120))`

// beyond lists whatever reaches past the window, what only readers of the screen see included.
const beyond = `[...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > innerWidth + 1).map(e => e.outerHTML.slice(0, 120)).slice(0, 9)`

// tooSmall lists what can be pressed and is lower than 48 px, links within a line of text apart.
const tooSmall = `[...document.querySelectorAll("button, select, textarea, summary, .button, .menu a, .tabs a, .choice, .wl-go, a.listrow, input:not([type=hidden]):not([type=radio]):not([type=checkbox])")]
	.filter(e => e.checkVisibility() && e.getBoundingClientRect().height < 47.5).map(e => e.outerHTML.slice(0, 120))`
