package trace

import (
	"math/big"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// farm grows a random family and keeps the books in grams beside it: what was taken of each bought lot,
// and what remains of each made lot.
type farm struct {
	t      *rapid.T
	f      Family
	bought []ID
	taken  map[ID]decimal.Decimal // of bought lots, without what leaves
	left   map[ID]decimal.Decimal // of made lots
	made   []ID
	next   ID
}

func grow(t *rapid.T, batches int) *farm {
	w := &farm{t: t, taken: map[ID]decimal.Decimal{}, left: map[ID]decimal.Decimal{}, next: 100}
	for i := range rapid.IntRange(1, 5).Draw(t, "bought") {
		w.bought = append(w.bought, ID(i+1))
	}
	for b := range batches {
		w.batch(ID(b + 1))
	}
	return w
}

// batch uses lots, the newest made one always so that chains get long, and makes lots of all its mass.
func (w *farm) batch(b ID) {
	common := w.use(b, "", w.bought[0], rapid.IntRange(1, 1_000_000_000).Draw(w.t, "µg"))
	if len(w.made) > 0 {
		common = common.Add(w.useMade(b, "", w.made[len(w.made)-1]))
	}
	common = common.Add(w.some(b, ""))
	if rapid.Bool().Draw(w.t, "spirit") {
		w.f.Uses = append(w.f.Uses, Use{b, w.bought[0], "", d("3.3"), true})
	}
	portions := rapid.SampledFrom([][]string{{""}, {"A", "B"}, {"A", "B", "C"}}).Draw(w.t, "portions")
	rest := 1000
	total := decimal.Zero
	for i, p := range portions {
		share := rest
		if i < len(portions)-1 {
			share = rapid.IntRange(0, rest).Draw(w.t, "share")
		}
		rest -= share
		mass := common.Mul(decimal.New(int64(share), -3))
		if p != "" {
			w.f.Splits = append(w.f.Splits, Split{b, p, decimal.New(int64(share), -3)})
			mass = mass.Add(w.some(b, p))
		}
		total = total.Add(mass)
		if len(portions) == 1 || mass.IsZero() {
			continue
		}
		w.makes(b, p, mass)
		total = total.Sub(mass)
	}
	if total.IsPositive() {
		w.makes(b, "", total)
	}
}

func (w *farm) makes(b ID, portion string, mass decimal.Decimal) {
	w.next++
	w.f.Origins = append(w.f.Origins, Origin{w.next, b, portion})
	w.made = append(w.made, w.next)
	w.left[w.next] = mass
}

// some uses up to two bought and two made lots, so that premixes are shared and soap is reworked.
func (w *farm) some(b ID, portion string) decimal.Decimal {
	sum := decimal.Zero
	for range rapid.IntRange(0, 2).Draw(w.t, "bought uses") {
		sum = sum.Add(w.use(b, portion, rapid.SampledFrom(w.bought).Draw(w.t, "lot"), rapid.IntRange(0, 1_000_000_000).Draw(w.t, "µg")))
	}
	for range rapid.IntRange(0, 2).Draw(w.t, "made uses") {
		if older := w.older(b); len(older) > 0 {
			sum = sum.Add(w.useMade(b, portion, rapid.SampledFrom(older).Draw(w.t, "lot")))
		}
	}
	return sum
}

// older lists made lots that did not come from batch b itself.
func (w *farm) older(b ID) []ID {
	for i, o := range w.f.Origins {
		if o.Batch == b {
			return w.made[:i]
		}
	}
	return w.made
}

func (w *farm) use(b ID, portion string, lot ID, micrograms int) decimal.Decimal {
	grams := decimal.New(int64(micrograms), -6)
	w.f.Uses = append(w.f.Uses, Use{b, lot, portion, grams, false})
	w.taken[lot] = w.taken[lot].Add(grams)
	return grams
}

func (w *farm) useMade(b ID, portion string, lot ID) decimal.Decimal {
	grams := w.left[lot].Mul(decimal.New(int64(rapid.IntRange(0, 1000).Draw(w.t, "‰")), -3)).Truncate(6)
	w.f.Uses = append(w.f.Uses, Use{b, lot, portion, grams, false})
	w.left[lot] = w.left[lot].Sub(grams)
	return grams
}

// What was taken of each bought lot is found again, to the microgram, in what remains of the lots made.
func TestMassInIsMassOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := grow(t, rapid.IntRange(1, 12).Draw(t, "depth"))
		all, err := w.f.Compositions(w.made...)
		require.NoError(t, err)
		found := map[ID]decimal.Decimal{}
		for _, lot := range w.made {
			sum := decimal.Zero
			for _, p := range all[lot] {
				require.False(t, p.Share.IsNegative())
				sum = sum.Add(p.Share)
				found[p.Lot] = found[p.Lot].Add(p.Share.Mul(w.left[lot]))
			}
			require.True(t, sum.Equal(whole), "lot %d: %s", lot, sum)
		}
		for _, lot := range w.bought {
			off := found[lot].Sub(w.taken[lot]).Abs()
			require.True(t, off.LessThan(d("0.000001")), "lot %d: %s taken, %s found", lot, w.taken[lot], found[lot])
		}
	})
}

