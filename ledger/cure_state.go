package ledger

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/shopspring/decimal"

	"ashbook/ledger/cure"
)

// Cure is how the bars of a batch cure, lot by lot. It is worked out anew from the weighings that stand: it informs, and
// certifies nothing.
type Cure struct {
	Batch       int64           `json:"batch"`
	Code        string          `json:"code"`
	CutOn       time.Time       `json:"cut_on" doc:"day of the cut, as the shop counts days"`
	Today       time.Time       `json:"today"`
	JudgedOn    time.Time       `json:"judged_on" doc:"the day for which it is said whether bars are ready: that of the decision once the batch is released or rejected, else today"`
	AskedOn     *time.Time      `json:"asked_on,omitempty"`
	CureDays    int             `json:"cure_days" doc:"days that the rules ask for"`
	LossPerWeek decimal.Decimal `json:"loss_per_week" doc:"per cent of their mass that bars may lose in a week at most; 0: they need not be weighed"`
	Ready       bool            `json:"ready" doc:"the bars of every lot that was weighed are ready by both rules; the release gate looks at more than that"`
	ReadyOn     *time.Time      `json:"ready_on,omitempty" doc:"first day on which all of them can be ready by both rules; none: not known"`
	Lots        []LotCure       `json:"lots" nullable:"false"`
}

// LotCure is how the bars of one lot cure. The curve is of that lot alone, since lots of a batch may differ in size and in what is in them.
type LotCure struct {
	Lot       int64          `json:"lot"`
	Code      string         `json:"code"`
	Portion   string         `json:"portion,omitempty"`
	Says      string         `json:"says" doc:"whether and when the bars are ready, in words"`
	Ready     bool           `json:"ready"`
	ReadyOn   *time.Time     `json:"ready_on,omitempty" doc:"first day on which the days have passed and the 95 % bound of the weekly loss is at or below the limit, by the curve and, where weighings are odd, by the curve without them too"`
	ByPoint   *time.Time     `json:"by_point,omitempty" doc:"the same day by the curve itself, without its doubt"`
	Loss      *WeeklyLoss    `json:"loss,omitempty" doc:"how fast the bars lose mass on the day that is judged; none: not known, or not asked for"`
	Refusal   string         `json:"refusal,omitempty" doc:"why there is no curve, what to weigh, and when"`
	Curve     *DryingCurve   `json:"curve,omitempty"`
	Expected  []ExpectedMass `json:"expected,omitempty" doc:"by the curve: today, on the day on which the bars can be ready, and on the day that was asked about"`
	Weighings []BarWeighing  `json:"weighings" nullable:"false"`

	rules cure.Rules
	cutOn time.Time
	curve *cure.Curve
	odd   []cure.Outlier
	why   []string // reasons of the verdict, whole sentences
}

// WeeklyLoss is a loss in per cent of the mass of a bar a week.
type WeeklyLoss struct {
	PerWeek decimal.Decimal `json:"per_week" doc:"best estimate"`
	Upper   decimal.Decimal `json:"upper" doc:"with 95 % confidence it is no more than this (one-sided)"`
}

// Interval is a figure with its 95 % interval.
type Interval struct {
	Value decimal.Decimal `json:"value"`
	Low   decimal.Decimal `json:"low"`
	High  decimal.Decimal `json:"high"`
}

// Grams writes a mass with half its interval, to the decimal that the interval makes worth showing.
func (i Interval) Grams() string {
	wide := i.High.Sub(i.Low)
	return fmt.Sprintf("%s ± %s g", i.fixed(i.Value), i.fixed(wide.Div(decimal.NewFromInt(2))))
}

func (i Interval) fixed(d decimal.Decimal) string {
	if i.High.Sub(i.Low).LessThan(decimal.New(2, -1)) {
		return d.StringFixed(2)
	}
	return d.StringFixed(1)
}

// DryingCurve are the figures of m(t) = m_inf + (m_0 - m_inf) exp(-(t/tau)^beta), fitted by least squares.
type DryingCurve struct {
	Stays    Interval        `json:"stays" doc:"share of the mass at the cut that stays in the end, m_inf/m_0"`
	TauDays  Interval        `json:"tau_days" doc:"days after which 63 % of the loss is over"`
	Beta     Interval        `json:"beta" doc:"shape of the curve: 0.5 diffusion-like, 1 first order"`
	BetaHeld bool            `json:"beta_held" doc:"beta was not fitted but taken for 0.75, give or take 0.15, since weighings are few"`
	Scatter  decimal.Decimal `json:"scatter" doc:"standard deviation of one weighing about the curve, as a share of the mass"`
	Bars     []BarCurve      `json:"bars" nullable:"false"`
}

// BarCurve is what the curve says of one marked bar, in grams.
type BarCurve struct {
	Bar   string   `json:"bar"`
	AtCut Interval `json:"at_cut"`
	Final Interval `json:"final"`
}

