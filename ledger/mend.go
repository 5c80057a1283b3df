package ledger

import (
	"context"
	"iter"
	"slices"
	"time"

	"github.com/shopspring/decimal"

	"ashbook/ledger/lye"
	"ashbook/ledger/soap"
)

// Mend says how much alkali fits the oils that are really in the pot, and what mends a slip before oils and lye meet.
type Mend struct {
	OilsOpen bool            `json:"oils_open" doc:"oils of the weigh list still wait; they are counted as planned"`
	Superfat decimal.Decimal `json:"superfat" doc:"the superfat that the plan wants, fraction"`
	Expected decimal.Decimal `json:"expected" doc:"the superfat when all that still waits is weighed as planned, fraction"`
	Budget   *LyeBudget      `json:"budget,omitempty" doc:"how sure that is"`
	Lines    []MendLine      `json:"lines" doc:"the lines of alkali and of stock lye"`
	Oils     []MendOil       `json:"oils,omitempty" doc:"when more alkali is in than fits: how much of an oil would mend it, any one of them"`
}

// MendLine is a line of alkali or of stock lye with the mass that fits the oils.
type MendLine struct {
	Line    int             `json:"line"`
	Name    string          `json:"name"`
	Planned decimal.Decimal `json:"planned" doc:"g"`
	Right   decimal.Decimal `json:"right" doc:"g, for the oils that are in and those that still come, at the purity of the lot or else of the plan"`
	Weighed decimal.Decimal `json:"weighed" doc:"g"`
	Left    decimal.Decimal `json:"left" doc:"g, still to weigh; zero or more"`
}

// MendOil is an oil that could be added.
type MendOil struct {
	Material int64           `json:"material"`
	Name     string          `json:"name"`
	Grams    decimal.Decimal `json:"grams"`
}

// mender works in equivalents: mol of hydroxide.
type mender struct {
	batch Batch
	lines []BatchLine
	pot   *pot
	plan  planner
	step  decimal.Decimal
	// inGram is the alkali in a gram of what a lye line is weighed from: the usable lot that is first to expire, or else the plan.
	inGram map[int][]soap.Alkali
}

// Mend tells what still makes the lye fit. It is nil for what is no soap.
func (l *Ledger) Mend(ctx context.Context, batch int64) (*Mend, error) {
	b, err := readBatch(ctx, l.pool, batch)
	if err != nil || b.Purpose != ForSoap {
		return nil, err
	}
	m, err := newMender(ctx, l.pool, b, l.Now())
	if err != nil {
		return nil, err
	}
	return m.mend()
}

func newMender(ctx context.Context, q querier, b Batch, at time.Time) (*mender, error) {
	m := &mender{batch: b, inGram: map[int][]soap.Alkali{}}
	var err error
	if m.lines, err = readLines(ctx, q, b.ID); err != nil {
		return nil, err
	}
	if m.pot, err = readPot(ctx, q, b.ID); err != nil {
		return nil, err
	}
	formula, err := readFormula(ctx, q, *b.FormulaVersion)
	if err != nil {
		return nil, err
	}
	limits, err := benchLimits(ctx, q)
	if err != nil {
		return nil, err
	}
	m.step, m.plan = limits.ScaleStep, newPlanner(formula, limits)
	if err := m.plan.load(ctx, q); err != nil {
		return nil, err
	}
	return m, m.readOffered(ctx, q, at)
}

// readOffered looks into the lot that is offered first for each lye line, so that the figure is right for what is weighed.
func (m *mender) readOffered(ctx context.Context, q querier, at time.Time) error {
	for _, line := range m.lines {
		if !line.Lye {
			continue
		}
		m.inGram[line.Line] = m.plan.alkalisIn(line.Material, decimal.NewFromInt(1))
		first, err := readLots(ctx, q, LotQuery{Material: line.Material, Usable: true, Limit: 1}, at)
		if err != nil {
			return err
		}
		if len(first) == 0 {
			continue
		}
		if m.inGram[line.Line], err = alkalisInLot(ctx, q, first[0]); err != nil {
			return err
		}
	}
	return nil
}