// Composition agrees with exact fractions computed the slow way, path by path, and Up and Down agree
// with it on which bought lots are in which made ones.
func TestCompositionAgreesWithExactFractions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := grow(t, rapid.IntRange(1, 4).Draw(t, "depth"))
		for _, lot := range w.made {
			exact := slowly(w.f, lot)
			parts, err := w.f.Composition(lot)
			require.NoError(t, err)
			require.Len(t, parts, len(exact))
			up := lots(w.f.Up(lot))
			for _, p := range parts {
				off := new(big.Rat).Sub(p.Share.Rat(), exact[p.Lot])
				require.Negative(t, off.Abs(off).Cmp(big.NewRat(1, 100_000_000_000)), "lot %d in %d", p.Lot, lot)
				require.Contains(t, up, p.Lot)
				require.Contains(t, lots(w.f.Down(p.Lot)), lot)
			}
			for ancestor := range up {
				require.Contains(t, lots(w.f.Down(ancestor)), lot, "Up and Down are mirrors")
			}
		}
	})
}

// slowly shares no code with Composition.
func slowly(f Family, lot ID) map[ID]*big.Rat {
	for _, o := range f.Origins {
		if o.Lot != lot {
			continue
		}
		share := big.NewRat(1, 1)
		for _, s := range f.Splits {
			if s.Batch == o.Batch && s.Portion == o.Portion {
				share = s.Share.Rat()
			}
		}
		sums, total := map[ID]*big.Rat{}, new(big.Rat)
		for _, u := range f.Uses {
			if u.Batch != o.Batch || u.Leaves || u.Portion != "" && o.Portion != "" && u.Portion != o.Portion {
				continue
			}
			grams := u.Grams.Rat()
			if u.Portion == "" {
				grams.Mul(grams, share)
			}
			if grams.Sign() == 0 {
				continue
			}
			total.Add(total, grams)
			for id, part := range slowly(f, u.Lot) {
				if sums[id] == nil {
					sums[id] = new(big.Rat)
				}
				sums[id].Add(sums[id], new(big.Rat).Mul(grams, part))
			}
		}
		for _, sum := range sums {
			sum.Quo(sum, total)
		}
		return sums
	}
	return map[ID]*big.Rat{lot: big.NewRat(1, 1)}
}

// A long history of rework, each batch using scrap of the two before, takes no time because each
// batch is looked into once; path by path it would be 2^2000 ways.
func TestLongReworkHistoryIsFast(t *testing.T) {
	f := Family{}
	for b := ID(1); b <= 2000; b++ {
		f.Uses = append(f.Uses, Use{b, 1, "", d("600"), false}, Use{b, 2, "", d("300"), false})
		for back := ID(1); back <= 2 && b > back; back++ {
			f.Uses = append(f.Uses, Use{b, 10_000 + b - back, "", d("50"), false})
		}
		f.Origins = append(f.Origins, Origin{10_000 + b, b, ""})
	}
	parts, err := f.Composition(12_000)
	require.NoError(t, err)
	require.Equal(t, map[ID]string{1: "0.666666666667", 2: "0.333333333333"}, shares(parts))
	require.Len(t, lots(f.Up(12_000)), 2001)
	require.Len(t, lots(f.Down(1)), 2000)
}