// ExpectedMass is what bars are expected to weigh on a day, with the 95 % interval of one further weighing, in grams.
type ExpectedMass struct {
	On     time.Time     `json:"on"`
	Days   int           `json:"days" doc:"days from the cut"`
	Why    string        `json:"why" enum:"today,ready,asked"`
	Beyond bool          `json:"beyond" doc:"more than a week past the last weighing: the curve is followed where nothing was weighed"`
	Mean   Interval      `json:"mean" doc:"mean of the marked bars"`
	Bars   []ExpectedBar `json:"bars" nullable:"false"`
}

// ExpectedBar is the expected mass of one marked bar, in grams.
type ExpectedBar struct {
	Bar string `json:"bar"`
	Interval
}

// Lightest is the lowest end of the intervals of the marked bars, in grams, rounded down: none of them is expected to be lighter.
func (e ExpectedMass) Lightest() decimal.Decimal {
	low := e.Mean.Low
	for _, b := range e.Bars {
		low = decimal.Min(low, b.Low)
	}
	return low.RoundFloor(1)
}

// BarWeighing is a weighing of a marked bar that stands.
type BarWeighing struct {
	Entry      int64            `json:"entry"`
	Bar        string           `json:"bar"`
	HappenedAt time.Time        `json:"happened_at"`
	Days       decimal.Decimal  `json:"days" doc:"days of 24 hours from the cut"`
	Typed      string           `json:"typed"`
	TypedUnit  string           `json:"typed_unit"`
	Grams      decimal.Decimal  `json:"grams"`
	Expected   *decimal.Decimal `json:"expected,omitempty" doc:"by the curve, in grams; none: no curve"`
	Instrument string           `json:"instrument,omitempty"`
	Person     string           `json:"person"`
	Odd        string           `json:"odd,omitempty" doc:"why it does not go with the others; it counts all the same until it is put right"`
}

// Fitted gives what the curve was fitted from and what came of it, for who draws it: the moment of the cut, the curve or nil, the odd
// weighings, and the rules.
func (c LotCure) Fitted() (cutOn time.Time, curve *cure.Curve, odd []cure.Outlier, rules cure.Rules) {
	return c.cutOn, c.curve, c.odd, c.rules
}

// OddOnes are the weighings that do not go with the others.
func (c LotCure) OddOnes() []BarWeighing {
	return slices.DeleteFunc(slices.Clone(c.Weighings), func(w BarWeighing) bool { return w.Odd == "" })
}

// Cure works out how the bars of a batch cure, as of now. on, where it is not zero, is a day to foretell masses for: from the
// cut to two years after it. It fails for a batch that was not cut.
func (l *Ledger) Cure(ctx context.Context, batch int64, on time.Time) (*Cure, error) {
	b, err := readBatch(ctx, l.pool, batch)
	if err != nil {
		return nil, err
	}
	if b.Purpose != ForSoap {
		return nil, conflict("batch %s makes no bars, so that nothing of it cures; ask about a batch of soap", b.Code)
	}
	if b.CutAt == nil {
		return nil, conflict("batch %s was not cut, so that no bar of it cures; record what it gave first", b.Code)
	}
	shop, err := readShop(ctx, l.pool)
	if err != nil {
		return nil, err
	}
	k := curing(b, shop, l.Now())
	if err := k.ask(on); err != nil {
		return nil, err
	}
	if err := k.decided(ctx, l.pool, b); err != nil {
		return nil, err
	}
	lots, err := l.Outputs(ctx, batch)
	if err != nil {
		return nil, err
	}
	readings, err := readReadings(ctx, l.pool, batch)
	if err != nil {
		return nil, err
	}
	return k.of(b, lots, readings), nil
}

// ReadyDays foretells for batches that cure the day on which all their weighed bars can be ready by both rules. A batch for which that is not
// known has none.
func (l *Ledger) ReadyDays(ctx context.Context, batches []Batch) (map[int64]time.Time, error) {
	out := map[int64]time.Time{}
	batches = slices.DeleteFunc(slices.Clone(batches), func(b Batch) bool { return b.Stage != Curing || b.CutAt == nil })
	if len(batches) == 0 {
		return out, nil
	}
	shop, err := readShop(ctx, l.pool)
	if err != nil {
		return nil, err
	}
	ids := make([]int64, len(batches))
	for i, b := range batches {
		ids[i] = b.ID
	}
	lots, err := all[Lot](ctx, l.pool, `select `+lotColumns+` from lot l where l.batch_id = any($1) and l.struck_by is null order by l.id`, ids)
	if err != nil {
		return nil, err
	}
	readings, err := all[Reading](ctx, l.pool, readingColumns+`where r.kind = 'bar mass' and r.lot_id in (select id from lot where batch_id = any($1)) order by r.happened_at, r.entry_id`, ids)
	if err != nil {
		return nil, err
	}
	for _, b := range batches {
		its := slices.DeleteFunc(slices.Clone(lots), func(lot Lot) bool { return *lot.BatchID != b.ID })
		if c := curing(b, shop, l.Now()).of(b, its, readings); c.ReadyOn != nil {
			out[b.ID] = *c.ReadyOn
		}
	}
	return out, nil
}
