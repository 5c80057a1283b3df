package cure

import (
	"fmt"
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
}

// week turns a rate per day into one per week.
var week = decimal.NewFromInt(7)

// Ready applies the rules as of today. Days are counted by calendar date, each time in its own zone;
// weighings later than today are left out. Bars that seem to gain mass as fast as they may lose it do not
// pass either: the scale, the bar or the air of the room is not what it was.
func Ready(rules Rules, cutOn, today time.Time, ws []Weighing) Verdict {
	v := Verdict{Ready: true, EarliestOn: date(cutOn).AddDate(0, 0, rules.MinDays)}
	v.judgeDays(rules, cutOn, today)
	if rules.MaxLossPerWeekPercent.IsPositive() {
		v.judgeLoss(rules, today, ws)
	}
	return v
}

func (v *Verdict) judgeDays(rules Rules, cutOn, today time.Time) {
	days := int(date(today).Sub(date(cutOn)) / (24 * time.Hour))
	if days < rules.MinDays {
		v.against("Cut %d days ago; %d days are asked for.", days, rules.MinDays)
		return
	}
	v.inFavour("Cut %d days ago, and %d days are asked for.", days, rules.MinDays)
}

func (v *Verdict) judgeLoss(rules Rules, today time.Time, ws []Weighing) {
	limit := rules.MaxLossPerWeekPercent
	perDay, err := Rate(until(today, ws))
	perWeek := perDay.Mul(week)
	switch {
	case err != nil:
		v.against("Whether bars still lose mass is not known: %v.", err)
	case perWeek.GreaterThan(limit):
		v.against("Bars still lose %s %% of their mass a week; at most %s %% is asked for.", perWeek.Round(2), limit)
	case perWeek.LessThan(limit.Neg()):
		v.against("Bars seem to gain %s %% of their mass a week; look at the scale, the marks on the bars and the damp of the room.", perWeek.Neg().Round(2))
	default:
		v.inFavour("Bars lose %s %% of their mass a week, and at most %s %% is asked for.", perWeek.Round(2), limit)
		return
	}
	if tomorrow := date(today).AddDate(0, 0, 1); v.EarliestOn.Before(tomorrow) {
		v.EarliestOn = tomorrow
	}
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
