package ledger

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"ashbook/ledger/made"
	"ashbook/ledger/trace"
)

// ScentPart is a scent in a lot. The limit is for the finished product, and the cured bar holds more of it in a gram than
// the wet one; what of the scent evaporates in the cure counts as still there.
type ScentPart struct {
	Material int64            `json:"material"`
	Name     string           `json:"name"`
	Share    decimal.Decimal  `json:"share" doc:"fraction of the mass as poured; all lots of the scent together"`
	ShareNow decimal.Decimal  `json:"share_now" doc:"fraction of the mass now"`
	Limit    *decimal.Decimal `json:"limit,omitempty" doc:"highest share in the finished bar, the lowest that a certificate of its lots states; absent: none states any"`
	Over     bool             `json:"over" doc:"whether the share now is over the limit"`
	Lots     []ScentLot       `json:"lots" nullable:"false"`
}

// ScentLot is a lot of a scent with the limit of its certificate.
type ScentLot struct {
	Code       string           `json:"code"`
	LimitShare *decimal.Decimal `json:"limit_share,omitempty" doc:"absent: none is stated"`
	LimitNote  string           `json:"limit_note,omitempty"`
}

// scents are those in a lot, one of which weighs as many times as much as poured as it does now.
func (f *family) scents(lot int64, shrunk decimal.Decimal) ([]ScentPart, error) {
	parts, err := f.Composition(lot)
	if err != nil {
		return nil, err
	}
	list := []ScentPart{}
	for _, p := range parts {
		from := f.lots[p.Lot]
		m := f.materials[from.Material]
		if m.Kind != "scent" {
			continue
		}
		i := slices.IndexFunc(list, func(s ScentPart) bool { return s.Material == m.ID })
		if i < 0 {
			i = len(list)
			list = append(list, ScentPart{Material: m.ID, Name: m.Name, Lots: []ScentLot{}})
		}
		list[i].add(p.Share, from)
	}
	for i := range list {
		s := &list[i]
		s.ShareNow = s.Share.Mul(shrunk).Round(12)
		s.Over = s.overAt(s.ShareNow)
	}
	return list, nil
}

// add counts a lot in. The lots of one scent add up, and the strictest of their limits holds for all of it.
func (s *ScentPart) add(share decimal.Decimal, lot familyLot) {
	s.Share = s.Share.Add(share)
	if lot.Code != "" { // a plan has no lots
		s.Lots = append(s.Lots, ScentLot{lot.Code, lot.LimitShare, lot.LimitNote})
	}
	if l := lot.LimitShare; l != nil && (s.Limit == nil || l.LessThan(*s.Limit)) {
		s.Limit = l
	}
}

func (s *ScentPart) overAt(share decimal.Decimal) bool {
	return s.Limit != nil && share.GreaterThan(*s.Limit)
}

// allowed says what the strictest certificate allows, and of which lot it is.
func (s *ScentPart) allowed() string {
	i := slices.IndexFunc(s.Lots, func(l ScentLot) bool { return l.LimitShare != nil && l.LimitShare.Equal(*s.Limit) })
	text := fmt.Sprintf("the certificate of lot %s allows %s %% in the finished product", s.Lots[i].Code, s.Limit.Shift(2))
	if note := s.Lots[i].LimitNote; note != "" {
		text += " (" + note + ")"
	}
	return text
}

// scentShare is a share in per cent, rounded up so that what is over a limit never reads as within it.
func scentShare(share decimal.Decimal) string { return share.Shift(2).RoundUp(2).StringFixed(2) }

// usualWater is what a cured bar is taken to hold where nothing better is known. Common practice, no source.
var usualWater = decimal.New(1, -1)

// shrunkDry is how many times as much something weighs as poured as it does dried to the usual water; 1 if it holds no more.
func shrunkDry(water decimal.Decimal) decimal.Decimal {
	one := decimal.NewFromInt(1)
	if !water.GreaterThan(usualWater) || water.Equal(one) {
		return one
	}
	return one.Sub(usualWater).DivRound(one.Sub(water), 24)
}

const scentDecides = "The supplier's certificate and local law decide"

