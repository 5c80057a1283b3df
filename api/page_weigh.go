package api

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"time"

	"ashbook/api/pages"
	"ashbook/ledger"
)

// weighForm asks for a weighing of a line of the weigh list; nil: of something that was not planned.
func (s *Server) weighForm(ctx context.Context, b ledger.Batch, line *ledger.BatchLine, portions []ledger.BatchPortion) (*pages.Form, error) {
	query := ledger.LotQuery{OnHand: true}
	if line != nil {
		query.Material = line.Material
	}
	lots, err := s.ledger.Lots(ctx, query)
	if err != nil {
		return nil, err
	}
	people, err := s.ledger.People(ctx)
	if err != nil {
		return nil, err
	}
	shop, err := s.ledger.Shop(ctx)
	if err != nil && ledger.FaultOf(err) != ledger.NotFound {
		return nil, err
	}
	day := today(pages.Base{Now: s.ledger.Now(), Zone: shop.Zone()})
	number, id, button := "0", "extra", "Record the addition"
	if line != nil {
		number, id, button = digits(int64(line.Line)), "weigh", "Record the weighing"
	}
	lot := pages.In(pages.Choice, "lot", "From which lot?", "The first to expire stands first.").Of(lotOptions(lots, day)...)
	if line == nil {
		for i, o := range lot.Options { // a list of many materials shows one line each: the code alone invites a slip
			lot.Options[i].Label = o.Label + "  " + o.Note
		}
		lot.Kind, lot.Hint, lot.Options = pages.Select, "", pages.OrNone("choose", lot.Options)
	}
	if line != nil && len(lot.Options) == 0 {
		lot.Hint = "There is none of it on the shelf. Receive a lot, or type the code of another below."
	}
	if line != nil {
		lot.Value = firstUsable(lots, day)
	}
	f := pages.NewForm(id, actionOf(b, "weigh"), button, pages.In(pages.Hidden, "line", "", "").Is(number), lot,
		pages.In(pages.Decimal, "mass", "What does the scale show?", "").Must().Large(), unitField("unit", unitOptions()),
		secondCheck(line), checkedBy(people),
		pages.In(pages.Text, "lot_code", "Code of another lot", "Scanned or typed; it goes before the choice above."),
		pages.In(pages.Check, "partial", "More of this line follows from another lot", ""),
		pages.In(pages.Text, "scale", "Which scale", ""),
		pages.In(pages.Select, "portion", "Into which portion", "").Of(pages.OrNone("all of it", portionOptions(portions))...),
		pages.In(pages.Count, "pieces", "How many bars", "Only for bars that are made over.")).WithTime()
	return f, nil
}

// lotOptions lists lots that are on hand: what may be used first, then what a gate would stop, marked so.
func lotOptions(lots []ledger.Lot, day time.Time) []pages.Option {
	var good, bad []pages.Option
	for _, l := range lots {
		note := fmt.Sprintf("%s, %s left", l.Name, pages.Amount(l.OnHand, l.Unit))
		if l.BestBefore != nil {
			note += ", best before " + l.BestBefore.Format("2 Jan 2006")
		}
		o := pages.Option{Value: digits(l.ID), Label: l.Code, Note: note}
		switch {
		case l.Held:
			o.Note = "ON HOLD. " + o.Note
			bad = append(bad, o)
		case l.Expired(day):
			o.Note = "PAST ITS DATE. " + o.Note
			bad = append(bad, o)
		default:
			good = append(good, o)
		}
	}
	return append(good, bad...)
}

// firstUsable is the lot to take first: lots come in the order of their dates.
func firstUsable(lots []ledger.Lot, day time.Time) string {
	for _, l := range lots {
		if !l.Held && !l.Expired(day) {
			return digits(l.ID)
		}
	}
	return ""
}

