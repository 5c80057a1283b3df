package api

import (
	"context"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"ashbook/api/pages"
	"ashbook/ledger"
	"ashbook/ledger/measure"
)

// afterCombining are the kinds of material that go in when oils and lye are together.
var afterCombining = []string{"scent", "colour", "additive", "prepared"}

// whatNext decides what the bench shows as the next thing, and what may be done besides. It only proposes: the ledger
// decides what may be recorded.
func (s *Server) whatNext(ctx context.Context, p *pages.Batch, line int) error {
	if err := s.nextThing(ctx, p, line); err != nil {
		return err
	}
	return s.besides(ctx, p)
}

func (s *Server) nextThing(ctx context.Context, p *pages.Batch, line int) error {
	if chosen := find(p.Lines, line); chosen != nil && p.May("make") {
		return s.nextWeighing(ctx, p, chosen)
	}
	if p.Batch.Purpose != ledger.ForSoap {
		return s.nextPrepared(ctx, p)
	}
	switch p.Batch.Stage {
	case ledger.Planned:
		p.Now = pages.Now{Title: "Start", Text: "Clear the bench, check the scale with a known weight, lay out the lots."}
		nextStep(p, ledger.StepStart, "Start weighing")
	case ledger.Weighing:
		return s.nextBeforeLye(ctx, p)
	case ledger.LyeMade:
		return s.nextCombine(ctx, p)
	case ledger.Combined:
		return s.nextBeforePour(ctx, p)
	case ledger.Poured:
		return s.nextInMould(ctx, p)
	case ledger.Unmoulded:
		p.Now = pages.Now{Title: "Cut, count, weigh", Cautions: []string{"fresh"}}
		p.Main = mine(p, "make", cutForm(p.Batch, p.Portions))
	case ledger.Curing:
		return s.nextCuring(ctx, p)
	case ledger.Released:
		p.Now = pages.Now{Title: "Released", Text: strings.TrimSpace("The bars are free for sale: draw labels, send them out. " + p.Cure.LabelHint())}
		p.Main = mine(p, "sell", labelForm(actionOf(p.Batch, "label"), bars(p)))
	default:
		p.Now = pages.Now{Title: p.Batch.Stage}
	}
	return nil
}

// find is the line of a number; nil when there is none.
func find(lines []*pages.Line, line int) *pages.Line {
	for _, l := range lines {
		if l.Line == line {
			return l
		}
	}
	return nil
}

// firstMissing is the first line that waits and that fits.
func firstMissing(lines []*pages.Line, fits func(*pages.Line) bool) *pages.Line {
	for _, l := range lines {
		if l.Missing() && fits(l) {
			return l
		}
	}
	return nil
}

// mine gives a form to those who may use it.
func mine(p *pages.Batch, right string, f *pages.Form) *pages.Form {
	if p.May(right) {
		return f
	}
	return nil
}

func nextStep(p *pages.Batch, step, button string) {
	p.Step = mine(p, "make", stepForm(p.Batch, step, button))
}

func (s *Server) nextWeighing(ctx context.Context, p *pages.Batch, l *pages.Line) error {
	l.Next = true
	p.Now = pages.Now{Line: l}
	if fit := p.LyeLine(); fit != nil { // the large figure is the one that is right for the pot
		l.Left, l.Least, l.Most = fit.Left, decimal.Max(decimal.Zero, fit.Left.Sub(l.Tolerance)), fit.Left.Add(l.Tolerance)
	}
	switch {
	case l.Lye:
		p.Now.Cautions = []string{"lye"}
	case l.Kind == "spirit":
		p.Now.Cautions = []string{"spirit"}
	}
	form, err := s.weighForm(ctx, p.Batch, &l.BatchLine, p.Portions)
	p.Weigh = mine(p, "make", form)
	return err
}

func (s *Server) nextBeforeLye(ctx context.Context, p *pages.Batch) (err error) {
	if l := firstMissing(p.Lines, func(l *pages.Line) bool {
		return l.Kind != "spirit" && (!slices.Contains(afterCombining, l.Kind) || l.Lye)
	}); l != nil {
		return s.nextWeighing(ctx, p, l)
	}
	if slices.ContainsFunc(p.Lines, func(l *pages.Line) bool { return l.Kind == "alkali" }) {
		p.Now = pages.Now{Title: "Make the lye", Text: "Oils, water and alkali are weighed.", Cautions: []string{"lye"}}
		showSuperfat(p)
		nextStep(p, ledger.StepLyeMade, "The lye is made")
		p.Peak, err = s.ledger.LyePeak(ctx, p.Batch.ID)
		return err
	}
	return s.nextCombine(ctx, p)
}

