package ledger

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"ashbook/ledger/lye"
	"ashbook/ledger/measure"
)

// LyeStrength is how strong a lye is by what was weighed and by the last density that was read, and how the two agree.
type LyeStrength struct {
	Alkali     string           `json:"alkali,omitempty" doc:"NaOH or KOH; none when there are both, of which no density is known"`
	ByMass     *Strength        `json:"by_mass,omitempty"`
	ByDensity  *Strength        `json:"by_density,omitempty"`
	Reading    int64            `json:"reading,omitempty" doc:"the entry of the density reading"`
	Difference *decimal.Decimal `json:"difference,omitempty" doc:"by density less by mass, mass fraction"`
	Apart      *decimal.Decimal `json:"apart,omitempty" doc:"the difference in its own standard uncertainties"`
	Verdict    string           `json:"verdict,omitempty" doc:"agree: below 2 standard uncertainties apart; doubtful: 2 to 3; disagree: above 3"`
	Words      string           `json:"words,omitempty"`
	LooksLike  []string         `json:"looks_like,omitempty" doc:"what such a difference may come from, the likeliest first"`
	Carbonate  string           `json:"carbonate,omitempty" doc:"what a density cannot see"`
	Notes      []string         `json:"notes,omitempty" doc:"what was taken for what was not known"`
}

// Strength is the mass fraction of pure hydroxide, not of alkali as weighed.
type Strength struct {
	Share       decimal.Decimal `json:"share" doc:"mass fraction of pure hydroxide"`
	Uncertainty decimal.Decimal `json:"uncertainty" doc:"standard uncertainty of the share"`
}

func strengthOf(e lye.Estimate) *Strength {
	return &Strength{e.Share.Round(6), decimal.NewFromFloat(e.U).Round(6)}
}

// Disagrees tells that the two routes are too far apart for the lye to be used.
func (s *LyeStrength) Disagrees() bool { return s.Verdict == string(lye.Disagree) }

// Doubtful tells that they are further apart than usual.
func (s *LyeStrength) Doubtful() bool { return s.Verdict == string(lye.Doubtful) }

// thermometerHalf is how far a thermometer at the bench may be off to either side, °C. Common practice, no source.
var thermometerHalf = decimal.NewFromInt(1)

// Alkali without a certificate is taken for what the pharmacopoeia lets pass: USP-NF, 95.0 to 100.5 % for sodium hydroxide, of which no
// more than all of it can be hydroxide; from 85.0 % for potassium hydroxide.
var leastPurity = map[string]decimal.Decimal{lye.NaOH: decimal.New(95, -2), lye.KOH: decimal.New(85, -2)}

// lyeUse is one weighing into a lye, with what its lot is.
type lyeUse struct {
	ladled
	Code   string
	What   string
	Batch  int64
	Kind   string
	Alkali string
	Purity *decimal.Decimal
	Half   *decimal.Decimal
}

// lyeUses are the weighings into a batch, of soap without those into one portion, which come after its lye.
const lyeUses = `select w.lot_id, w.poured_grams, w.typed, w.unit, w.grams, w.scale, l.code, l.what, coalesce(l.batch_id, 0),
	coalesce(m.kind, ''), coalesce(m.alkali, ''), l.purity, l.purity_half
	from weighing w join lot l on l.id = w.lot_id left join material m on m.id = l.material_id
	where w.batch_id = $1 and w.struck_by is null and not w.leaves and w.portion = '' order by w.entry_id`

// lyeMix is what went into a lye.
type lyeMix struct {
	kind  string // NaOH or KOH; empty when there are both, or none yet
	both  bool
	parts []lye.Part
	at    map[int64]int // the part of each lot of alkali, whose purity is the same at each weighing
	notes []string
}

// mixOf is the lye in a batch, or that of a prepared lot.
func mixOf(ctx context.Context, q querier, batch, lot int64) (*lyeMix, error) {
	if batch == 0 {
		l, err := readLot(ctx, q, lot)
		if err != nil || l.BatchID == nil {
			return &lyeMix{}, err
		}
		batch = *l.BatchID
	}
	b, err := readBatch(ctx, q, batch)
	if err != nil {
		return nil, err
	}
	return readMix(ctx, q, b.ID, b.Purpose == ForSoap)
}

// readMix gathers what makes the lye of a batch: alkali, water, and stock lye with all that is in it. What is weighed into soap besides
// is no part of its lye; into stock lye it is.
func readMix(ctx context.Context, q querier, batch int64, soap bool) (*lyeMix, error) {
	uses, err := all[lyeUse](ctx, q, lyeUses, batch)
	if err != nil {
		return nil, err
	}
	scales, err := readScales(ctx, q, batch)
	if err != nil {
		return nil, err
	}
	m := &lyeMix{at: map[int64]int{}}
	in, water := decimal.Zero, []int{}
	for _, use := range uses {
		in = in.Add(use.Weight)
		if use.Kind == "water" {
			water = append(water, len(m.parts))
		}
		grams := measure.Measured{Value: use.Weight, U: decimal.NewFromFloat(use.uncertainty(scales.step(use.ladled))).Round(9)}
		switch {
		case use.Kind == "alkali":
			m.addAlkali(use, grams)
		case use.What == "prepared":
			err = m.addPrepared(ctx, q, use, grams, soap)
		case use.Kind == "water" || !soap:
			m.parts = append(m.parts, lye.Part{Grams: grams})
		}
		if err != nil {
			return nil, err
		}
	}
	filled, err := all[filling](ctx, q, fillings, []int64{batch})
	if err != nil || len(filled) == 0 {
		return m, err
	}
	masses := make([]*decimal.Decimal, len(water))
	for i, at := range water {
		masses[i] = &m.parts[at].Grams.Value
	}
	lower(masses, in.Sub(filled[0].Grams))
	return m, nil
}

