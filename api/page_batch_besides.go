package api

import (
	"context"
	"slices"
	"strings"

	"ashbook/api/pages"
	"ashbook/ledger"
)

// besides offers what may be done at this stage beside the next thing.
func (s *Server) besides(ctx context.Context, p *pages.Batch) error {
	if p.May("make") {
		if err := s.makerActs(ctx, p); err != nil {
			return err
		}
	}
	if p.May("release") {
		for _, d := range p.Deviations {
			if d.ClosedBy == nil {
				addAct(p, pages.Act{Title: "Decide the deviation: " + d.What, Form: decideForm(d)})
			}
		}
		if p.Batch.Stage == ledger.Curing {
			addAct(p, pages.Act{Title: "Release or reject", Text: "The gate's findings stand above. A named person decides, on what was looked at.", Form: releaseForm(p.Batch)})
		}
	}
	if p.May("sell") && len(bars(p)) > 0 {
		addAct(p, pages.Act{Title: "Draw a label", Text: strings.TrimSpace("Before the release it is a proof, marked as not for sale. " + p.Cure.LabelHint()), Form: labelForm(actionOf(p.Batch, "label"), bars(p))})
	}
	return nil
}

// addAct leaves out a form that stands above already as the next thing.
func addAct(p *pages.Batch, a pages.Act) {
	if p.Main == nil || p.Main.ID != a.Form.ID {
		p.Acts = append(p.Acts, a)
	}
}

func (s *Server) makerActs(ctx context.Context, p *pages.Batch) error {
	if p.Batch.Stage == ledger.Planned {
		addAct(p, pages.Act{Title: "Drop this plan", Text: "It stays on record, struck through.", Form: strikeForm(p.Batch.Entry, "/batches")})
	}
	b := p.Batch
	at := func(stages ...string) bool { return slices.Contains(stages, b.Stage) }
	soap := b.Purpose == ledger.ForSoap
	if soap && at(ledger.Weighing, ledger.LyeMade, ledger.Combined) || !soap && at(ledger.Planned, ledger.Weighing) {
		extra, err := s.weighForm(ctx, b, nil, p.Portions)
		if err != nil {
			return err
		}
		addAct(p, pages.Act{Title: "Add something that was not planned", Text: "Also soap that is made over: it counts with everything that is in it.", Form: extra})
	}
	if soap && at(ledger.Weighing, ledger.LyeMade, ledger.Combined, ledger.Poured) {
		addAct(p, pages.Act{Title: "Read a temperature, the room, the full pot", Form: readingForm(b, "")})
		addAct(p, pages.Act{Title: "Read the density of the lye", Text: densityWhy, Cautions: []string{"lye"}, Form: densityForm(actionOf(b, "density"))})
		addAct(p, pages.Act{Title: "Mark trace, a spray, insulation, or a note", Cautions: []string{"spirit"}, Form: eventForm(b)})
	}
	if b.Purpose == ledger.ForStockLye && at(ledger.Weighing) {
		addAct(p, pages.Act{Title: "Read the room's temperature, or that of the lye", Form: readingForm(b, "")})
		addAct(p, pages.Act{Title: "Read the density of the lye", Text: densityWhy, Form: densityForm(actionOf(b, "density"))})
	}
	if soap && at(ledger.Weighing, ledger.LyeMade) && p.Step == nil {
		step, button := ledger.StepLyeMade, "The lye is made"
		if b.Stage == ledger.LyeMade || !slices.ContainsFunc(p.Lines, func(l *pages.Line) bool { return l.Kind == "alkali" }) {
			step, button = ledger.StepCombine, "Oils and lye are together"
		}
		act := pages.Act{Title: "Go on to: " + step, Cautions: []string{"lye"}, Form: stepForm(b, step, button)}
		if step == ledger.StepLyeMade {
			peak, err := s.ledger.LyePeak(ctx, b.ID)
			if err != nil {
				return err
			}
			act.Peak = peak
		}
		addAct(p, act)
	}
	if soap && b.Stage == ledger.Combined && p.Step == nil {
		addAct(p, pages.Act{Title: "Go on to: pour", Form: stepForm(b, ledger.StepPour, "It is in the mould")})
	}
	if len(bars(p)) > 0 {
		addAct(p, pages.Act{Title: "Weigh a bar", Text: "Weigh the same marked bars every week.", Form: barForm(b, bars(p), p.Cure.Marks())})
		addAct(p, pages.Act{Title: "Titrate: free alkali and other tests", Text: "Raw figures go in; result, uncertainty and verdict are worked out.",
			Cautions: []string{"test", "titration"}, Form: titrationForm(b)})
		addAct(p, pages.Act{Title: "Measure the pH", Text: "Alone it is a weak test of free alkali.", Cautions: []string{"test"}, Form: phForm(b)})
		addAct(p, pages.Act{Title: "Record a result from a laboratory, or a tongue test", Cautions: []string{"test"}, Form: testForm(b)})
	}
	if soap && !at(ledger.Planned) {
		addAct(p, pages.Act{Title: "Something was not as it should be", Text: "An open deviation keeps the batch from release until somebody has decided.", Form: deviationForm(b)})
	}
	return nil
}

// densityWhy says what a density is good for.
const densityWhy = "It tells the strength of the lye by another route than the scale: a wrong mass, a bad hydrometer and lye that stood open show."
