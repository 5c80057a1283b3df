package made

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"ashbook/ledger/soap"
	"ashbook/ledger/trace"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// farm grows a random family of premixes, stock lye, soap in portions and reworked soap, and keeps the books in grams
// beside it: what was taken of each bought lot, and what remains of each made lot.
type farm struct {
	*tree
	t     *rapid.T
	taken map[trace.ID]decimal.Decimal
	left  map[trace.ID]decimal.Decimal
	made  []trace.ID // of earlier batches, then of the batch that is made
}

// How much of each bought lot a batch may use, in grams: enough acid and alkali that each runs short at times.
var largest = map[trace.ID]int{
	olive: 300, coconut: 300, palm: 200, castor: 100, fat: 300, stearic: 100, jojoba: 100,
	soda: 80, potash: 80, weak: 80, tap: 300, mica: 5, milk: 50, citric: 40, vinegar: 100,
}

func grow(t *rapid.T, batches int) *farm {
	w := &farm{tree: newTree(), t: t, taken: map[trace.ID]decimal.Decimal{}, left: map[trace.ID]decimal.Decimal{}}
	for b := range batches {
		w.batch(trace.ID(b + 1))
	}
	return w
}

// batch uses lots, the newest made one always so that chains get long, and makes lots of all its mass.
func (w *farm) batch(b trace.ID) {
	w.Soap[b] = rapid.IntRange(0, 3).Draw(w.t, "soap") > 0
	older := w.made
	common := w.some(b, "", older).Add(w.use(b, "", tap, one))
	if len(older) > 0 {
		common = common.Add(w.useMade(b, "", older[len(older)-1]))
	}
	portions := rapid.SampledFrom([][]string{{""}, {""}, {"A", "B"}, {"A", "B", "C"}}).Draw(w.t, "portions")
	rest, whole := 10, common
	for i, p := range portions {
		share := rest
		if i < len(portions)-1 {
			share = rapid.IntRange(0, rest).Draw(w.t, "share")
		}
		rest -= share
		mass := whole.Mul(decimal.New(int64(share), -1))
		if p != "" {
			w.Splits = append(w.Splits, trace.Split{Batch: b, Portion: p, Share: decimal.New(int64(share), -1)})
			mass = mass.Add(w.some(b, p, older))
		}
		if mass.IsPositive() {
			lot := 1000 + 10*b + trace.ID(i)
			w.Origins = append(w.Origins, trace.Origin{Lot: lot, Batch: b, Portion: p})
			w.made, w.left[lot] = append(w.made, lot), mass
		}
	}
}

// some uses up to six bought lots and two older ones.
func (w *farm) some(b trace.ID, portion string, older []trace.ID) decimal.Decimal {
	sum := decimal.Zero
	for range rapid.IntRange(0, 6).Draw(w.t, "bought uses") {
		lot := rapid.SampledFrom(sorted(largest)).Draw(w.t, "lot")
		sum = sum.Add(w.use(b, portion, lot, decimal.New(int64(rapid.IntRange(0, largest[lot]*1_000_000).Draw(w.t, "µg")), -6)))
	}
	for range rapid.IntRange(0, 2).Draw(w.t, "made uses") {
		if len(older) > 0 {
			sum = sum.Add(w.useMade(b, portion, rapid.SampledFrom(older).Draw(w.t, "lot")))
		}
	}
	return sum
}

