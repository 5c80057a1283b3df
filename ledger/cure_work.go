package ledger

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"ashbook/ledger/cure"
	"ashbook/ledger/measure"
)

// rack is what the cure of all lots of a batch is judged by.
type rack struct {
	rules        cure.Rules
	cutOn, today time.Time // moments in the shop's zone
	judged       time.Time // when it is judged whether bars are ready: today, or when it was decided
	decision     string    // released or rejected; empty: none that holds
	asked        time.Time // midnight UTC of a day; zero: none
}

// curing is for a batch that was cut.
func curing(b Batch, shop Shop, now time.Time) *rack {
	zone := shop.Zone() // days are the shop's days
	return &rack{rules: cure.Rules{MinDays: b.CureDays, MaxLossPerWeekPercent: shop.LossPerWeek}, cutOn: b.CutAt.In(zone), today: now.In(zone), judged: now.In(zone)}
}

// decided looks back to the decision, where one holds: bars that were ready then are not asked for weighings ever after.
func (k *rack) decided(ctx context.Context, q querier, b Batch) error {
	if b.Stage != Released && b.Stage != Rejected {
		return nil
	}
	at, err := scalar[time.Time](ctx, q, `select happened_at from release where batch_id = $1 and reopened_by is null order by entry_id desc limit 1`, b.ID)
	k.judged, k.decision = at.In(k.cutOn.Location()), b.Stage
	return err
}

const farthestAsked = 730 // days from the cut

func (k *rack) ask(on time.Time) error {
	if days := k.days(on); !on.IsZero() && (days < 0 || days > farthestAsked) {
		return invalid("on", "%s is %d days from the cut; ask about a day from the cut (%s) to two years after it", on.Format(dateLayout), days, k.cutOn.Format(dateLayout))
	}
	k.asked = on
	return nil
}

// days counts calendar days from the cut to a day.
func (k *rack) days(on time.Time) int { return int(on.Sub(midnight(k.cutOn)).Hours() / 24) }