func (s *Server) nextCombine(_ context.Context, p *pages.Batch) error {
	p.Now = pages.Now{Title: "Combine oils and lye", Cautions: []string{"combine"}}
	if p.Batch.TempMinC != nil {
		p.Now.Text = "Both at " + measure.Window(*p.Batch.TempMinC, *p.Batch.TempMaxC, p.Batch.TempUnit) + "."
		for _, kind := range []string{ledger.OilTemperature, ledger.LyeTemperature} {
			if !wasRead(p.Readings, kind) {
				p.Main = mine(p, "make", readingForm(p.Batch, kind))
				break
			}
		}
	}
	showSuperfat(p)
	nextStep(p, ledger.StepCombine, "Oils and lye are together")
	return nil
}

// showSuperfat puts the superfat as weighed where it is seen before lye and oils meet.
func showSuperfat(p *pages.Batch) {
	if p.Lye != nil && p.Lye.Known {
		p.Now.Figure, p.Now.Of = ledger.Percent(p.Lye.Superfat)+" %", "superfat as weighed"
	}
}

func wasRead(readings []ledger.Reading, kind string) bool {
	return slices.ContainsFunc(readings, func(r ledger.Reading) bool { return r.Type == kind && r.StruckBy == nil })
}

func (s *Server) nextBeforePour(ctx context.Context, p *pages.Batch) error {
	if l := firstMissing(p.Lines, func(l *pages.Line) bool { return l.Kind != "spirit" && l.Portion == "" }); l != nil {
		return s.nextWeighing(ctx, p, l)
	}
	if len(p.Portions) > 0 && p.Portions[0].Grams == nil {
		p.Now = pages.Now{Title: "Divide the pot", Text: "Weigh each portion. Until then the shares of the plan hold."}
		p.Main = mine(p, "make", splitForm(p.Batch, p.Portions))
	}
	if l := firstMissing(p.Lines, func(l *pages.Line) bool { return l.Kind != "spirit" }); l != nil && p.Main == nil {
		return s.nextWeighing(ctx, p, l)
	}
	if p.Main == nil {
		p.Now = pages.Now{Title: "Pour", Text: "Everything is in. Scrape the pot; what stays in it counts as waste at cutting."}
		nextStep(p, ledger.StepPour, "It is in the mould")
	}
	return nil
}

func (s *Server) nextInMould(ctx context.Context, p *pages.Batch) error {
	if l := firstMissing(p.Lines, func(l *pages.Line) bool { return l.Kind == "spirit" }); l != nil {
		if err := s.nextWeighing(ctx, p, l); err != nil {
			return err
		}
	} else {
		p.Now = pages.Now{Title: "In the mould", Cautions: []string{"fresh"}}
		if due := dueAt(p.Batch); due.After(p.Base.Now) {
			p.Now.Text = "Unmould from " + p.When(due) + "."
		} else {
			p.Now.Text = "It has been long enough in the mould."
		}
	}
	nextStep(p, ledger.StepUnmould, "It is out of the mould")
	return nil
}

func (s *Server) nextCuring(ctx context.Context, p *pages.Batch) (err error) {
	p.Judge = true
	if p.Findings, err = s.ledger.ReleaseFindings(ctx, p.Batch.ID); err != nil {
		return err
	}
	p.Now = pages.Now{Title: "Cure and test"}
	if slices.ContainsFunc(p.Findings, func(f ledger.Finding) bool { return f.Level == ledger.Stop }) {
		p.Main = mine(p, "make", barForm(p.Batch, bars(p), p.Cure.Marks()))
		return nil
	}
	p.Now = pages.Now{Title: "Decide", Text: "Look at the bars, smell them, read the record. Then say whether they may be sold."}
	p.Main = mine(p, "release", releaseForm(p.Batch))
	return nil
}

func (s *Server) nextPrepared(ctx context.Context, p *pages.Batch) (err error) {
	if p.Batch.Stage == ledger.Made {
		p.Now = pages.Now{Title: "Made", Text: "It is a lot of its own now and can be weighed into batches."}
		return nil
	}
	if l := firstMissing(p.Lines, func(*pages.Line) bool { return true }); l != nil {
		return s.nextWeighing(ctx, p, l)
	}
	p.Now = pages.Now{Title: "Fill and weigh"}
	p.Main = mine(p, "make", fillForm(p.Batch))
	if p.Batch.Purpose == ledger.ForStockLye {
		p.Now.Text = "Make the lye and let it cool first. What is missing at filling counts as steam."
		p.Now.Cautions = []string{"lye", "stock"}
		p.Peak, err = s.ledger.LyePeak(ctx, p.Batch.ID)
	}
	return err
}
