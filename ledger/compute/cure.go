package compute

import (
	"errors"
	"fmt"
	"time"

	"ashbook/ledger/cure"

	"github.com/shopspring/decimal"
)

// CureInput is what compute cure reads.
type CureInput struct {
	CutOn          time.Time        `json:"cut_on" doc:"when the bars were cut: a date as 2026-05-04, or a time as 2026-05-04T08:30:00Z; days count from there"`
	ScaleStepGrams *decimal.Decimal `json:"scale_step_grams,omitempty" is:"above zero" doc:"step of the scale, g, for weighings that name none; left out: not known"`
	Weighings      []BarWeighing    `json:"weighings" most:"2000" doc:"each weighing of each marked bar; no more than 50 bars, and 200 weighings of one"`
	Rules          *CureRules       `json:"rules,omitempty" doc:"what is asked of bars before they are ready"`
	Today          *time.Time       `json:"today,omitempty" doc:"the day on which readiness is judged"`
	PredictOn      []time.Time      `json:"predict_on,omitempty" most:"100" doc:"days for which masses and loss are foretold"`
}

// BarWeighing is one weighing of one marked bar.
type BarWeighing struct {
	Bar       string           `json:"bar" doc:"the mark on the bar"`
	On        time.Time        `json:"on" doc:"when it was weighed: a date or a time"`
	Grams     decimal.Decimal  `json:"grams" is:"above zero" doc:"its mass, g"`
	StepGrams *decimal.Decimal `json:"step_grams,omitempty" is:"above zero" doc:"step of the scale, g"`
}

// CureRules are what is asked of bars.
type CureRules struct {
	MinDays        int             `json:"min_days" doc:"days from the cut"`
	MaxLossPerWeek decimal.Decimal `json:"max_loss_per_week" is:"share" doc:"loss of mass in a week, fraction of the mass; 0: bars need not be weighed"`
}

// CureOutput is what compute cure answers.
type CureOutput struct {
	About
	Curve       *CurveOut    `json:"curve,omitempty" doc:"the drying curve m(t) = m_inf + (m_0 - m_inf) exp(-(t/tau)^beta), t in days from the cut"`
	NoCurve     string       `json:"no_curve,omitempty" doc:"why there is none, and what to weigh"`
	RecentLoss  *LossOut     `json:"recent_loss,omitempty" doc:"the loss by the last weighings of each bar, without a curve"`
	Predictions []Prediction `json:"predictions" doc:"what the curve foretells"`
	Odd         []OddOut     `json:"odd" doc:"weighings that do not go with the others; none is left out of the curve"`
	Ready       *ReadyOut    `json:"ready,omitempty" doc:"whether the bars are ready by the rules"`
}

// Interval is a figure with its 95 % interval.
type Interval struct {
	Value decimal.Decimal `json:"value" doc:"the figure"`
	Low   decimal.Decimal `json:"low_95" doc:"lower end of its 95 % interval"`
	High  decimal.Decimal `json:"high_95" doc:"upper end of its 95 % interval"`
	SE    decimal.Decimal `json:"standard_error" doc:"its standard error"`
}

// CurveOut is a drying curve.
type CurveOut struct {
	Stays    Interval        `json:"stays" doc:"share of the mass at the cut that stays in the end, m_inf/m_0"`
	TauDays  Interval        `json:"tau_days" doc:"days after which 63 % of the loss is over"`
	Beta     Interval        `json:"beta" doc:"shape, without unit"`
	BetaHeld bool            `json:"beta_held" doc:"beta was not fitted but taken for 0.75 ± 0.15, since weighings are too few to show it"`
	Scatter  decimal.Decimal `json:"scatter" doc:"standard deviation of one weighing about the curve, fraction of the bar's mass"`
	Freedom  int             `json:"degrees_of_freedom" doc:"of the scatter"`
	LastDay  decimal.Decimal `json:"last_day" doc:"of the last weighing, days from the cut"`
	Bars     []BarOut        `json:"bars" doc:"each bar"`
}

// BarOut is what a curve says of a bar.
type BarOut struct {
	Bar        string   `json:"bar" doc:"its mark"`
	CutGrams   Interval `json:"cut_grams" doc:"mass at the cut, m_0, g"`
	FinalGrams Interval `json:"final_grams" doc:"mass in the end, m_inf, g"`
}

