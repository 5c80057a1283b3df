package ledger

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/shopspring/decimal"

	"ashbook/ledger/lye"
	"ashbook/ledger/soap"
)

// LyeState is the lye sum of a batch as it was weighed so far.
type LyeState struct {
	Known         bool            `json:"known" doc:"false until oils and alkali are in"`
	Superfat      decimal.Decimal `json:"superfat" doc:"fraction, at the middle of the saponification ranges"`
	Low           decimal.Decimal `json:"low" doc:"fraction, if every oil lies at the low end of its range"`
	High          decimal.Decimal `json:"high" doc:"fraction, if every oil lies at the high end of its range"`
	OilGrams      decimal.Decimal `json:"oil_grams"`
	AlkaliGrams   decimal.Decimal `json:"alkali_grams" doc:"as weighed, premixed lye seen through"`
	WaterGrams    decimal.Decimal `json:"water_grams"`
	Concentration decimal.Decimal `json:"concentration" doc:"alkali / (alkali + water), as weighed"`
	Budget        *LyeBudget      `json:"budget,omitempty" doc:"how sure the superfat is, the lots' own certificates used"`
	Published     *LyeBudget      `json:"published,omitempty" doc:"how sure it would be by the published ranges alone; only where a certificate was used"`
}

// LyeBudget says how sure a superfat is, by JCGM 100 from the ranges of the saponification values, the purity of the
// alkali and the steps of the scales.
type LyeBudget struct {
	Superfat    decimal.Decimal `json:"superfat" doc:"fraction"`
	Uncertainty decimal.Decimal `json:"uncertainty" doc:"standard uncertainty of the superfat, fraction"`
	From        decimal.Decimal `json:"from" doc:"lower end of the 95 % interval, fraction"`
	To          decimal.Decimal `json:"to" doc:"upper end of the 95 % interval, fraction"`
	Chance      decimal.Decimal `json:"chance" doc:"chance that the superfat is below zero, that is, of lye-heavy soap: 0 to 1"`
	Words       string          `json:"words" doc:"what the uncertainty comes from, and what would narrow it"`
	Inputs      []LyeInput      `json:"inputs" doc:"the largest first"`
}

// LyeInput is the part of one input in the uncertainty.
type LyeInput struct {
	Name     string          `json:"name" doc:"the oil or alkali"`
	Quantity string          `json:"quantity" doc:"saponification value, purity or mass"`
	Share    decimal.Decimal `json:"share" doc:"of the variance, 0 to 1"`
	// Nil for what is no mass, for a plan, and for what was measured out with a spoon.
	Step *decimal.Decimal `json:"step_grams,omitempty" doc:"of a mass as weighed: the step that its scale was taken to show, g; the coarsest where it was weighed more than once"`
}

// newLyeBudget rounds what statistics give to what can be meant.
func newLyeBudget(oils []soap.Oil, alkalis []soap.Alkali, acids ...soap.Acid) (*LyeBudget, error) {
	b, err := soap.Uncertainty(oils, alkalis, acids...)
	if err != nil {
		return nil, err
	}
	round := func(v float64) decimal.Decimal { return decimal.NewFromFloat(v).Round(6) }
	budget := &LyeBudget{Superfat: b.Superfat, Uncertainty: round(b.U), From: round(b.Low), To: round(b.High), Chance: round(b.LyeHeavy), Words: b.Words()}
	for _, in := range b.Inputs {
		budget.Inputs = append(budget.Inputs, LyeInput{Name: in.Name, Quantity: in.Quantity, Share: round(in.Share)})
	}
	return budget, nil
}

// weighedIn says with what step each mass was weighed.
func (b *LyeBudget) weighedIn(steps map[string]decimal.Decimal) {
	for i := range b.Inputs {
		if step := steps[b.Inputs[i].Name].Round(3); b.Inputs[i].Quantity == soap.Mass && step.IsPositive() {
			b.Inputs[i].Step = &step
		}
	}
}

