package sheet

import (
	"bytes"
	"fmt"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ashbook/labels/chart"
)

// inventedCure is a sheet of an invented shop: one lot with a chart, and weighings enough for several pages.
func inventedCure(weighings int) Cure {
	lot := CureLot{Facts: [][2]string{{"Bars of lot", "S26125-12"}, {"Cut on", "5 May 2026"}}, Says: "Ready from 14 August 2026 by both rules.", Notes: []string{"Look again at entry 51."},
		Chart: &chart.Chart{X: "days from the cut", Y: "mass of a bar, g", Points: []chart.Series{{Name: "bar A", Points: []chart.Point{{X: 0, Y: 135}, {X: 7, Y: 128}}}},
			Limits: []chart.Limit{{At: 5, Upright: true, Label: "5 days"}}},
		Weighings: Grid{Title: "Weighings", Heads: []string{"Day", "Typed"}, Shares: []float64{0.4, 0.6}, Right: []int{1}}, After: "Struck weighings stand in the record."}
	for i := range weighings {
		lot.Weighings.Rows = append(lot.Weighings.Rows, GridRow{Cells: []string{fmt.Sprintf("day-%03d", i), "120.5 g"}, Marked: i == 3})
	}
	return Cure{Shop: "Hollow Ash (invented)", Code: "B26124-2Y", Product: "Lavender & Oat", Lots: []CureLot{lot}, Created: time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC),
		Footer: "It informs; it does not certify."}
}

// pdfinfo reads a property of a PDF with poppler.
func pdfinfo(t *testing.T, pdf []byte) string {
	cmd := exec.Command("pdfinfo", "-")
	cmd.Stdin = bytes.NewReader(pdf)
	out, err := cmd.Output()
	require.NoError(t, err, "pdfinfo (poppler-utils) must be installed")
	return string(out)
}

// A foreign reader finds every row once, on as many pages as it takes, each numbered; the paper is A4 (ISO 216: 210 x 297 mm).
func TestACureSheetOfManyPages(t *testing.T) {
	pdf, err := DrawCure(inventedCure(150))
	require.NoError(t, err)
	text := pdftotext(t, pdf)
	for i := range 150 {
		require.Equal(t, 1, strings.Count(text, fmt.Sprintf("day-%03d", i)), "row %d", i)
	}
	require.Contains(t, text, markedSign+"day-003", "a row that is pointed at is marked without colour")
	require.Regexp(t, `Page size: +595\.2\d x 841\.\d+ pts \(A4\)`, pdfinfo(t, pdf))
	require.Regexp(t, `Pages: +5\n`, pdfinfo(t, pdf))
	for page := range 5 {
		require.Contains(t, text, fmt.Sprintf("page %d of 5", page+1))
	}
	require.Equal(t, 5, strings.Count(text, "It informs; it does not certify."))
	for _, want := range []string{"Cure of Lavender & Oat", "B26124-2Y", "Hollow Ash (invented)", "Ready from 14 August 2026 by both rules.", "Look again at entry 51.", "days from the cut", "5 days", "bar A", "Struck weighings"} {
		require.Contains(t, text, want)
	}
}

func TestSameCureSameBytes(t *testing.T) {
	want, err := DrawCure(inventedCure(40))
	require.NoError(t, err)
	var wait sync.WaitGroup
	for range 20 {
		wait.Go(func() {
			got, err := DrawCure(inventedCure(40))
			if err != nil || !bytes.Equal(want, got) {
				t.Error("the same sheet gave other bytes")
			}
		})
	}
	wait.Wait()
}

// Whatever people typed, no ink comes within 10 mm of the sides of the first page, and nothing is left out without a sign.
func TestACureSheetHoldsWhateverWasTyped(t *testing.T) {
	c := inventedCure(5)
	long := strings.Repeat("mmmmmmmmmm", 20)
	c.Product, c.Shop, c.Footer = long, long+" 🧼", strings.Repeat("words and words ", 14)
	c.Lots[0].Facts = append(c.Lots[0].Facts, [2]string{"Portion", long})
	c.Lots[0].Says = strings.Repeat("It is said at length. ", 20)
	c.Lots[0].Weighings.Rows[0].Cells = []string{long, long}
	pdf, err := DrawCure(c)
	require.NoError(t, err)
	text := pdftotext(t, pdf)
	require.Contains(t, text, "?", "a sign that the typefaces lack")
	require.Contains(t, text, "day-004")
	for _, zone := range []box{{0, 0, 10, a4H}, {a4W - 10, 0, a4W, a4H}, {0, 0, a4W, 10}, {0, a4H - 5, a4W, a4H}} {
		first := render(t, pdf, 60, zone)
		first.grey = first.grey[:first.w*first.h] // the pages that follow come after it
		require.Zero(t, count(first, 250), "%+v", zone)
	}
}

func TestACureSheetWantsACodeAndADate(t *testing.T) {
	for _, spoil := range []func(*Cure){func(c *Cure) { c.Code = "" }, func(c *Cure) { c.Created = time.Time{} }} {
		c := inventedCure(1)
		spoil(&c)
		_, err := DrawCure(c)
		require.ErrorContains(t, err, "no batch code, or no date")
	}
}