// LossOut is how fast bars lose mass.
type LossOut struct {
	PerWeek decimal.Decimal `json:"per_week" doc:"loss in a week, fraction of the mass; below zero: a gain"`
	Upper   decimal.Decimal `json:"upper_95" doc:"the true loss is no more than this, with 95 % confidence"`
}

// Prediction is what the curve foretells for a day.
type Prediction struct {
	On          string          `json:"on" doc:"the day"`
	Day         decimal.Decimal `json:"day" doc:"days from the cut"`
	Share       Interval        `json:"share" doc:"share of the mass at the cut, for one further weighing"`
	MeanGrams   Interval        `json:"mean_grams" doc:"mean mass of the bars, g, for one weighing of a bar like that"`
	LossPerWeek LossOut         `json:"loss_per_week" doc:"loss over the week that ends on the day"`
	Bars        []BarMass       `json:"bars" doc:"each bar"`
}

// BarMass is the mass of a bar on a day.
type BarMass struct {
	Bar   string   `json:"bar" doc:"its mark"`
	Grams Interval `json:"grams" doc:"mass, g, for one further weighing"`
}

// OddOut is a weighing that does not go with the others.
type OddOut struct {
	Bar       string          `json:"bar" doc:"its mark"`
	On        string          `json:"on" doc:"the day"`
	Grams     decimal.Decimal `json:"grams" doc:"as weighed, g"`
	OffGrams  decimal.Decimal `json:"off_grams" doc:"above what the others let expect, g; negative: below"`
	LooksLike string          `json:"looks_like" doc:"what it may be"`
	Chance    decimal.Decimal `json:"chance" doc:"how often chance alone would give one like it among these weighings, 0 to 1"`
	Words     string          `json:"words" doc:"the same in a sentence"`
}

// ReadyOut is whether bars are ready.
type ReadyOut struct {
	Ready      bool     `json:"ready" doc:"by the rules, today"`
	Reasons    []string `json:"reasons" doc:"what stands against it or, if ready, what speaks for it"`
	EarliestOn string   `json:"earliest_on" doc:"first day on which they can be ready"`
	ForecastOn string   `json:"forecast_on,omitempty" doc:"first day on which the curve's bound keeps the rules; left out: not within two years, or no curve"`
	ByPointOn  string   `json:"forecast_by_point_on,omitempty" doc:"the same by the curve itself, without its doubt"`
}

// What bounds the work beside the number of weighings: what is answered of a day has a line for each bar. The search for odd weighings
// ends by itself.
const mostBars, mostOfBar = 50, 200

var cureSources = []string{
	"Drying curve: Page's equation, of the literature on thin-layer drying (retrieved, for mango and earth bricks); no drying curve of soap was found published.",
	"Least squares; intervals by Student's t and the linearised fit. Weighings pointed at: externally studentised residuals, Bonferroni, 5 %.",
}

const mildness = "Neither the calendar nor the scale proves that soap is mild: the test for free alkali is a separate matter."

func workCure(in CureInput) (out CureOutput, err error) {
	defer finitely("weighings", &err)
	if err := in.check(); err != nil {
		return CureOutput{}, err
	}
	weighings := in.weighings()
	out = CureOutput{About: about("cure", cureSources, mildness), Predictions: []Prediction{}, Odd: []OddOut{}}
	curve, err := cure.Fit(in.CutOn, weighings)
	refusal, isRefusal := errors.AsType[*cure.Refusal](err)
	switch {
	case err == nil:
		odd, _ := curve.Outliers()
		out.Curve, out.Odd = curveOut(curve), oddOut(odd)
		for _, on := range in.PredictOn {
			out.Predictions = append(out.Predictions, prediction(curve, on))
		}
	case isRefusal:
		out.NoCurve, out.Odd = oneLine(refusal.Error()), oddOut(refusal.Odd)
	default:
		return CureOutput{}, refused("weighings", err)
	}
	if loss, err := cure.Rate(weighings); err == nil {
		out.RecentLoss = lossOut(loss)
	}
	if in.Rules != nil {
		out.Ready = in.ready(curve, weighings)
	}
	return out, nil
}