// judgeScentInPot looks whether the bars that are about to be poured would hold more of a scent than its certificate allows once
// they are dry. Each portion is a soap of its own.
func judgeScentInPot(ctx context.Context, q querier, j *Judgement, batch int64) error {
	f, err := loadFamily(ctx, q, []int64{batch}, true)
	if err != nil || !f.scented() {
		return err
	}
	names, pots := f.potsOf(batch)
	all, err := f.made(pots...)
	if err != nil {
		return err
	}
	for i, pot := range pots {
		where := "the pot"
		if names[i] != "" {
			where = "portion " + names[i]
		}
		scents, err := f.scents(pot, shrunkDry(all[pot].Share(made.AnyWater)))
		if err != nil {
			return err
		}
		for _, s := range scents {
			s.judgeDry(j, where, s.ShareNow)
		}
	}
	return nil
}

// judgeDry warns of a share that would be over the limit in a dry bar.
func (s *ScentPart) judgeDry(j *Judgement, where string, dry decimal.Decimal) {
	if s.overAt(dry) {
		j.add(Warn, "scent-limit-near", fmt.Sprintf("%s: %s is %s %% as poured, and would be %s %% dried to %s %% of water; %s. Look whether the weighing is right; the gate stops the release of bars that are over it. %s",
			where, s.Name, scentShare(s.Share), scentShare(dry), usualWater.Shift(2), s.allowed(), scentDecides))
	}
}

// scented tells whether a scent is anywhere in the family.
func (f *family) scented() bool {
	for _, m := range f.materials {
		if m.Kind == "scent" {
			return true
		}
	}
	return false
}

// potsOf are lots of each portion of a batch, or of all of it, which need not have given one yet. A portion that is still
// empty has none.
func (f *family) potsOf(batch int64) (names []string, pots []int64) {
	for _, s := range f.Splits {
		holds := func(u trace.Use) bool {
			return u.Batch == batch && !u.Leaves && u.Grams.IsPositive() && (u.Portion == "" || u.Portion == s.Portion)
		}
		if s.Batch == batch && slices.ContainsFunc(f.Uses, holds) {
			pot := -batch - int64(len(pots)) - 1 // beside potOf
			f.Origins = append(f.Origins, trace.Origin{Lot: pot, Batch: batch, Portion: s.Portion})
			names, pots = append(names, s.Portion), append(pots, pot)
		}
	}
	if len(pots) == 0 {
		return []string{""}, []int64{f.potOf(batch)}
	}
	return names, pots
}

// judgeScents holds the scents in bars, at the mass that these have now, against the limits of their certificates.
func judgeScents(ctx context.Context, q querier, j *Judgement, f *family, bars []Lot, all map[int64]made.Composition) error {
	var unknown []string
	for _, b := range bars {
		now, err := massNow(ctx, q, b, all[b.ID])
		if err != nil {
			return err
		}
		scents, err := f.scents(b.ID, b.PouredGrams.DivRound(now.Grams, 24))
		if err != nil {
			return err
		}
		dry := shrunkDry(all[b.ID].Share(made.AnyWater))
		for _, s := range scents {
			if s.Over {
				j.add(Stop, "scent-over-limit", fmt.Sprintf("%s: %s is %s %% of the bars at their mass now (%s), and %s %% as poured; %s. Do not release; put the weighing or the limit right if it is wrong, ask the supplier, or reject the bars. %s",
					b.Code, s.Name, scentShare(s.ShareNow), now.From, scentShare(s.Share), s.allowed(), scentDecides))
			} else {
				s.judgeDry(j, b.Code, s.Share.Mul(dry))
			}
			unknown = append(unknown, s.unstated()...)
		}
	}
	if slices.Sort(unknown); len(unknown) > 0 {
		j.add(Warn, "scent-limit-unknown", fmt.Sprintf("no highest share in soap is stated for %s; ask the supplier for the certificate and put the lot right with it. %s",
			strings.Join(slices.Compact(unknown), ", "), scentDecides))
	}
	return nil
}

// unstated are the lots without a limit.
func (s *ScentPart) unstated() (list []string) {
	for _, l := range s.Lots {
		if l.LimitShare == nil {
			list = append(list, fmt.Sprintf("lot %s (%s)", l.Code, s.Name))
		}
	}
	return list
}