func sorted[V any](m map[trace.ID]V) []trace.ID {
	var ids []trace.ID
	for id := range m {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	return ids
}

func (w *farm) use(b trace.ID, portion string, lot trace.ID, grams decimal.Decimal) decimal.Decimal {
	w.Uses = append(w.Uses, trace.Use{Batch: b, Lot: lot, Portion: portion, Grams: grams})
	w.taken[lot] = w.taken[lot].Add(grams)
	return grams
}

func (w *farm) useMade(b trace.ID, portion string, lot trace.ID) decimal.Decimal {
	grams := w.left[lot].Mul(decimal.New(int64(rapid.IntRange(0, 10).Draw(w.t, "tenths")), -1)).Truncate(6)
	w.Uses = append(w.Uses, trace.Use{Batch: b, Lot: lot, Portion: portion, Grams: grams})
	w.left[lot] = w.left[lot].Sub(grams)
	return grams
}

// undone takes a composition back apart: grams per gram of each oil, acid, other material, water and rest by lot, and of
// each pure hydroxide, which is what must not change. It also checks the glycerol and the water that formed.
func undone(t require.TestingT, c Composition, lots map[trace.ID]Ingredient) map[string]decimal.Decimal {
	out := map[string]decimal.Decimal{}
	add := func(key string, amount decimal.Decimal) { out[key] = out[key].Add(amount) }
	glycerol, formed := map[trace.ID]decimal.Decimal{}, decimal.Zero
	for _, p := range c.Parts {
		i := lots[p.Of]
		key := i.Name
		metal := map[string]decimal.Decimal{soap.NaOH: d("39.997"), soap.KOH: d("56.1056")}[p.Alkali]
		perOil := d("1")
		if i.Kind == Oil {
			perOil = d("112211.2").Div(i.SAPMin.Add(i.SAPMax))
		}
		acid, sets, makes := perOil.Add(d("18.015")), decimal.Zero, decimal.Zero
		switch {
		case i.FreeAcid:
			acid, makes = perOil, d("18.015")
		case !i.NoGlycerol:
			acid, sets = perOil.Sub(d("12.683")), d("30.698")
		}
		switch p.What {
		case Soap:
			moles := p.Share.Div(acid.Add(metal).Sub(d("18.015")))
			add(key, moles.Mul(perOil))
			add(p.Alkali, moles.Mul(metal))
			glycerol[p.Of] = glycerol[p.Of].Add(moles.Mul(sets))
			formed = formed.Add(moles.Mul(makes))
		case FattyAcid:
			moles := p.Share.Div(acid)
			add(key, moles.Mul(perOil))
			glycerol[p.Of] = glycerol[p.Of].Add(moles.Mul(sets))
			formed = formed.Sub(moles.Mul(d("18.015")))
		case AcidSalt:
			moles := p.Share.Div(i.EquivalentMass.Add(metal).Sub(d("18.015")))
			add(key, moles.Mul(i.EquivalentMass))
			add(p.Alkali, moles.Mul(metal))
			formed = formed.Add(moles.Mul(d("18.015")))
		case FreeAlkali:
			add(p.Alkali, p.Share)
		case Glycerol:
			glycerol[p.Of] = glycerol[p.Of].Sub(p.Share)
		case AnyWater:
			if p.Of == 0 {
				formed = formed.Sub(p.Share)
			} else {
				add(key+" water", p.Share)
			}
		case RestOfAlkali:
			add(key+" rest", p.Share)
		default:
			add(key, p.Share)
		}
	}
	for lot, off := range glycerol {
		within(t, "0", off, "1e-10", "glycerol of lot %d", lot)
	}
	within(t, "0", formed, "1e-10", "water that formed")
	return out
}

// added says the same of what was added: grams of bought lots.
func added(grams map[trace.ID]decimal.Decimal, lots map[trace.ID]Ingredient) map[string]decimal.Decimal {
	out := map[string]decimal.Decimal{}
	add := func(key string, amount decimal.Decimal) { out[key] = out[key].Add(amount) }
	for lot, g := range grams {
		i := lots[lot]
		pure, rest := g.Mul(i.Purity), g.Mul(one.Sub(i.Purity))
		switch i.Kind {
		case Alkali:
			add(i.Alkali, pure)
			add(i.Name+" rest", rest)
		case Acid:
			add(i.Name, pure)
			add(i.Name+" water", rest)
		case Water:
			add(i.Name+" water", g)
		default:
			add(i.Name, g.Mul(one.Sub(i.Water)))
			add(i.Name+" water", g.Mul(i.Water))
		}
	}
	return out
}

func agree(t require.TestingT, want, got map[string]decimal.Decimal, tolerance string, note string) {
	for key := range got {
		if _, found := want[key]; !found {
			want[key] = decimal.Zero
		}
	}
	for key, amount := range want {
		within(t, amount.String(), got[key], tolerance, "%s: %s", note, key)
	}
}

// Whatever reacted, taking the products apart gives what trace.Composition says was added; and what was taken of each
// bought lot, oils and hydroxide equivalents among them, is found again to the microgram in what remains of the lots made.
func TestMassInIsMassOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := grow(t, rapid.IntRange(1, 8).Draw(t, "batches"))
		all, err := AsMade(w.Family, w.Facts, w.made...)
		require.NoError(t, err)
		raw, err := w.Compositions(w.made...)
		require.NoError(t, err)
		found := map[string]decimal.Decimal{}
		for _, lot := range w.made {
			requireWhole(t, all[lot])
			apart := undone(t, all[lot], w.Lots)
			shares := map[trace.ID]decimal.Decimal{}
			for _, p := range raw[lot] {
				shares[p.Lot] = p.Share
			}
			agree(t, added(shares, w.Lots), apart, "1e-10", "as added and as made")
			for key, share := range apart {
				found[key] = found[key].Add(share.Mul(w.left[lot]))
			}
		}
		agree(t, added(w.taken, w.Lots), found, "0.000001", "taken and found")
	})
}