func (m *mender) mend() (*Mend, error) {
	oils, open := m.oils()
	r := &Mend{OilsOpen: open, Superfat: *m.batch.Superfat}
	if len(oils) == 0 {
		return r, nil
	}
	left, err := m.left(oils)
	if err != nil {
		return nil, err
	}
	if err := m.expect(r, oils); err != nil {
		return nil, err
	}
	for _, line := range m.lines {
		if !line.Lye {
			continue
		}
		share, perGram := m.share(line, left), m.strength(line)
		if perGram.IsZero() {
			continue
		}
		one := MendLine{Line: line.Line, Name: line.Name, Planned: line.Planned, Weighed: line.Weighed}
		one.Right = soap.ToStep(line.Weighed.Add(share.DivRound(perGram, 6)), m.step)
		one.Left = decimal.Max(decimal.Zero, one.Right.Sub(line.Weighed))
		r.Lines = append(r.Lines, one)
	}
	if !open {
		r.Oils, err = m.oilsToAdd(oils, left)
	}
	return r, err
}

// waiting gives the lines that wait to be weighed, with the grams that the plan has left of them.
func (m *mender) waiting() iter.Seq2[BatchLine, decimal.Decimal] {
	return func(yield func(BatchLine, decimal.Decimal) bool) {
		for _, line := range m.lines {
			if left := line.Planned.Sub(line.Weighed); line.Missing() && left.IsPositive() && !yield(line, left) {
				return
			}
		}
	}
}

// oils are those in the pot, and of those that still wait what the plan has left.
func (m *mender) oils() (list []soap.Oil, open bool) {
	list = append(list, m.pot.oils...)
	for line, left := range m.waiting() {
		for _, o := range m.plan.oilsIn(line.Material, left) {
			o.GramsU = m.plan.massU(o.Grams)
			list, open = append(list, o), true
		}
	}
	return list, open
}

// expect works out the superfat when the lines that wait are weighed as planned, and how sure it is.
func (m *mender) expect(r *Mend, oils []soap.Oil) (err error) {
	alkalis := slices.Clone(m.pot.alkalis)
	for line, left := range m.waiting() {
		for _, a := range m.inGram[line.Line] {
			a.Grams, a.GramsU = a.Grams.Mul(left), m.plan.massU(left)
			alkalis = append(alkalis, a)
		}
	}
	if r.Budget, err = newLyeBudget(oils, alkalis, m.acids()...); err == nil {
		r.Expected = r.Budget.Superfat
	}
	return err
}

// acids are those in the pot, and of those that still wait what the plan has left.
func (m *mender) acids() []soap.Acid {
	list := slices.Clone(m.pot.acids)
	for line, left := range m.waiting() {
		list = append(list, m.plan.acidsIn(line.Material, left)...)
	}
	return list
}

// left is how much hydroxide the oils and acids still want at the superfat of the plan, in mol; below zero when too much is in.
func (m *mender) left(oils []soap.Oil) (decimal.Decimal, error) {
	in, err := equivalents(m.pot.alkalis)
	if err != nil {
		return in, err
	}
	right, err := soap.AlkaliToWeigh(oils, *m.batch.Superfat, decimal.NewFromInt(1), lye.KOH, m.acids()...)
	return right.DivRound(lye.MolarKOH, 24).Sub(in), err
}

// equivalents are the mol of hydroxide in alkalis.
func equivalents(alkalis []soap.Alkali) (sum decimal.Decimal, err error) {
	for _, a := range alkalis {
		molar, err := lye.MolarMass(a.Kind)
		if err != nil {
			return sum, err
		}
		sum = sum.Add(a.Grams.Mul(a.Purity).DivRound(molar, 24))
	}
	return sum, nil
}