// figures are the superfat and its chances in a few words.
func (b *LyeBudget) figures() string {
	return fmt.Sprintf("superfat %s %%, 95 %% sure that it lies between %s %% and %s %%; chance of lye-heavy soap %s",
		Percent(b.Superfat), Percent(b.From), Percent(b.To), b.ChanceText())
}

// ChanceText is the chance in per cent, with no more figures than it deserves.
func (b *LyeBudget) ChanceText() string {
	switch c := b.Chance.Shift(2); {
	case c.LessThan(decimal.New(1, -1)):
		return "below 0.1 %"
	case c.LessThan(decimal.NewFromInt(10)):
		return c.StringFixed(1) + " %"
	default:
		return c.StringFixed(0) + " %"
	}
}

// Main are the inputs that make a hundredth of the variance or more.
func (b *LyeBudget) Main() []LyeInput {
	return slices.DeleteFunc(slices.Clone(b.Inputs), func(in LyeInput) bool { return in.Share.LessThan(decimal.New(1, -2)) })
}

// pot is what the lye sum sees of a batch: oils and alkalis by lot, premixes and stock lye seen through. A lot that was
// weighed twice is one oil: its saponification value is the same both times.
type pot struct {
	oils    []soap.Oil
	alkalis []soap.Alkali
	acids   []soap.Acid
	// The oils and alkalis as the published ranges have them, without the certificates of their lots.
	published []soap.Oil
	certified bool
	steps     map[string]decimal.Decimal // g, the coarsest with which each was weighed, by the name it has in the budget
	state     LyeState
}

// potLot adds up what one bought lot has in the pot.
type potLot struct {
	lot      familyLot
	grams    decimal.Decimal
	variance float64         // of the grams
	step     decimal.Decimal // g, the coarsest of its weighings
}

// readPot sums what is really in the pot: oils inside dispersions and alkali inside stock lye are seen through.
func readPot(ctx context.Context, q querier, batch int64) (*pot, error) {
	f, err := loadFamily(ctx, q, []int64{batch}, false)
	if err != nil {
		return nil, err
	}
	uses, err := all[ladled](ctx, q, `select lot_id, poured_grams, typed, unit, grams, scale from weighing
		where batch_id = $1 and struck_by is null and not leaves order by entry_id`, batch)
	if err != nil {
		return nil, err
	}
	scales, err := readScales(ctx, q, batch)
	if err != nil {
		return nil, err
	}
	lots, err := f.ladle(uses, scales)
	if err != nil {
		return nil, err
	}
	p := &pot{steps: map[string]decimal.Decimal{}}
	for _, l := range lots {
		p.add(l, f.materials[l.lot.Material])
	}
	return p, nil
}

// ladle sees each weighing through to its bought lots and adds them up by lot, in the order in which they first came.
func (f *family) ladle(uses []ladled, scales *scales) ([]*potLot, error) {
	var lots []*potLot
	at := map[int64]*potLot{}
	for _, use := range uses {
		parts, err := f.Composition(use.Lot)
		if err != nil {
			return nil, err
		}
		step := scales.step(use)
		u := use.uncertainty(step)
		for _, part := range parts {
			id := int64(part.Lot)
			l, ok := at[id]
			if !ok {
				l = &potLot{lot: f.lots[id]}
				at[id] = l
				lots = append(lots, l)
			}
			l.grams = l.grams.Add(use.Grams.Mul(part.Share))
			share := u * part.Share.InexactFloat64()
			l.variance += share * share
			l.step = decimal.Max(l.step, step)
		}
	}
	return lots, nil
}

func (p *pot) add(l *potLot, m Material) {
	u := decimal.NewFromFloat(math.Sqrt(l.variance)).Round(9)
	s := &p.state
	switch m.Kind {
	case "oil":
		o := oilOf(m, l.grams)
		o.GramsU = u
		p.steps[o.Name] = decimal.Max(p.steps[o.Name], l.step)
		p.published, p.oils = append(p.published, o), append(p.oils, certified(o, l.lot))
		p.certified = p.certified || l.lot.SAPValue != nil
		s.OilGrams = s.OilGrams.Add(l.grams)
	case "alkali":
		a := alkaliOf(m, l.lot, l.grams)
		a.GramsU = u
		p.steps[a.Kind] = decimal.Max(p.steps[a.Kind], l.step)
		p.alkalis = append(p.alkalis, a)
		s.AlkaliGrams = s.AlkaliGrams.Add(l.grams)
	case "water":
		s.WaterGrams = s.WaterGrams.Add(l.grams)
	case "additive":
		p.acids = append(p.acids, acidsOf(m, l.grams)...)
	}
}

