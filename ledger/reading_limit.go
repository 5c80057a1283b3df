package ledger

import (
	"context"
	"fmt"
	"strings"

	"github.com/shopspring/decimal"

	"ashbook/ledger/assay"
)

// TestLimit is what a result in per cent is held against.
type TestLimit struct {
	Percent decimal.Decimal `json:"percent"`
	AtLeast bool            `json:"at_least,omitempty" doc:"the result has to be this high; otherwise it may be no higher"`
	As      string          `json:"as,omitempty" maxLength:"10" doc:"what the limit is stated as, NaOH or KOH; none given: as the result is"`
	Source  string          `json:"source" maxLength:"200" doc:"whose limit it is: the standard, the rule of the place, the shop"`
	Mark    string          `json:"mark,omitempty" maxLength:"60" doc:"how well it is known: seen in a text, or from memory"`
}

// limitOfShop is the limit that the shop has set, or the usual one, which says how well it is known.
func limitOfShop(ctx context.Context, q querier) (*TestLimit, error) {
	own, err := column[decimal.Decimal](ctx, q, `select free_alkali_limit from shop s join entry e on e.id = s.entry_id
		where coalesce((e.body::jsonb ->> 'free_alkali_limit')::numeric, 0) > 0`)
	if err != nil {
		return nil, err
	}
	usual := assay.DefaultFreeCaustic()
	if len(own) > 0 {
		return &TestLimit{Percent: own[0], As: usual.As, Source: "limit of the shop", Mark: "set by the shop"}, nil
	}
	return &TestLimit{Percent: usual.Percent, As: usual.As, Source: "usual limit for " + usual.Name + ", " + usual.Source, Mark: usual.Mark}, nil
}

// judge holds a result, with the words for what it rests on, against the limit that was given; free alkali without one against that
// of the shop. A result for all free alkali, carbonate included, is held against a limit for caustic alkali as it is: it can only be the higher one.
func (r *ReadingTaken) judge(ctx context.Context, tx *Tx, result assay.Result, rests string) error {
	r.Passed, r.Verdict, r.Words = nil, "", rests
	if r.Type == FreeAlkali && r.Limit == nil {
		var err error
		if r.Limit, err = limitOfShop(ctx, tx); err != nil {
			return err
		}
	}
	if r.Limit == nil {
		r.Words += fmt.Sprintf(": %s %s, standard uncertainty %s", r.Typed, r.Unit, r.Uncertainty.Round(3))
		return nil
	}
	if err := r.checkLimit(result.As); err != nil {
		return err
	}
	j, err := assay.Judge(result, assay.Limit{Test: result.Test, Percent: r.Limit.Percent, AtLeast: r.Limit.AtLeast, As: r.Limit.As, Source: r.Limit.Source, Mark: r.Limit.Mark})
	if err != nil {
		return invalid("limit", "%s", unwrapped(err))
	}
	r.Verdict, r.Words = string(j.Verdict), r.Words+": "+j.Text
	if j.Verdict != assay.TooClose {
		passed := j.Verdict == assay.Pass
		r.Passed = &passed
	}
	return nil
}

// checkLimit wants a limit that says whose it is. One for free alkali is the most that there may be, and no wider than a shop may set.
func (r *ReadingTaken) checkLimit(as string) error {
	l := r.Limit
	if err := words("limit", &l.Source, 200); err != nil {
		return err
	}
	most := int64(100)
	if r.Type == FreeAlkali {
		most = mostFreeAlkali
		if l.AtLeast {
			return invalid("limit", "free alkali is held against the most that there may be; leave at_least out")
		}
	}
	if err := between("limit", l.Percent, 0, most); err != nil {
		return err
	}
	if l.As == "" {
		l.As = as
	}
	if l.Mark == "" {
		l.Mark = "as given"
	}
	return nil
}

// judgeTyped holds a result that somebody else worked out against its limit. What was said of it may be stricter than that, never milder:
// a figure above its limit does not pass, and one that was said to fail has failed.
func (r *ReadingTaken) judgeTyped(ctx context.Context, tx *Tx) error {
	if r.Type != FreeAlkali && !r.isQuality() {
		return nil
	}
	result := assay.Result{Test: testTyped[r.Type], Value: r.Value, Unit: assay.Percent, As: strings.TrimSpace(strings.TrimPrefix(r.Unit, "%"))}
	if r.Within != nil {
		if err := positive("within", *r.Within); err != nil {
			return err
		}
		u := r.Within.DivRound(decimal.NewFromInt(2), 9)
		r.Uncertainty, result.U = &u, u.InexactFloat64()
	}
	if r.Limit == nil && r.Type != FreeAlkali { // the verdict, if any, is all there is
		if r.MeasuredBy != "" {
			r.Words = r.source()
		}
		return nil
	}
	said := r.Passed
	if err := r.judge(ctx, tx, result, r.source()); err != nil {
		return err
	}
	r.heed(said)
	return nil
}

// testTyped is the test that a typed result is taken for.
var testTyped = map[string]assay.Test{FreeAlkali: assay.FreeCaustic, TotalAlkali: assay.TotalAlkali, FattyMatter: assay.FattyMatter,
	Chloride: assay.Chloride, Moisture: assay.Moisture}

// source is who measured what was typed, and how.
func (r *ReadingTaken) source() string {
	by := r.MeasuredBy
	if by == "" {
		by = "the person who recorded it"
	}
	return fmt.Sprintf("%s %s as typed, measured by %s, method: %s", r.Typed, r.Unit, by, r.Method)
}

// heed keeps what was said of a result where it is stricter than its figure, and says where it was set aside.
func (r *ReadingTaken) heed(said *bool) {
	switch {
	case said == nil:
	case *said && r.Verdict != string(assay.Pass):
		r.Words += " It was recorded as passed; the figure decides."
	case !*said && r.Verdict != string(assay.Fail):
		r.Passed, r.Verdict = said, ""
		r.Words += " It was recorded as failed, and that stands."
	}
}