func secondCheck(line *ledger.BatchLine) pages.Field {
	options := []pages.Option{{Value: ledger.SecondMethod, Label: "By a second method", Note: "loss of the tub, gross of the cup, a photo read later"},
		{Value: ledger.SecondPerson, Label: "By a second person"}, {Value: ledger.NoSecondCheck, Label: "Not checked"}}
	if line != nil && line.Lye {
		return pages.In(pages.Choice, "second_check", "Checked a second time?", "A second look at the lye finds most slips.").Must().Of(options...)
	}
	return pages.In(pages.Select, "second_check", "Checked a second time?", "").Is(ledger.NoSecondCheck).Of(options...)
}

func checkedBy(people []ledger.Person) pages.Field {
	f := pages.In(pages.Select, "checked_by", "The second person", "").Of(pages.Option{Label: "nobody"})
	for _, p := range people {
		if p.Active {
			f.Options = append(f.Options, pages.Option{Value: digits(p.ID), Label: p.Name})
		}
	}
	return f
}

// weighing reads a weighing from its form.
func (in *input) weighing(batch int64) *ledger.WeighingTaken {
	w := &ledger.WeighingTaken{Batch: batch, Line: int(in.count("line")), Lot: in.pick("lot"), Mass: in.mass("mass", "unit"),
		Partial: in.yes("partial"), Scale: in.text("scale"), SecondCheck: in.text("second_check"), CheckedBy: in.pick("checked_by"), Pieces: in.optional("pieces")}
	if w.Line == 0 {
		w.Portion = in.text("portion")
	}
	if code := in.text("lot_code"); code != "" {
		w.Lot = in.lotByCode("lot_code", code)
	} else if w.Lot == 0 {
		in.form.Blame("lot", "choose the lot that it was taken from")
	}
	if w.SecondCheck != ledger.SecondPerson {
		w.CheckedBy = 0
	}
	return w
}

// lotByCode finds the lot of a code that was typed or scanned.
func (in *input) lotByCode(field, code string) int64 {
	answer, err := in.s.ledger.Ask(in.r.Context(), code)
	if e, ok := errors.AsType[*ledger.Error](err); ok {
		in.form.Blame(field, e.Message)
		return 0
	}
	if err != nil {
		in.form.Blame(field, "the code could not be looked up; try again")
		return 0
	}
	i := slices.IndexFunc(answer.Found, func(f ledger.Found) bool { return f.What == "lot" })
	if i < 0 {
		in.form.Blame(field, code+" is no lot; type the code that stands on the container")
		return 0
	}
	return answer.Found[i].ID
}

func (s *Server) postWeigh(w http.ResponseWriter, r *http.Request, b ledger.Batch) error {
	if err := parseForm(r); err != nil {
		return err
	}
	line, err := s.lineOf(r.Context(), b, r.PostForm.Get("line"))
	if err != nil {
		return err
	}
	portions, err := s.ledger.BatchPortions(r.Context(), b.ID)
	if err != nil {
		return err
	}
	form, err := s.weighForm(r.Context(), b, line, portions)
	if err != nil {
		return err
	}
	in, err := s.read(r, form)
	if err != nil {
		return err
	}
	body := in.weighing(b.ID)
	return in.record(w, body, s.bench(in, b, body.Line), func(kept ledger.Body) (string, string) {
		return "/batches/" + digits(b.ID), "Weighed: " + weighedWords(kept.(*ledger.WeighingTaken), line)
	})
}

func weighedWords(w *ledger.WeighingTaken, line *ledger.BatchLine) string {
	what := "an addition"
	if line != nil {
		what = line.Name
	}
	return fmt.Sprintf("%s, %s %s.", what, w.Mass.Typed, w.Mass.Unit)
}

// lineOf is the line of the weigh list that a form names; nil for an addition that was not planned.
func (s *Server) lineOf(ctx context.Context, b ledger.Batch, number string) (*ledger.BatchLine, error) {
	lines, err := s.ledger.BatchLines(ctx, b.ID)
	for _, l := range lines {
		if digits(int64(l.Line)) == number {
			return &l, nil
		}
	}
	return nil, err
}
