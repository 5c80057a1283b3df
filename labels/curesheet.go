package labels

import (
	"context"
	"fmt"
	"time"

	"github.com/shopspring/decimal"

	"ashbook/labels/chart"
	"ashbook/labels/sheet"
	"ashbook/ledger"
	"ashbook/ledger/cure"
)

// ChartOf is the picture of how the bars of a lot cure.
func ChartOf(lot ledger.LotCure) chart.Chart {
	cutOn, curve, odd, rules := lot.Fitted()
	var ws []cure.Weighing
	for _, w := range lot.Weighings {
		ws = append(ws, cure.Weighing{Day: w.HappenedAt, Grams: w.Grams, Bar: w.Bar})
	}
	return CureChart(cutOn, ws, curve, odd, rules)
}

// CureSheet draws how the bars of a batch cure, as a PDF for the file or the wall. It is worked out from the weighings that stand and is not recorded; on
// one day the same record gives the same bytes. It fails for a batch that was not cut.
func CureSheet(ctx context.Context, l *ledger.Ledger, batch int64) ([]byte, error) {
	c, err := l.Cure(ctx, batch, time.Time{})
	if err != nil {
		return nil, err
	}
	b, err := l.Batch(ctx, batch)
	if err != nil {
		return nil, err
	}
	shop, err := l.Shop(ctx)
	if err != nil {
		return nil, err
	}
	out := sheet.Cure{Shop: shop.Name, Code: c.Code, Product: b.Name, Created: c.Today,
		Footer: "Worked out from the weighings that stood on " + c.Today.Format(words) + ". It informs; it does not certify. The alkali test is a separate matter; local law and the maker's own checks decide."}
	for _, lot := range c.Lots {
		out.Lots = append(out.Lots, sheetOf(c, lot, shop.Zone()))
	}
	return sheet.DrawCure(out)
}

const words = "2 January 2006"

func sheetOf(c *ledger.Cure, lot ledger.LotCure, zone *time.Location) sheet.CureLot {
	asked := fmt.Sprintf("%d days; loss not asked for", c.CureDays)
	if c.LossPerWeek.IsPositive() {
		asked = fmt.Sprintf("%d days; no more than %s %% a week, by the 95 %% bound", c.CureDays, c.LossPerWeek)
	}
	out := sheet.CureLot{Says: lot.Says, Facts: [][2]string{{"Bars of lot", lot.Code}, {"Cut on", c.CutOn.Format(words)}, {"The shop's rules", asked}, {"Drawn on", c.Today.Format(words)}}}
	if lot.Portion != "" {
		out.Facts[0][1] += ", " + lot.Portion
	}
	if lot.Refusal != "" {
		out.Notes = append(out.Notes, "There is no curve. "+lot.Refusal)
	}
	if len(lot.Weighings) > 0 {
		picture := ChartOf(lot)
		out.Chart = &picture
	}
	if curve := lot.Curve; curve != nil {
		out.Notes = append(out.Notes, figures(curve))
	}
	for _, w := range lot.OddOnes() {
		out.Notes = append(out.Notes, fmt.Sprintf("Look again at entry %d: %s It counts until it is put right.", w.Entry, w.Odd))
	}
	out.Expected, out.Weighings = expected(lot), weighings(lot, zone)
	if len(lot.Weighings) > 0 {
		out.After = "Weighings that were struck are left out here and stand in the record of the batch. Off: weighed less expected by the curve."
	}
	return out
}

// figures are those of the curve, in words.
func figures(c *ledger.DryingCurve) string {
	percent := func(d decimal.Decimal) string { return d.Shift(2).StringFixed(1) }
	text := fmt.Sprintf("By the curve %s %% of the mass at the cut stays in the end (95 %% interval %s to %s), and 63 %% of the loss is over after %s days (%s to %s). One weighing scatters about it by %s %% of the mass.",
		percent(c.Stays.Value), percent(c.Stays.Low), percent(c.Stays.High), c.TauDays.Value.StringFixed(1), c.TauDays.Low.StringFixed(1), c.TauDays.High.StringFixed(1), c.Scatter.Shift(2).StringFixed(2))
	if c.BetaHeld {
		text += " Its shape was taken from experience, since weighings are few; that doubt is part of every interval."
	}
	return text
}

// expected is the table of what bars are expected to weigh.
func expected(lot ledger.LotCure) sheet.Grid {
	g := sheet.Grid{Title: "Expected mass, with the 95 % interval of one further weighing", Heads: []string{"Bar"}, Shares: []float64{0.2}}
	if len(lot.Expected) == 0 {
		return g
	}
	for _, e := range lot.Expected {
		head := e.On.Format(words) + ", today"
		if e.Why == "ready" {
			head = e.On.Format(words) + ", when ready"
		}
		g.Heads, g.Shares = append(g.Heads, head), append(g.Shares, 0.4)
	}
	add := func(name string, of func(ledger.ExpectedMass) ledger.Interval) {
		row := sheet.GridRow{Cells: []string{name}}
		for _, e := range lot.Expected {
			row.Cells = append(row.Cells, of(e).Grams())
		}
		g.Rows = append(g.Rows, row)
	}
	for i, bar := range lot.Expected[0].Bars {
		add(bar.Bar, func(e ledger.ExpectedMass) ledger.Interval { return e.Bars[i].Interval })
	}
	if len(g.Rows) > 1 {
		add("mean", func(e ledger.ExpectedMass) ledger.Interval { return e.Mean })
	}
	return g
}

func weighings(lot ledger.LotCure, zone *time.Location) sheet.Grid {
	g := sheet.Grid{Title: "Weighings", Heads: []string{"Day", "Weighed on", "Bar", "As typed", "Off", "Scale", "By", "Entry"},
		Shares: []float64{0.07, 0.2, 0.1, 0.12, 0.12, 0.13, 0.18, 0.08}, Right: []int{3, 4, 7}}
	for _, w := range lot.Weighings {
		off := "–"
		if w.Expected != nil {
			off = signed(w.Grams.Sub(*w.Expected))
		}
		g.Rows = append(g.Rows, sheet.GridRow{Marked: w.Odd != "", Cells: []string{w.Days.StringFixed(0), w.HappenedAt.In(zone).Format("2 Jan 2006, 15:04"), w.Bar,
			w.Typed + " " + w.TypedUnit, off, or(w.Instrument, "–"), w.Person, fmt.Sprint(w.Entry)}})
	}
	return g
}

func signed(d decimal.Decimal) string {
	d = d.Round(2)
	if d.IsNegative() {
		return "−" + d.Neg().StringFixed(2) + " g"
	}
	return "+" + d.StringFixed(2) + " g"
}

func or(s, other string) string {
	if s == "" {
		return other
	}
	return s
}