// strength is mol of hydroxide in a gram of what a line is weighed from. Materials have known alkalis.
func (m *mender) strength(line BatchLine) decimal.Decimal {
	e, _ := equivalents(m.inGram[line.Line])
	return e
}

// share is the part of what is left that falls on a line: the lye lines that still wait share it as the plan has it;
// when all are weighed, all do.
func (m *mender) share(line BatchLine, left decimal.Decimal) decimal.Decimal {
	waiting := slices.ContainsFunc(m.lines, func(l BatchLine) bool { return l.Lye && l.Missing() })
	sum, own := decimal.Zero, decimal.Zero
	for _, l := range m.lines {
		if !l.Lye || waiting && !l.Missing() {
			continue
		}
		e := m.strength(l).Mul(l.Planned)
		sum = sum.Add(e)
		if l.Line == line.Line {
			own = e
		}
	}
	if sum.IsZero() {
		return sum
	}
	return left.Mul(own).DivRound(sum, 24)
}

// oilsToAdd tells of each oil of the plan how much of it would take what is too much, and leave the superfat besides. What
// is within the tolerance of the alkali's lines wants no mending.
func (m *mender) oilsToAdd(oils []soap.Oil, left decimal.Decimal) (list []MendOil, err error) {
	within := decimal.Zero
	for _, line := range m.lines {
		if line.Lye {
			within = within.Add(m.strength(line).Mul(line.Tolerance))
		}
	}
	if left.Neg().LessThanOrEqual(within) {
		return nil, nil
	}
	for _, line := range m.lines {
		if line.Kind != "oil" || slices.ContainsFunc(list, func(o MendOil) bool { return o.Material == line.Material }) {
			continue
		}
		one := m.plan.oilsIn(line.Material, decimal.NewFromInt(1))[0]
		mend, err := soap.OilFor(oils, *m.batch.Superfat, one, m.pot.alkalis, m.acids()...)
		if err != nil {
			return nil, err
		}
		list = append(list, MendOil{line.Material, line.Name, soap.ToStep(mend.Add, m.step)})
	}
	return list, nil
}

// rightFor is the mass of a lot that makes a line fit the oils in the pot, at the lot's own strength; false when oils still
// wait or the lot holds no alkali.
func (m *mender) rightFor(ctx context.Context, q querier, line BatchLine, lot Lot) (decimal.Decimal, bool, error) {
	oils, open := m.oils()
	if open || len(oils) == 0 {
		return decimal.Zero, false, nil
	}
	left, err := m.left(oils)
	if err != nil {
		return decimal.Zero, false, err
	}
	inside, err := alkalisInLot(ctx, q, lot)
	if err != nil {
		return decimal.Zero, false, err
	}
	perGram, err := equivalents(inside)
	if err != nil || perGram.IsZero() {
		return decimal.Zero, false, err
	}
	return line.Weighed.Add(m.share(line, left).DivRound(perGram, 6)), true, nil
}

// alkalisInLot are the alkalis in one gram of a lot, with their certificates.
func alkalisInLot(ctx context.Context, q querier, lot Lot) ([]soap.Alkali, error) {
	if lot.BatchID == nil {
		m, err := readMaterial(ctx, q, *lot.MaterialID)
		if err != nil || m.Kind != "alkali" {
			return nil, err
		}
		return []soap.Alkali{alkaliOf(m, familyLot{Purity: lot.Purity, PurityHalf: lot.PurityHalf}, decimal.NewFromInt(1))}, nil
	}
	f, err := loadFamily(ctx, q, []int64{*lot.BatchID}, false)
	if err != nil {
		return nil, err
	}
	parts, err := f.Composition(lot.ID)
	if err != nil {
		return nil, err
	}
	var list []soap.Alkali
	for _, p := range parts {
		from := f.lots[p.Lot]
		if m := f.materials[from.Material]; m.Kind == "alkali" {
			list = append(list, alkaliOf(m, from, p.Share))
		}
	}
	return list, nil
}
