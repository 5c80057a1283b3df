package trace

import (
	"slices"

	"github.com/shopspring/decimal"
)

// Part is a bought lot within another lot, as a share of its mass.
type Part struct {
	Lot   ID
	Share decimal.Decimal // from 0 to 1, rounded to 12 places
}

const (
	sharePlaces = 12 // of a Part: a microgram in a tonne
	innerPlaces = 30 // of shares on the way, so that rounding never reaches the twelfth place
)

// Composition returns what a lot is made of in terms of bought lots, seeing through premixes, stock lye
// and reworked soap at any depth. It is a composition as added: what reactions make of it and what
// dries out later is not considered, and uses that leave are not in it.
//
// The shares sum to exactly 1: each is rounded and the rest is put on the largest. A part so small
// that its share rounds to 0 is still listed. The largest comes first, equal ones by ID. A lot that was
// bought is its own only part.
//
// It fails with a *CycleError if a lot is among its own ancestors, and with an error that wraps
// ErrFamily if a lot has two origins, a mass is negative, the shares of a split do not sum to 1, a
// portion has no share, or a batch has no mass.
func (f Family) Composition(lot ID) ([]Part, error) {
	all, err := f.Compositions(lot)
	return all[lot], err
}

// Compositions returns the Composition of several lots, doing the work behind them once.
func (f Family) Compositions(lots ...ID) (map[ID][]Part, error) {
	m := mixer{index: f.index(), done: map[origin]mixture{}, open: map[origin]bool{}}
	out := make(map[ID][]Part, len(lots))
	for _, lot := range lots {
		mix, err := m.ofLot(lot)
		if err != nil {
			return nil, err
		}
		out[lot] = rounded(mix)
	}
	return out, nil
}

// mixture is shares of bought lots; they sum to 1 but for rounding at innerPlaces.
type mixture map[ID]decimal.Decimal

// origin is a batch or a portion of one: the thing that has a mixture.
type origin struct {
	batch   ID
	portion string
}

// mixer computes mixtures, each once.
type mixer struct {
	index
	done map[origin]mixture
	open map[origin]bool // being computed: meeting one again is a cycle
	path []ID            // the lots that are being looked into, outermost first
}

var whole = decimal.NewFromInt(1)

func (m *mixer) ofLot(lot ID) (mixture, error) {
	from := m.origins[lot]
	switch len(from) {
	case 0:
		return mixture{lot: whole}, nil
	case 1:
	default:
		return nil, broken("lot %d has %d origins; a lot comes from one batch or one portion", lot, len(from))
	}
	key := origin{from[0].Batch, from[0].Portion}
	if mix, found := m.done[key]; found {
		return mix, nil
	}
	m.path = append(m.path, lot)
	if m.open[key] {
		return nil, m.cycle(key)
	}
	m.open[key] = true
	mix, err := m.mix(key)
	if err != nil {
		return nil, err
	}
	m.open[key] = false
	m.path = m.path[:len(m.path)-1]
	m.done[key] = mix
	return mix, nil
}

// cycle names the lots from the first that came out of key to the one before key was met again.
func (m *mixer) cycle(key origin) error {
	start := slices.IndexFunc(m.path, func(lot ID) bool {
		o := m.origins[lot][0]
		return origin{o.Batch, o.Portion} == key
	})
	return &CycleError{Lots: slices.Clone(m.path[start:max(start+1, len(m.path)-1)])}
}

// mix adds up what went into a batch or a portion.
func (m *mixer) mix(key origin) (mixture, error) {
	common, err := m.shareOfCommon(key)
	if err != nil {
		return nil, err
	}
	total, sums := decimal.Zero, mixture{}
	for _, u := range m.uses[key.batch] {
		grams, err := inPortion(u, key, common)
		if err != nil {
			return nil, err
		}
		if grams.IsZero() {
			continue
		}
		parts, err := m.ofLot(u.Lot)
		if err != nil {
			return nil, err
		}
		total = total.Add(grams)
		for lot, share := range parts {
			sums[lot] = sums[lot].Add(grams.Mul(share))
		}
	}
	if total.IsZero() {
		return nil, broken("batch %d%s has no mass; record what went into it", key.batch, inWords(key.portion))
	}
	for lot, grams := range sums {
		sums[lot] = grams.DivRound(total, innerPlaces)
	}
	return sums, nil
}

// inPortion returns the grams of a use that are in the product of a batch or portion.
func inPortion(u Use, key origin, common decimal.Decimal) (decimal.Decimal, error) {
	if u.Grams.IsNegative() {
		return decimal.Zero, broken("%s g of lot %d in batch %d is negative; correct that weighing", u.Grams, u.Lot, u.Batch)
	}
	switch {
	case u.Leaves || !meets(u.Portion, key.portion):
		return decimal.Zero, nil
	case u.Portion == "":
		return u.Grams.Mul(common), nil
	}
	return u.Grams, nil
}

// shareOfCommon returns which share of what is common to the batch is in a portion; 1 for the whole batch.
func (m *mixer) shareOfCommon(key origin) (decimal.Decimal, error) {
	if key.portion == "" {
		return whole, nil
	}
	sum, share, named := decimal.Zero, decimal.Zero, 0
	for _, s := range m.splits[key.batch] {
		if s.Share.IsNegative() {
			return decimal.Zero, broken("portion %q of batch %d has a negative share of %s", s.Portion, s.Batch, s.Share)
		}
		sum = sum.Add(s.Share)
		if s.Portion == key.portion {
			share, named = s.Share, named+1
		}
	}
	if named != 1 {
		return decimal.Zero, broken("batch %d has %d shares for portion %q; record one", key.batch, named, key.portion)
	}
	if !sum.Equal(whole) {
		return decimal.Zero, broken("the shares of the portions of batch %d sum to %s; they must sum to 1", key.batch, sum)
	}
	return share, nil
}

func inWords(portion string) string {
	if portion == "" {
		return ""
	}
	return " portion " + portion
}

// rounded sorts a mixture and rounds its shares so that they sum to exactly 1.
func rounded(mix mixture) []Part {
	parts := make([]Part, 0, len(mix))
	for lot, share := range mix {
		parts = append(parts, Part{lot, share})
	}
	slices.SortFunc(parts, func(a, b Part) int {
		if c := b.Share.Cmp(a.Share); c != 0 {
			return c
		}
		return int(min(1, max(-1, a.Lot-b.Lot)))
	})
	rest := whole
	for i := range parts {
		parts[i].Share = parts[i].Share.Round(sharePlaces)
		rest = rest.Sub(parts[i].Share)
	}
	parts[0].Share = parts[0].Share.Add(rest)
	return parts
}