// midnight is midnight UTC of the calendar day that a moment has in its zone.
func midnight(t time.Time) time.Time {
	y, m, d := t.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// of works it out for the lots of bars among those given.
func (k *rack) of(b Batch, lots []Lot, readings []Reading) *Cure {
	c := &Cure{Batch: b.ID, Code: b.Code, CutOn: midnight(k.cutOn), Today: midnight(k.today), JudgedOn: midnight(k.judged), CureDays: k.rules.MinDays,
		LossPerWeek: k.rules.MaxLossPerWeekPercent, Lots: []LotCure{}}
	if !k.asked.IsZero() {
		c.AskedOn = &k.asked
	}
	for _, lot := range lots {
		if lot.What == "bars" {
			c.Lots = append(c.Lots, k.lot(lot, readings))
		}
	}
	judged := c.Judged()
	c.Ready = len(judged) > 0
	known := c.Ready
	for _, lot := range judged {
		c.Ready = c.Ready && lot.Ready
		known = known && lot.ReadyOn != nil
		if known && (c.ReadyOn == nil || lot.ReadyOn.After(*c.ReadyOn)) {
			c.ReadyOn = lot.ReadyOn
		}
	}
	if !known {
		c.ReadyOn = nil
	}
	return c
}

// Judged are the lots that a release looks at: those whose bars were weighed or, where none was, all. What was weighed of a batch
// speaks for the bars that were not.
func (c *Cure) Judged() []LotCure {
	weighed := slices.DeleteFunc(slices.Clone(c.Lots), func(lot LotCure) bool { return len(lot.Weighings) == 0 })
	if len(weighed) == 0 {
		return c.Lots
	}
	return weighed
}

func (k *rack) lot(lot Lot, readings []Reading) LotCure {
	ws := CureWeighings(readings, lot.ID, k.cutOn.Location())
	v := cure.Ready(k.rules, k.cutOn, k.judged, ws)
	c := LotCure{Lot: lot.ID, Code: lot.Code, Portion: lot.Portion, Ready: v.Ready, Weighings: []BarWeighing{}, rules: k.rules, cutOn: k.cutOn, why: v.Reasons}
	if v.Loss != nil {
		c.Loss = &WeeklyLoss{figure(v.Loss.PerWeek, 2), figure(v.Loss.Upper, 2)}
	}
	c.fit(ws)
	for _, r := range readings {
		if r.counts(lot.ID) {
			c.Weighings = append(c.Weighings, c.weighing(r))
		}
	}
	c.Expected = k.wanted(c)
	c.Says = c.say(midnight(k.judged), k.decision)
	return c
}

// fit fits the curve, or keeps why there is none, and foretells the day.
func (c *LotCure) fit(ws []cure.Weighing) {
	curve, err := cure.Fit(c.cutOn, ws)
	var without *cure.Curve
	if refusal, ok := errors.AsType[*cure.Refusal](err); ok {
		c.odd = refusal.Odd
		bare := *refusal
		bare.Odd = nil // they are pointed at one by one
		err = &bare
	}
	if err != nil {
		c.Refusal = sentence(err.Error())
		if !c.rules.MaxLossPerWeekPercent.IsPositive() {
			on := midnight(c.cutOn).AddDate(0, 0, c.rules.MinDays)
			c.ReadyOn, c.ByPoint = &on, &on
		}
		return
	}
	c.curve, c.Curve = curve, described(curve)
	c.odd, without = curve.Outliers()
	c.ReadyOn, c.ByPoint = forecast(curve, c.rules)
	if without != nil && c.ReadyOn != nil {
		if later, _ := forecast(without, c.rules); later == nil || later.After(*c.ReadyOn) {
			c.ReadyOn = later
		}
	}
}

func forecast(curve *cure.Curve, rules cure.Rules) (on, byPoint *time.Time) {
	f := curve.ReadyOn(rules)
	if !f.On.IsZero() {
		on = &f.On
	}
	if !f.ByPoint.IsZero() {
		byPoint = &f.ByPoint
	}
	return on, byPoint
}

// weighing is a reading as the cure looks at it.
func (c *LotCure) weighing(r Reading) BarWeighing {
	w := BarWeighing{Entry: r.Entry, Bar: r.Sample, HappenedAt: r.HappenedAt, Days: figure(r.HappenedAt.Sub(c.cutOn).Hours()/24, 2), Typed: r.Typed,
		TypedUnit: r.TypedUnit, Grams: r.Value, Instrument: r.Instrument, Person: r.Person}
	if c.curve != nil {
		if e, ok := c.curve.Mass(c.curve.Day(r.HappenedAt), r.Sample); ok {
			expected := figure(e.Value, 3)
			w.Expected = &expected
		}
	}
	for _, o := range c.odd {
		if o.Bar == r.Sample && o.Day.Equal(r.HappenedAt) && o.Grams.Equal(r.Value) {
			w.Odd = o.String()
		}
	}
	return w
}

// wanted are the expected masses that are to be shown.
func (k *rack) wanted(c LotCure) []ExpectedMass {
	if c.curve == nil {
		return nil
	}
	out := []ExpectedMass{k.expected(c.curve, midnight(k.today), "today")}
	if c.ReadyOn != nil {
		out = append(out, k.expected(c.curve, *c.ReadyOn, "ready"))
	}
	if !k.asked.IsZero() {
		out = append(out, k.expected(c.curve, k.asked, "asked"))
	}
	slices.SortStableFunc(out, func(a, b ExpectedMass) int { return a.On.Compare(b.On) })
	return out
}

// expected is for the hour of the cut, so that a day counts whole.
func (k *rack) expected(curve *cure.Curve, on time.Time, why string) ExpectedMass {
	days := k.days(on)
	day := float64(days)
	e := ExpectedMass{On: on, Days: days, Why: why, Beyond: day > curve.LastDay+cure.Reach, Mean: interval(curve.MeanMass(day), 3)}
	for _, b := range curve.Bars {
		if mass, ok := curve.Mass(day, b.Mark); ok {
			e.Bars = append(e.Bars, ExpectedBar{b.Mark, interval(mass, 3)})
		}
	}
	return e
}

func described(c *cure.Curve) *DryingCurve {
	d := &DryingCurve{Stays: interval(c.Stays, 5), TauDays: interval(c.Tau, 3), Beta: interval(c.Beta, 4), BetaHeld: c.Held, Scatter: figure(c.Scatter, 6), Bars: []BarCurve{}}
	for _, b := range c.Bars {
		d.Bars = append(d.Bars, BarCurve{b.Mark, interval(b.Cut, 3), interval(b.Final, 3)})
	}
	return d
}

func interval(e cure.Estimate, places int32) Interval {
	return Interval{figure(e.Value, places), figure(e.Low, places), figure(e.High, places)}
}

// figure rounds a statistic for showing.
func figure(x float64, places int32) decimal.Decimal {
	return decimal.NewFromFloat(x).Round(places)
}

const inWords = "2 January 2006"

// say puts the state into words.
func (c *LotCure) say(day time.Time, decision string) string {
	why := strings.Join(c.why, " ")
	for _, o := range c.odd { // they are pointed at one by one
		why = strings.ReplaceAll(why, " "+o.String(), "")
	}
	if strings.HasSuffix(why, ":") {
		why = strings.TrimSuffix(why, ":") + "."
	}
	both := "by both rules"
	if !c.rules.MaxLossPerWeekPercent.IsPositive() {
		both = "by its days; the shop asks for no weighing"
	}
	switch {
	case c.Ready && decision != "":
		return fmt.Sprintf("Ready %s when it was %s on %s. %s", both, decision, day.Format(inWords), why)
	case decision != "":
		return fmt.Sprintf("Not ready when it was %s on %s. %s", decision, day.Format(inWords), why)
	case c.Ready:
		return "Ready " + both + ". " + why
	case c.ReadyOn == nil || !c.ReadyOn.After(day):
		return "Not ready yet. " + why
	}
	text := fmt.Sprintf("Ready from %s %s", c.ReadyOn.Format(inWords), both)
	if c.ByPoint != nil && c.ByPoint.Before(*c.ReadyOn) {
		text += fmt.Sprintf(", when the weighings will bear it out; by the curve itself from %s", c.ByPoint.Format(inWords))
	}
	if c.Loss == nil {
		return text + "."
	}
	return text + fmt.Sprintf(". Today the bars lose %s %% of their mass a week, with 95 %% confidence no more than %s %%; at most %s %% is asked for.",
		c.Loss.PerWeek.StringFixed(2), c.Loss.Upper.StringFixed(2), c.rules.MaxLossPerWeekPercent)
}

// sentence makes a sentence of an error's text.
func sentence(text string) string {
	return strings.ToUpper(text[:1]) + strings.TrimSuffix(text[1:], ".") + "."
}

// counts tells whether a reading is a weighing of a bar of the lot, and stands.
func (r Reading) counts(lot int64) bool {
	return r.Type == BarMass && r.StruckBy == nil && r.Lot != nil && *r.Lot == lot
}

// CureWeighings gives the weighings of the bars of a lot that stand, as the cure looks at them: days in the shop's zone, and the step of each
// scale from the finest figures that were typed on it, for whatever lot. Bars of two lots may bear the same mark; each lot is looked at alone.
func CureWeighings(readings []Reading, lot int64, zone *time.Location) []cure.Weighing {
	steps := map[string]decimal.Decimal{}
	for _, r := range readings {
		if r.Type != BarMass || r.StruckBy != nil {
			continue
		}
		step := measure.Step(r.Typed, measure.Unit(r.TypedUnit))
		if finest, seen := steps[r.Instrument]; step.IsPositive() && (!seen || step.LessThan(finest)) {
			steps[r.Instrument] = step
		}
	}
	var out []cure.Weighing
	for _, r := range readings {
		if r.counts(lot) {
			out = append(out, cure.Weighing{Day: r.HappenedAt.In(zone), Grams: r.Value, Bar: r.Sample, Step: steps[r.Instrument]})
		}
	}
	return out
}

// judgeCure looks at each lot of bars alone: the bars of one do not speak for those of another that were weighed too.
func judgeCure(ctx context.Context, q querier, j *Judgement, b Batch, readings []Reading, at time.Time) error {
	if b.CutAt == nil {
		return nil
	}
	shop, err := readShop(ctx, q)
	if err != nil {
		return err
	}
	lots, err := all[Lot](ctx, q, `select `+lotColumns+` from lot l where l.batch_id = $1 and l.what = 'bars' and l.struck_by is null order by l.id`, b.ID)
	if err != nil {
		return err
	}
	c := curing(b, shop, at).of(b, lots, readings)
	said := map[string]bool{}
	add := func(level Level, rule, text string) {
		if !said[text] {
			j.add(level, rule, text)
		}
		said[text] = true // lots of which nothing was weighed all want the same
	}
	for _, lot := range c.Judged() {
		of := ""
		if len(c.Lots) > 1 && len(lot.Weighings) > 0 {
			of = lot.Code + ": "
		}
		for _, reason := range lot.why {
			if lot.Ready {
				j.see("cure: %s%s", of, reason)
			} else {
				add(Stop, "not-cured", of+reason)
			}
		}
		for _, odd := range lot.OddOnes() {
			if lot.Ready { // where it is not, the reasons say it
				add(Warn, "odd-weighing", of+odd.Odd)
			}
		}
	}
	if c.LossPerWeek.IsPositive() && len(c.Judged()) < len(c.Lots) {
		for _, lot := range c.Lots {
			if len(lot.Weighings) == 0 {
				add(Warn, "lot-not-weighed", fmt.Sprintf("no bar of %s was weighed; what was weighed of this batch speaks for it, if its bars are as large", lot.Code))
			}
		}
	}
	return nil
}