func (m *lyeMix) addAlkali(use lyeUse, grams measure.Measured) {
	m.meet(use.Alkali)
	if i, there := m.at[use.Lot]; there {
		p := &m.parts[i].Grams
		u := math.Hypot(p.U.InexactFloat64(), grams.U.InexactFloat64())
		*p = measure.Measured{Value: p.Value.Add(grams.Value), U: decimal.NewFromFloat(u).Round(9)}
		return
	}
	m.at[use.Lot] = len(m.parts)
	m.parts = append(m.parts, lye.Part{Grams: grams, Share: m.purity(use)})
}

// purity is that of the certificate, else anything that the pharmacopoeia lets pass.
func (m *lyeMix) purity(use lyeUse) measure.Measured {
	if use.Purity != nil {
		return measure.Measured{Value: *use.Purity, U: measure.Rectangular(orUsual(use.Half, UsualPurityHalf))}
	}
	one, least := decimal.NewFromInt(1), leastPurity[use.Alkali]
	two := decimal.NewFromInt(2)
	m.notes = append(m.notes, fmt.Sprintf("No purity is stated for %s: anything from %s to 100 %% was taken (USP-NF).", use.Code, least.Shift(2)))
	return measure.Measured{Value: one.Add(least).Div(two), U: measure.Rectangular(one.Sub(least).Div(two))}
}

func (m *lyeMix) meet(alkali string) {
	switch {
	case m.both || m.kind == alkali:
	case m.kind == "":
		m.kind = alkali
	default:
		m.kind, m.both = "", true
	}
}

// addPrepared sees through something prepared. Stock lye that dried on the shelf is as much stronger as it was counted when it was weighed.
func (m *lyeMix) addPrepared(ctx context.Context, q querier, use lyeUse, grams measure.Measured, soap bool) error {
	inner, err := readMix(ctx, q, use.Batch, false)
	if err != nil {
		return err
	}
	if inner.kind == "" && !inner.both {
		if !soap {
			m.parts = append(m.parts, lye.Part{Grams: grams})
		}
		return nil
	}
	e, err := inner.estimate(use.Grams, use.Weight)
	if err != nil {
		return err
	}
	if inner.both {
		m.kind, m.both = "", true
	} else {
		m.meet(inner.kind)
	}
	m.notes = append(m.notes, inner.notes...)
	m.parts = append(m.parts, lye.Part{Grams: grams, Share: measure.Measured{Value: e.Share, U: decimal.NewFromFloat(e.U).Round(12)}})
	return nil
}

// estimate is the strength of what was put together, of which so many grams as filled weigh left grams now: the rest dried away.
func (m *lyeMix) estimate(filled, left decimal.Decimal) (lye.Estimate, error) {
	e, err := lye.Blend(m.parts...)
	if err != nil || !left.IsPositive() {
		return e, err
	}
	factor := filled.DivRound(left, 12)
	e.Share = decimal.Min(e.Share.Mul(factor), decimal.NewFromInt(1))
	e.U *= factor.InexactFloat64()
	return e, nil
}

// byDensity is the strength that a density reading shows.
func byDensity(kind string, r Reading) (lye.Estimate, error) {
	return lye.ByDensity(kind, measure.Measured{Value: r.Value, U: *r.Uncertainty}, measure.Measured{Value: *r.AtCelsius, U: measure.Rectangular(thermometerHalf)})
}

// jug is what a prepared lot was filled with, and what of it has not dried away since; nothing before it is filled.
type jug struct{ Filled, Left decimal.Decimal }

const jugs = `select grams, grams - coalesce((select sum(amount) from balance where lot_id = lot.id and place = 'air'), 0) from lot `

// strengthOfBatch is the strength of the lye of a batch; nil when there is none in it.
func strengthOfBatch(ctx context.Context, q querier, batch int64) (*LyeStrength, error) {
	filled, err := all[jug](ctx, q, jugs+`where batch_id = $1 and what = 'prepared' and struck_by is null order by id limit 1`, batch)
	if err != nil {
		return nil, err
	}
	read, err := readReadings(ctx, q, batch)
	if err != nil {
		return nil, err
	}
	return strength(ctx, q, batch, filled, read)
}