// check notes days that cannot be, and bars beyond number.
func (in CureInput) check() error {
	var w WrongInput
	last := in.CutOn.AddDate(0, 0, mostWhole)
	inReach := func(field string, t time.Time) {
		switch {
		case t.Before(in.CutOn):
			w.add(field, "%s is before the cut; correct it, or cut_on", t.Format(time.RFC3339))
		case t.After(last):
			w.add(field, "%s is more than %d days after the cut; correct it, or cut_on", t.Format(time.RFC3339), mostWhole)
		}
	}
	bars := map[string]int{}
	for i, b := range in.Weighings {
		inReach(fmt.Sprintf("weighings[%d].on", i), b.On)
		if bars[b.Bar]++; bars[b.Bar] == mostOfBar+1 {
			w.add(fmt.Sprintf("weighings[%d].bar", i), "more than %d weighings of one bar; leave some of the early ones out", mostOfBar)
		}
	}
	for i, t := range in.PredictOn {
		inReach(fmt.Sprintf("predict_on[%d]", i), t)
	}
	if in.Today != nil && (in.Today.Before(in.CutOn.AddDate(0, 0, -1)) || in.Today.After(last)) {
		w.add("today", "%s is before the cut or more than %d days after it; correct it, or cut_on", in.Today.Format(time.DateOnly), mostWhole)
	}
	if len(bars) > mostBars {
		w.add("weighings", "%d bars are weighed; give no more than %d at once", len(bars), mostBars)
	}
	return w.failed()
}

func (in CureInput) weighings() []cure.Weighing {
	out := make([]cure.Weighing, len(in.Weighings))
	for i, b := range in.Weighings {
		out[i] = cure.Weighing{Day: b.On, Grams: b.Grams, Bar: b.Bar, Step: orZero(in.ScaleStepGrams)}
		if b.StepGrams != nil {
			out[i].Step = *b.StepGrams
		}
	}
	return out
}

func (in CureInput) ready(curve *cure.Curve, weighings []cure.Weighing) *ReadyOut {
	rules := cure.Rules{MinDays: in.Rules.MinDays, MaxLossPerWeekPercent: in.Rules.MaxLossPerWeek.Shift(2)}
	v := cure.Ready(rules, in.CutOn, *in.Today, weighings)
	out := &ReadyOut{Ready: v.Ready, Reasons: v.Reasons, EarliestOn: v.EarliestOn.Format(time.DateOnly)}
	if curve != nil {
		f := curve.ReadyOn(rules)
		out.ForecastOn, out.ByPointOn = dayOrNone(f.On), dayOrNone(f.ByPoint)
	}
	return out
}

func dayOrNone(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.DateOnly)
}

func curveOut(c *cure.Curve) *CurveOut {
	out := &CurveOut{Stays: interval(c.Stays), TauDays: interval(c.Tau), Beta: interval(c.Beta), BetaHeld: c.Held, Scatter: statistic(c.Scatter),
		Freedom: c.Freedom, LastDay: statistic(c.LastDay)}
	for _, b := range c.Bars {
		out.Bars = append(out.Bars, BarOut{b.Mark, interval(b.Cut), interval(b.Final)})
	}
	return out
}

func interval(e cure.Estimate) Interval {
	return Interval{statistic(e.Value), statistic(e.Low), statistic(e.High), statistic(e.SE)}
}

func lossOut(l cure.Loss) *LossOut {
	return &LossOut{statistic(l.PerWeek / 100), statistic(l.Upper / 100)}
}

func prediction(c *cure.Curve, on time.Time) Prediction {
	day := c.Day(on)
	out := Prediction{On: on.Format(time.DateOnly), Day: statistic(day), Share: interval(c.Share(day)), MeanGrams: interval(c.MeanMass(day)),
		LossPerWeek: *lossOut(c.LossPerWeek(day))}
	for _, b := range c.Bars {
		grams, _ := c.Mass(day, b.Mark)
		out.Bars = append(out.Bars, BarMass{b.Mark, interval(grams)})
	}
	return out
}

func oddOut(odd []cure.Outlier) []OddOut {
	out := []OddOut{}
	for _, o := range odd {
		out = append(out, OddOut{o.Bar, o.Day.Format(time.DateOnly), o.Grams, statistic(o.Off), o.Looks, statistic(o.P), o.String()})
	}
	return out
}