// lyeOf is the lye sum of a batch.
func lyeOf(ctx context.Context, q querier, batch int64) (LyeState, error) {
	p, err := readPot(ctx, q, batch)
	if err != nil {
		return LyeState{}, err
	}
	return p.lye()
}

func (p *pot) lye() (LyeState, error) {
	s := p.state
	if len(p.oils) == 0 || len(p.alkalis) == 0 {
		return s, nil
	}
	r, err := soap.Superfat(p.oils, p.alkalis, p.acids...)
	if err != nil {
		return s, err
	}
	s.Known, s.Superfat, s.Low, s.High = true, r.Superfat, r.Low, r.High
	if s.Budget, err = newLyeBudget(p.oils, p.alkalis, p.acids...); err != nil {
		return s, err
	}
	s.Budget.weighedIn(p.steps)
	if p.certified {
		if s.Published, err = newLyeBudget(p.published, p.alkalis, p.acids...); err != nil {
			return s, err
		}
		s.Published.weighedIn(p.steps)
	}
	if s.WaterGrams.IsPositive() {
		s.Concentration, err = lye.Concentration(s.AlkaliGrams, s.WaterGrams)
	}
	return s, err
}

// oilOf is an oil for the lye sum over its published range.
func oilOf(m Material, grams decimal.Decimal) soap.Oil {
	return soap.Oil{Name: m.Name, Grams: grams, SAPMin: *m.SAPMin, SAPMax: *m.SAPMax, NoGlycerol: m.NoGlycerol || m.FreeAcid}
}

// acidsOf is the acid in some grams of an additive; nothing of one that takes up no alkali.
func acidsOf(m Material, grams decimal.Decimal) []soap.Acid {
	if m.AcidEquiv == nil {
		return nil
	}
	return []soap.Acid{{Name: m.Name, Grams: grams.Mul(orUsual(m.AcidShare, decimal.NewFromInt(1))), EquivalentMass: *m.AcidEquiv}}
}

// certified narrows an oil to the value of its lot's own certificate, as far as that may be off.
func certified(o soap.Oil, lot familyLot) soap.Oil {
	if lot.SAPValue != nil {
		half := orUsual(lot.SAPHalf, UsualSAPHalf)
		o.SAPMin, o.SAPMax = lot.SAPValue.Sub(half), lot.SAPValue.Add(half)
	}
	return o
}

// alkaliOf is an alkali for the lye sum by its certificate. Without one it is taken as pure: the answer then errs
// towards "too much lye", which is the safe side.
func alkaliOf(m Material, lot familyLot, grams decimal.Decimal) soap.Alkali {
	a := soap.Alkali{Kind: m.Alkali, Grams: grams, Purity: decimal.NewFromInt(1)}
	if lot.Purity != nil {
		a.Purity, a.PurityHalf = *lot.Purity, orUsual(lot.PurityHalf, UsualPurityHalf)
	}
	return a
}

// Lye gives the lye sum of a batch as weighed so far.
func (l *Ledger) Lye(ctx context.Context, batch int64) (LyeState, error) {
	return lyeOf(ctx, l.pool, batch)
}

// LyeLimits are the chances of lye-heavy soap at which the gates of a batch warn and stop: the formula's, else the shop's.
type LyeLimits struct {
	Warn decimal.Decimal `json:"warn"`
	Stop decimal.Decimal `json:"stop"`
}

