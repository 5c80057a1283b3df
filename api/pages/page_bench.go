package pages

import (
	"slices"

	"github.com/shopspring/decimal"

	"ashbook/ledger"
)

// Batches lists batches, all or those of a stage.
type Batches struct {
	Base
	Stage   string
	Stages  []Option
	Batches []Waiting
	Next    int64 // older ones follow before this number
}

// Template names the template.
func (*Batches) Template() string { return "batches" }

// Plan opens a batch: soap from a formula, or something prepared for later.
type Plan struct {
	Base
	Soap *Form // nil when there is no formula yet
	Prep *Form // nil when nothing can be prepared yet
}

// Template names the template.
func (*Plan) Template() string { return "plan" }

// Stage is one station of a batch's life on the track that the page shows.
type Stage struct {
	Name    string
	Past    bool
	Current bool
}

// Mark says in a word where the batch stands with the stage.
func (s Stage) Mark() string {
	switch {
	case s.Current:
		return "now"
	case s.Past:
		return "done"
	}
	return "to come"
}

// Line is a line of the weigh list with its part in what comes next.
type Line struct {
	ledger.BatchLine
	Next  bool
	Least decimal.Decimal // needs no reason from here
	Most  decimal.Decimal // to here
	Left  decimal.Decimal // still to weigh
}

// Now is what comes next on the bench.
type Now struct {
	Title    string // in a word or two
	Line     *Line  // when something is to be weighed
	Figure   string // a figure to be seen before the step is taken
	Of       string // what the figure is of
	Text     string // why, or what to watch
	Cautions []string
}

// Yield is what a batch gave, with the balance of its pour in grams.
type Yield struct {
	ledger.Yielded
	Bars      decimal.Decimal
	Trimmings decimal.Decimal
	Out       decimal.Decimal // all lots together
	Waste     decimal.Decimal
	NotFound  decimal.Decimal // went in and neither came out nor was thrown away; below zero: more came out
}

// Prepared tells that something was made for later, and not bars.
func (y *Yield) Prepared() bool {
	return slices.ContainsFunc(y.Record.Outputs, func(o ledger.Output) bool { return o.What == "prepared" })
}

// NewYield adds up what a batch gave against what went in.
func NewYield(y ledger.Yielded) *Yield {
	sum := &Yield{Yielded: y}
	for _, o := range y.Record.Outputs {
		sum.Out = sum.Out.Add(o.Mass.Grams)
		switch o.What {
		case "bars":
			sum.Bars = sum.Bars.Add(o.Mass.Grams)
		case "remnants":
			sum.Trimmings = sum.Trimmings.Add(o.Mass.Grams)
		}
	}
	if y.Record.Waste != nil {
		sum.Waste = y.Record.Waste.Grams
	}
	sum.NotFound = y.Poured.Sub(sum.Out).Sub(sum.Waste)
	return sum
}

// Act is a form that can be folded away, with the words on the fold.
type Act struct {
	Title    string
	Text     string
	Peak     *ledger.LyePeak // how hot the lye may get, where the act makes it
	Cautions []string
	Form     *Form
}

// Batch is the bench: what is next in very large figures, the weigh list, and the record of what was done.
type Batch struct {
	Base
	Batch      ledger.Batch
	Making     string // name and version of the formula, or the material
	MakingLink string
	Track      []Stage
	Now        Now
	Weigh      *Form
	Step       *Form   // the next step
	Main       *Form   // what else comes next: a reading, a cut, a filling, a release
	Acts       []Act   // what may be done besides
	Lines      []*Line // the weigh list
	Done       int
	Lye        *ledger.LyeState
	Strength   *ledger.LyeStrength // by mass and by density; nil without alkali
	Peak       *ledger.LyePeak     // how hot the lye may get, where it is to be made
	Mend       *ledger.Mend        // how much alkali fits the oils in the pot, until they have met
	Portions   []ledger.BatchPortion
	Findings   []ledger.Finding // what the release gate finds now
	Judge      bool             // the findings are to be shown
	Outputs    []LotRow
	Reopened   *ledger.Release  // a release that no longer holds, while the batch waits for another
	Out        decimal.Decimal  // bars of a batch that is open again, sent and not returned
	OilsOpen   bool             // some planned oil is not weighed yet, so that the lye sum is of a part
	Alkalis    []ledger.Lot     // lots of alkali that were weighed
	Passings   []ledger.Passing // gates passed against their word
	Yield      *Yield           // nil before the cut or the filling
	Made       []*Composition   // of each lot of bars or filling; of the pot before there is one
	Cure       *Cure            // nil before the cut
	Weighings  []ledger.Weighed
	Readings   []ledger.Reading
	Steps      []ledger.BatchStep
	Deviations []ledger.Deviation
	Releases   []ledger.Release
	Labels     []ledger.Label
}

// Template names the template.
func (*Batch) Template() string { return "batch" }

// Correct puts an entry right, or strikes it.
type Correct struct {
	Base
	Entry  int64
	What   string // the entry in words
	Back   string // the page that one came from
	Form   *Form  // nil where an entry can only be struck
	Strike *Form
}

// Template names the template.
func (*Correct) Template() string { return "correct" }

// LyeLine is what fits the oils in the pot when alkali is weighed next; nil otherwise.
func (b *Batch) LyeLine() *ledger.MendLine {
	if b.Mend == nil || b.Now.Line == nil || b.Mend.OilsOpen {
		return nil
	}
	for i, line := range b.Mend.Lines {
		if line.Line == b.Now.Line.Line {
			return &b.Mend.Lines[i]
		}
	}
	return nil
}

// OilsFirst tells that alkali is weighed next while oils still wait: afterwards its figure could follow them.
func (b *Batch) OilsFirst() bool {
	return b.Mend != nil && b.Mend.OilsOpen && b.Now.Line != nil && b.Now.Line.Lye
}

// Predicted is what goes beside the findings of the release gate.
func (*Batch) Predicted(m *ledger.MadeOf) string {
	two := func(d decimal.Decimal) string { return d.Shift(2).StringFixed(2) + " %" }
	return "Predicted from what was weighed: total fatty matter " + two(m.Now.FattyMatter) + ", free alkali " + two(m.Now.FreeAlkali) + " as NaOH, unreacted oil " +
		two(m.Now.FreeOil) + ". The tests decide."
}

// Refused tells that what comes next was tried and stopped: what was found then stands right below the figure, and the
// caution below the form.
func (b *Batch) Refused() bool {
	return b.Weigh != nil && b.Weigh.Faulty() || b.Step != nil && b.Step.Faulty()
}

// Put puts a form back in its place with what was typed and what is wrong. When the batch has moved on meanwhile and
// the place is gone, the form stands among what else may be done.
func (b *Batch) Put(f *Form) {
	for _, place := range []**Form{&b.Weigh, &b.Step, &b.Main} {
		if *place != nil && (*place).ID == f.ID {
			f.Button = (*place).Button
			*place = f
			return
		}
	}
	for i := range b.Acts {
		if b.Acts[i].Form.ID == f.ID {
			b.Acts[i].Form = f
			return
		}
	}
	b.Acts = append([]Act{{Title: "This was not recorded", Form: f}}, b.Acts...)
}
