package pages

import (
	"fmt"
	"html/template"
	"slices"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"ashbook/labels/chart"
	"ashbook/ledger"
)

// Cure is how the bars of a batch cure, as a card of its page.
type Cure struct {
	Batch    int64
	On       string // the day that was asked about, as typed
	From, To string // days that can be asked about
	Fault    string // what is wrong with that day
	Several  bool   // the batch gave more than one lot of bars
	Lots     []CureLot
}

// CureLot is how the bars of one lot cure.
type CureLot struct {
	ledger.LotCure
	Drawing template.HTML
	Days    []string // heads of the columns of Rows: for which day
	Rows    []CureRow
	Beyond  bool   // a day lies more than a week past the last weighing
	Hint    string // of the label: what no bar is expected to be lighter than
}

// CureRow is what one bar is expected to weigh on each of the days.
type CureRow struct {
	Bar   string // its mark; empty: the mean of the marked bars
	Cells []CureCell
}

// CureCell is an expected mass, with the head of its column for narrow pages.
type CureCell struct{ Head, Mass string }

// NewCure lays out the cure of a batch. draw makes the chart of a lot.
func NewCure(c *ledger.Cure, draw func(ledger.LotCure) chart.Chart) *Cure {
	p := &Cure{Batch: c.Batch, From: c.CutOn.Format(time.DateOnly), To: c.CutOn.AddDate(2, 0, 0).Format(time.DateOnly), Several: len(c.Lots) > 1}
	if c.AskedOn != nil {
		p.On = c.AskedOn.Format(time.DateOnly)
	}
	for _, lot := range c.Lots {
		p.Lots = append(p.Lots, newCureLot(lot, draw))
	}
	return p
}

func newCureLot(lot ledger.LotCure, draw func(ledger.LotCure) chart.Chart) CureLot {
	p := CureLot{LotCure: lot}
	if len(lot.Weighings) > 0 {
		id := fmt.Sprintf("cure-%d", lot.Lot)
		p.Drawing = Drawing(id, "Drying of the bars of "+lot.Code, described(lot), draw(lot))
	}
	if len(lot.Expected) == 0 {
		return p
	}
	for i, bar := range lot.Expected[0].Bars {
		row := CureRow{Bar: bar.Bar}
		for _, e := range lot.Expected {
			row.Cells = append(row.Cells, CureCell{head(e), e.Bars[i].Grams()})
		}
		p.Rows = append(p.Rows, row)
	}
	mean := CureRow{}
	for _, e := range lot.Expected {
		p.Days, p.Beyond = append(p.Days, head(e)), p.Beyond || e.Beyond
		mean.Cells = append(mean.Cells, CureCell{head(e), e.Mean.Grams()})
	}
	if len(p.Rows) > 1 {
		p.Rows = append(p.Rows, mean)
	}
	i := slices.IndexFunc(lot.Expected, func(e ledger.ExpectedMass) bool { return e.Why == "asked" })
	if i < 0 {
		i = slices.IndexFunc(lot.Expected, func(e ledger.ExpectedMass) bool { return e.Why == "today" })
	}
	if i < 0 {
		return p
	}
	p.Hint = fmt.Sprintf("By the curve no marked bar of %s is expected under %s g on %s (lower end of the 95 %% interval).",
		lot.Code, lot.Expected[i].Lightest(), day(lot.Expected[i].On))
	return p
}

func head(e ledger.ExpectedMass) string {
	switch e.Why {
	case "today":
		return day(e.On) + ", today"
	case "ready":
		return day(e.On) + ", when ready"
	}
	return day(e.On)
}

// described says in words what the chart shows.
func described(lot ledger.LotCure) string {
	first, last := lot.Weighings[0], lot.Weighings[len(lot.Weighings)-1]
	marks := map[string]bool{}
	for _, w := range lot.Weighings {
		marks[w.Bar] = true
	}
	var b strings.Builder
	fmt.Fprintf(&b, "Weighings: %d; marked bars: %d; from day %s to day %s after the cut.", len(lot.Weighings), len(marks), first.Days.Round(0), last.Days.Round(0))
	if c := lot.Curve; c != nil {
		percent := func(d decimal.Decimal) string { return d.Shift(2).StringFixed(1) }
		fmt.Fprintf(&b, " By the curve %s %% of the mass at the cut stays in the end (95 %% interval %s to %s), and 63 %% of the loss is over after %s days.",
			percent(c.Stays.Value), percent(c.Stays.Low), percent(c.Stays.High), c.TauDays.Value.StringFixed(1))
	}
	if odd := len(lot.OddOnes()); odd > 0 {
		fmt.Fprintf(&b, " Ringed since they do not go with the others: %d.", odd)
	}
	return b.String()
}

// LabelHint tells with the form of a label what bars are expected to weigh; empty without a curve. What the label declares stays the lightest bar of
// the last weighing.
func (c *Cure) LabelHint() string {
	if c == nil {
		return ""
	}
	var text []string
	for _, lot := range c.Lots {
		if lot.Hint != "" {
			text = append(text, lot.Hint)
		}
	}
	if len(text) > 0 {
		text = append(text, "A label declares the lightest bar of the last weighing; ask under Cure about the day of sale.")
	}
	return strings.Join(text, " ")
}

// Marks says which bars were weighed before, so that the same ones are weighed again.
func (c *Cure) Marks() string {
	hint := "Its mark, so that the same one is weighed again."
	if c == nil {
		return hint
	}
	for _, lot := range c.Lots {
		var marks []string
		for _, w := range lot.Weighings {
			if !slices.Contains(marks, w.Bar) {
				marks = append(marks, w.Bar)
			}
		}
		if len(marks) == 0 {
			continue
		}
		slices.Sort(marks)
		of := ""
		if c.Several {
			of = " of " + lot.Code
		}
		hint += fmt.Sprintf(" Weighed so far%s: %s.", of, strings.Join(marks, ", "))
	}
	return hint
}