// Alkali, acid and soap are not left beside one another after a reaction when the one takes the other.
func TestReactionsAreComplete(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := grow(t, rapid.IntRange(1, 6).Draw(t, "batches"))
		all, err := AsMade(w.Family, w.Facts, w.made...)
		require.NoError(t, err)
		for _, o := range w.Origins {
			if !w.Soap[o.Batch] {
				continue
			}
			c := all[o.Lot]
			has := map[What]bool{}
			for _, p := range c.Parts {
				has[p.What] = has[p.What] || p.Share.IsPositive()
			}
			require.False(t, has[FreeAlkali] && (has[FreeOil] || has[FattyAcid] || has[FreeAcid]), "%v", c.Parts)
			require.False(t, has[FreeAcid] && has[Soap], "%v", c.Parts)
		}
	})
}

// The order in which a family is listed changes nothing at all.
func TestOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := grow(t, rapid.IntRange(1, 5).Draw(t, "batches"))
		first, err := AsMade(w.Family, w.Facts, w.made...)
		require.NoError(t, err)
		w.Uses = rapid.Permutation(w.Uses).Draw(t, "uses")
		slices.Reverse(w.Origins)
		slices.Reverse(w.Splits)
		for _, lot := range slices.Backward(w.made) {
			again, err := AsMade(w.Family, w.Facts, lot)
			require.NoError(t, err)
			require.Equal(t, fmt.Sprint(first[lot]), fmt.Sprint(again[lot]))
		}
	})
}

// heap is a family of soap batches in which each uses scrap of three others, so that all are behind lot 1002 and 200 of them are
// five deep. Each has stock lye and a premix of its own; oils and all else are bought anew every ten batches.
func heap(batches int) (trace.Family, Facts) {
	r := rand.New(rand.NewPCG(1, 2))
	w := newTree()
	for n := batches - 1; n >= 0; n-- {
		b, lot := trace.ID(3*n), func(of trace.ID) trace.ID { return of + trace.ID(1_000_000+100*(n/10)) }
		for of, i := range lots() {
			w.Lots[lot(of)] = i
		}
		g := func(grams int) string { return fmt.Sprintf("%d.%d", grams+r.IntN(grams/20+1), r.IntN(10)) }
		w.mix(b, in{lot(soda), g(500)}, in{lot(tap), g(500)})
		w.mix(b+1, in{lot(mica), g(10)}, in{lot(olive), g(30)})
		uses := []in{
			{lot(olive), g(500)}, {lot(coconut), g(250)}, {lot(palm), g(200)}, {lot(castor), g(50)}, {1000 + b, g(250)}, {lot(potash), g(10)},
			{lot(tap), g(150)}, {lot(milk), g(50)}, {lot(citric), g(5)}, {1001 + b, g(20)},
		}
		for child := 3*n + 1; child <= 3*n+3 && child < batches; child++ {
			uses = append(uses, in{1002 + trace.ID(3*child), g(60)})
		}
		w.soap(b+2, uses...)
	}
	return w.Family, w.Facts
}

func BenchmarkAsMade(b *testing.B) {
	f, facts := heap(200)
	for b.Loop() {
		all, err := AsMade(f, facts, 1002)
		if err != nil || len(all[1002].Parts) < 400 {
			b.Fatal(len(all[1002].Parts), err)
		}
	}
}