// strengthOfLot is that of a prepared lot, by its own readings, else by those of its making; nil when it is no lye.
func strengthOfLot(ctx context.Context, q querier, lot Lot) (*LyeStrength, error) {
	if lot.What != "prepared" || lot.BatchID == nil {
		return nil, nil
	}
	filled, err := all[jug](ctx, q, jugs+`where id = $1`, lot.ID)
	if err != nil {
		return nil, err
	}
	read, err := all[Reading](ctx, q, readingColumns+`where r.lot_id = $1 order by r.happened_at, r.entry_id`, lot.ID)
	if err != nil {
		return nil, err
	}
	if lastDensity(read) == nil {
		if read, err = readReadings(ctx, q, *lot.BatchID); err != nil {
			return nil, err
		}
	}
	return strength(ctx, q, *lot.BatchID, filled, read)
}

// lastDensity is the last density reading that stands; nil when there is none.
func lastDensity(readings []Reading) *Reading {
	for _, r := range slices.Backward(readings) {
		if r.Type == LyeDensity && r.StruckBy == nil {
			return &r
		}
	}
	return nil
}

func strength(ctx context.Context, q querier, batch int64, filled []jug, readings []Reading) (*LyeStrength, error) {
	m, err := mixOf(ctx, q, batch, 0)
	if err != nil || m.kind == "" && !m.both {
		return nil, err
	}
	var now jug
	if len(filled) > 0 {
		now = filled[0]
	}
	byMass, err := m.estimate(now.Filled, now.Left)
	if err != nil {
		return nil, err
	}
	s := &LyeStrength{Alkali: m.kind, ByMass: strengthOf(byMass), Notes: m.notes}
	if r := lastDensity(readings); r != nil {
		s.hold(byMass, *r)
	}
	return s, nil
}

// hold sets the strength by density beside that by mass, or says why it cannot.
func (s *LyeStrength) hold(byMass lye.Estimate, r Reading) {
	s.Reading = r.Entry
	switch {
	case s.Alkali == "":
		s.Notes = append(s.Notes, "Both alkalis are in this lye, and no density of such a lye is known here: the reading cannot be compared.")
		return
	case r.AtCelsius == nil || r.Uncertainty == nil:
		s.Notes = append(s.Notes, "No temperature was written down with the density: the reading cannot be compared.")
		return
	}
	e, err := byDensity(s.Alkali, r)
	if err != nil {
		s.doubt(unwrapped(err))
		return
	}
	s.ByDensity = strengthOf(e)
	c, err := lye.Compare(byMass, e)
	if err != nil {
		s.doubt(unwrapped(err))
		return
	}
	difference, apart := c.Difference.Round(6), decimal.NewFromFloat(c.Ratio).Round(1)
	s.Difference, s.Apart = &difference, &apart
	s.Verdict, s.Words, s.LooksLike, s.Carbonate = string(c.Verdict), c.Text, c.LooksLike, c.Carbonate
}

// doubt is for a reading that was fine for what was in the pot when it was taken, and is not for what is in it now.
func (s *LyeStrength) doubt(why string) { s.Verdict, s.Words = string(lye.Doubtful), why }

// LyeStrength gives the strength of the lye of a batch, soap or stock lye; nil when no alkali is in it.
func (l *Ledger) LyeStrength(ctx context.Context, batch int64) (*LyeStrength, error) {
	return strengthOfBatch(ctx, l.pool, batch)
}

// StockStrength gives the strength of a prepared lot as it stands; nil when it is no lye.
func (l *Ledger) StockStrength(ctx context.Context, lot Lot) (*LyeStrength, error) {
	return strengthOfLot(ctx, l.pool, lot)
}

// judgeLyeStrength looks whether the lye is as strong by density as by mass: that of the pot, and each stock lye that went into it.
func judgeLyeStrength(ctx context.Context, q querier, j *Judgement, b Batch) error {
	s, err := strengthOfBatch(ctx, q, b.ID)
	if err != nil {
		return err
	}
	judgeStrength(j, s, "The lye of this batch")
	stock, err := column[int64](ctx, q, `select distinct l.id from weighing w join lot l on l.id = w.lot_id join material m on m.id = l.material_id
		where w.batch_id = $1 and w.struck_by is null and l.what = 'prepared' and `+burns+` order by l.id`, b.ID)
	if err != nil {
		return err
	}
	for _, id := range stock {
		lot, err := readLot(ctx, q, id)
		if err != nil {
			return err
		}
		s, err := strengthOfLot(ctx, q, lot)
		if err != nil {
			return err
		}
		judgeStrength(j, s, "The stock lye "+lot.Code)
	}
	return nil
}

func judgeStrength(j *Judgement, s *LyeStrength, of string) {
	if s == nil {
		return
	}
	if s.Apart != nil {
		j.see("%s: %s", of, s.Words)
	}
	if !s.Disagrees() && !s.Doubtful() {
		return
	}
	text := of + ": " + s.Words
	if s.Apart != nil {
		text += fmt.Sprintf(" They are %s standard uncertainties apart. It may be: %s", s.Apart, strings.Join(s.LooksLike, " "))
	}
	if s.Disagrees() {
		j.add(Stop, "lye-strength-disagrees", text)
		return
	}
	j.add(Warn, "lye-strength-doubtful", text)
}