func lyeLimits(ctx context.Context, q querier, batch int64) (LyeLimits, error) {
	return one[LyeLimits](ctx, q, `select coalesce(v.lye_warn, s.lye_warn, $2), coalesce(v.lye_stop, s.lye_stop, $3)
		from batch b left join formula_version v on v.id = b.formula_version_id left join shop s on true where b.id = $1`, batch, usual.LyeWarn, usual.LyeStop)
}

// farFromPlan is a difference of superfat that deserves a look even when it is safe. Common practice, no source.
var farFromPlan = decimal.New(3, -2)

// judgeLye looks whether what was weighed may make lye-heavy soap. Below zero it always stops; above, the chance decides.
func judgeLye(ctx context.Context, q querier, j *Judgement, b Batch) error {
	lye, err := lyeOf(ctx, q, b.ID)
	if err != nil {
		return err
	}
	if !lye.Known {
		return judgeWithoutLye(ctx, q, j, b.ID, lye)
	}
	limits, err := lyeLimits(ctx, q, b.ID)
	if err != nil {
		return err
	}
	seeLye(j, lye, limits)
	if lye.Superfat.IsNegative() {
		j.add(Stop, "lye-heavy", fmt.Sprintf("superfat as weighed %s %%: more alkali than the oils can take. Do not combine; weigh again or add oil", Percent(lye.Superfat)))
	} else {
		judgeChance(j, lye.Budget, limits, "as weighed: ")
		if _, err := judgeReworkInPot(ctx, q, j, b.ID); err != nil {
			return err
		}
	}
	if b.Superfat != nil && lye.Superfat.Sub(*b.Superfat).Abs().GreaterThan(farFromPlan) {
		j.add(Warn, "superfat-off-plan", fmt.Sprintf("superfat as weighed %s %%, planned %s %%", Percent(lye.Superfat), Percent(*b.Superfat)))
	}
	return nil
}

// judgeWithoutLye looks at a pot in which fresh oils and fresh alkali have not met. Soap that is only made over needs neither:
// what it brings is judged instead. Fresh oil beside it stays in the soap, but for what free alkali there takes.
func judgeWithoutLye(ctx context.Context, q querier, j *Judgement, batch int64, lye LyeState) error {
	if lye.AlkaliGrams.IsPositive() {
		j.add(Stop, "lye-unknown", fmt.Sprintf("the superfat cannot be worked out: %s g of alkali are in the pot and no fresh oil. Do not combine; weigh the oils, or strike the weighing of the alkali",
			lye.AlkaliGrams.Round(3)))
		return nil
	}
	reworked, err := judgeReworkInPot(ctx, q, j, batch)
	switch {
	case err != nil:
		return err
	case reworked == nil:
		j.add(Stop, "lye-unknown", "the superfat cannot be worked out: there is no alkali in the pot yet, and no soap that is made over")
	case lye.OilGrams.IsPositive():
		j.add(Warn, "oil-without-alkali", fmt.Sprintf("%s g of fresh oil are in without fresh alkali and add to the superfat of the soap that is made over: %s. Weigh alkali if it was forgotten",
			lye.OilGrams.Round(3), alkaliText(*reworked)))
	}
	return nil
}

// judgeChance weighs the chance of lye-heavy soap against the limits.
func judgeChance(j *Judgement, b *LyeBudget, limits LyeLimits, of string) {
	text := fmt.Sprintf("%s%s. %s", of, b.figures(), b.Words)
	switch {
	case b.Chance.GreaterThan(limits.Stop):
		j.add(Stop, "lye-heavy-likely", fmt.Sprintf("%s The limit is %s %%: add oil, or use a lot with a certificate", text, limits.Stop.Shift(2)))
	case b.Chance.GreaterThan(limits.Warn):
		j.add(Warn, "lye-heavy-possible", fmt.Sprintf("%s A warning is due above %s %%", text, limits.Warn.Shift(2)))
	}
}

// Percent writes a share as per cent with one decimal. What is below zero is rounded away from it, so that it never reads as nothing.
func Percent(share decimal.Decimal) string {
	if share.IsNegative() {
		return share.Shift(2).RoundFloor(1).StringFixed(1)
	}
	return share.Shift(2).StringFixed(1)
}
