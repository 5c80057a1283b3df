package trace

import (
	"cmp"
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
	mixtures, err := Fold(f, asBought, mix, lots...)
	if err != nil {
		return nil, err
	}
	out := make(map[ID][]Part, len(lots))
	for lot, m := range mixtures {
		out[lot] = rounded(m)
	}
	return out, nil
}

// mixture is shares of bought lots; they sum to 1 but for rounding at innerPlaces.
type mixture map[ID]decimal.Decimal

func asBought(lot ID) (mixture, error) { return mixture{lot: whole}, nil }

// mix adds up what went into a batch or a portion.
func mix(_ ID, _ string, in []In[mixture]) (mixture, error) {
	total, sums := decimal.Zero, mixture{}
	for _, i := range in {
		total = total.Add(i.Grams)
		for lot, share := range i.Value {
			sums[lot] = sums[lot].Add(i.Grams.Mul(share))
		}
	}
	for lot, grams := range sums {
		sums[lot] = grams.DivRound(total, innerPlaces)
	}
	return sums, nil
}

// rounded sorts a mixture and rounds its shares so that they sum to exactly 1.
func rounded(m mixture) []Part {
	parts := make([]Part, 0, len(m))
	for lot, share := range m {
		parts = append(parts, Part{lot, share})
	}
	slices.SortFunc(parts, func(a, b Part) int {
		return cmp.Or(b.Share.Cmp(a.Share), cmp.Compare(a.Lot, b.Lot))
	})
	rest := whole
	for i := range parts {
		parts[i].Share = parts[i].Share.Round(sharePlaces)
		rest = rest.Sub(parts[i].Share)
	}
	parts[0].Share = parts[0].Share.Add(rest)
	return parts
}
