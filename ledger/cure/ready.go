package cure

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/shopspring/decimal"
)

// Rules are what a shop asks of soap before it may be released. They are the shop's own.
type Rules struct {
	MinDays               int             // days from the cut, zero or more
	MaxLossPerWeekPercent decimal.Decimal // of the mass; zero: bars need not be weighed
}

// Verdict is the answer to whether soap is ready.
type Verdict struct {
	Ready   bool
	Reasons []string // whole sentences: what stands against it or, if ready, what speaks for it
	// EarliestOn is the first day on which the soap can be ready. While bars still lose mass too fast
	// or have not been weighed, it is a lower bound, no earlier than tomorrow.
	EarliestOn time.Time
	Odd        []string // whole sentences: weighings that do not go with the others
	Loss       *Loss    // how fast bars lose mass, as it was judged; nil: not known, or not asked for
}

// Reach is how many days beyond the last weighing a curve is followed by Ready: the loss of a later day is not known better
// than that of this one.
const Reach = 7

// Ready applies the rules as of today. Days are counted by calendar date, each time in its own zone;
// weighings later than today are left out.
//
// The loss counts with its one-sided 95 % bound: by the drying curve where Fit has one, over the week that ends today, else
// by Rate. Weighings that do not go with the others count, and it has to hold without them too. Bars that seem
// to gain mass as fast as they may lose it do not pass either: the scale, the bar or the air of the room is not what it was.
func Ready(rules Rules, cutOn, today time.Time, ws []Weighing) Verdict {
	v := Verdict{Ready: true, EarliestOn: date(cutOn).AddDate(0, 0, rules.MinDays)}
	v.judgeDays(rules, cutOn, today)
	if rules.MaxLossPerWeekPercent.IsPositive() {
		v.judgeLoss(rules, cutOn, today, until(today, ws))
	}
	return v
}

func (v *Verdict) judgeDays(rules Rules, cutOn, today time.Time) {
	days := daysBetween(cutOn, today)
	if days < rules.MinDays {
		v.against("Cut %d days ago; %d days are asked for.", days, rules.MinDays)
		return
	}
	v.inFavour("Cut %d days ago, and %d days are asked for.", days, rules.MinDays)
}

func (v *Verdict) judgeLoss(rules Rules, cutOn, today time.Time, ws []Weighing) {
	limit := rules.MaxLossPerWeekPercent.InexactFloat64()
	curve, err := Fit(cutOn, ws)
	recent, unknown := Rate(ws)
	loss, known := v.worst(curve, err, recent, today), err == nil || unknown == nil
	if known {
		v.Loss = &loss
	}
	switch {
	case !known:
		v.against("Whether bars still lose mass is not known: %v.", unknown)
	case unknown == nil && recent.PerWeek < -limit:
		v.against("Bars seem to gain %.2f %% of their mass a week; look at the scale, the marks on the bars and the damp of the room.", -recent.PerWeek)
	case loss.PerWeek > limit:
		v.against("Bars still lose %.2f %% of their mass a week (with 95 %% confidence no more than %.2f %%); at most %s %% is asked for. %s",
			loss.PerWeek, loss.Upper, rules.MaxLossPerWeekPercent, v.whatNext(curve, rules, today))
	case loss.Upper > limit:
		v.against("Bars lose %.2f %% of their mass a week, but by these weighings it may be as much as %.2f %% (95 %% confidence), and at most %s %% is asked for. %s",
			loss.PerWeek, loss.Upper, rules.MaxLossPerWeekPercent, v.whatNext(curve, rules, today))
	default:
		v.inFavour("Bars lose %.2f %% of their mass a week, with 95 %% confidence no more than %.2f %%, and at most %s %% is asked for.",
			loss.PerWeek, loss.Upper, rules.MaxLossPerWeekPercent)
		return
	}
	if tomorrow := date(today).AddDate(0, 0, 1); v.EarliestOn.Before(tomorrow) {
		v.EarliestOn = tomorrow
	}
}

// worst is the loss by the curve, or the recent one where a curve was refused. Where weighings are pointed at, the curve
// without them has to hold too.
func (v *Verdict) worst(c *Curve, err error, recent Loss, today time.Time) Loss {
	loss := recent
	var odd []Outlier
	var without *Curve
	var refusal *Refusal
	switch {
	case err == nil:
		loss = c.lossBy(today)
		odd, without = c.Outliers()
	case errors.As(err, &refusal):
		odd, without = refusal.Odd, refusal.Without
		if errors.Is(err, ErrDisagree) {
			v.Odd = append(v.Odd, "No curve: "+err.Error()+".")
		}
	}
	for _, o := range odd {
		v.Odd = append(v.Odd, o.String())
	}
	if without != nil {
		if other := without.lossBy(today); other.Upper > loss.Upper {
			return other
		}
	}
	return loss
}

// lossBy is the loss as far as the curve is followed.
func (c *Curve) lossBy(today time.Time) Loss {
	return c.LossPerWeek(min(c.Day(today), c.LastDay+Reach))
}

// whatNext says what to do while bars are not shown to be slow enough.
func (v *Verdict) whatNext(c *Curve, rules Rules, today time.Time) string {
	if len(v.Odd) > 0 {
		return "Look first at what does not go with the other weighings: " + strings.Join(v.Odd, " ")
	}
	if c == nil {
		return "Weigh the same marked bars again in a week; two bars, or a finer scale, show it sooner."
	}
	on := c.ReadyOn(rules).On
	switch {
	case on.IsZero():
		return "Weigh the same marked bars again in a week; by the curve so far they will not be shown to be slow enough within two years."
	case !on.After(date(today)):
		return fmt.Sprintf("By their curve they are slow enough, but they were weighed last more than %d days ago: weigh the same marked bars again now.", Reach)
	}
	return fmt.Sprintf("By their curve they will be shown to be slow enough about %s; weigh the same marked bars again then, and weekly till then.", on.Format("2 January 2006"))
}

// against adds a reason why the soap is not ready, dropping reasons in favour.
func (v *Verdict) against(format string, args ...any) {
	if v.Ready {
		v.Reasons = nil
	}
	v.Ready = false
	v.Reasons = append(v.Reasons, fmt.Sprintf(format, args...))
}

// inFavour adds a reason that counts only as long as nothing stands against it.
func (v *Verdict) inFavour(format string, args ...any) {
	if v.Ready {
		v.Reasons = append(v.Reasons, fmt.Sprintf(format, args...))
	}
}

// date is midnight UTC of the calendar day that t has in its own zone.
func date(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC)
}

func until(today time.Time, ws []Weighing) []Weighing {
	var out []Weighing
	for _, w := range ws {
		if !date(w.Day).After(date(today)) {
			out = append(out, w)
		}
	}
	return out
}
