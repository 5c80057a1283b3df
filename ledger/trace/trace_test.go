package trace

import (
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
)

func d(s string) decimal.Decimal { return decimal.RequireFromString(s) }

// shares writes a composition as lot → share for comparison.
func shares(parts []Part) map[ID]string {
	out := map[ID]string{}
	for _, p := range parts {
		out[p.Lot] = p.Share.String()
	}
	return out
}

// workshop is an invented family: olive oil 1, coconut oil 2, lye 3, water 4, mica 5, spirit 6.
// Batch 10 is stock lye 13 of equal parts lye and water; batch 20 is a dispersion 25 of mica in olive oil;
// batch 30 is soap in portions A (three quarters) and B, coloured in B and sprayed with spirit as a
// whole: bars 31 from A, 32 from B, trimmings 33 of both; batch 40 reworks trimmings into bars 41.
func workshop() Family {
	return Family{
		Uses: []Use{
			{10, 3, "", d("100"), false}, {10, 4, "", d("100"), false},
			{20, 5, "", d("10"), false}, {20, 1, "", d("30"), false},
			{30, 1, "", d("400"), false}, {30, 2, "", d("200"), false}, {30, 13, "", d("160"), false}, {30, 4, "", d("40"), false},
			{30, 25, "B", d("20"), false}, {30, 6, "", d("5"), true},
			{40, 33, "", d("41"), false}, {40, 2, "", d("59"), false},
		},
		Origins: []Origin{{13, 10, ""}, {25, 20, ""}, {31, 30, "A"}, {32, 30, "B"}, {33, 30, ""}, {41, 40, ""}},
		Splits:  []Split{{30, "A", d("0.75")}, {30, "B", d("0.25")}},
	}
}

// Expected shares are worked out by hand from the masses above.
func TestComposition(t *testing.T) {
	for lot, want := range map[ID]map[ID]string{
		1:  {1: "1"},
		99: {99: "1"},
		13: {3: "0.5", 4: "0.5"},
		25: {1: "0.75", 5: "0.25"},
		// A: 600 of the common 800, so 300 olive, 150 coconut, 60 lye, 60 + 30 water.
		31: {1: "0.5", 2: "0.25", 3: "0.1", 4: "0.15"},
		// B: 200 common and 20 dispersion: 100 + 15 olive, 50 coconut, 20 lye, 30 water, 5 mica of 220.
		32: {1: "0.522727272727", 2: "0.227272727273", 3: "0.090909090909", 4: "0.136363636364", 5: "0.022727272727"},
		// whole: 820 g: 415 olive, 200 coconut, 80 lye, 120 water, 5 mica.
		33: {1: "0.506097560975", 2: "0.243902439024", 3: "0.09756097561", 4: "0.146341463415", 5: "0.006097560976"},
		// 41 g of that is 20.75, 10, 4, 6, 0.25 g; with 59 g coconut of 100 g.
		41: {1: "0.2075", 2: "0.69", 3: "0.04", 4: "0.06", 5: "0.0025"},
	} {
		parts, err := workshop().Composition(lot)
		require.NoError(t, err)
		require.Equal(t, want, shares(parts), "lot %d", lot)
		sum := decimal.Zero
		for i, p := range parts {
			sum = sum.Add(p.Share)
			require.True(t, i == 0 || p.Share.LessThanOrEqual(parts[i-1].Share), "largest first")
		}
		require.True(t, sum.Equal(whole))
	}
}

func TestATracePartIsListed(t *testing.T) {
	f := Family{
		Uses:    []Use{{1, 1, "", d("1000000"), false}, {1, 2, "", d("0.0000001"), false}, {1, 3, "", d("0"), false}},
		Origins: []Origin{{9, 1, ""}},
	}
	parts, err := f.Composition(9)
	require.NoError(t, err)
	require.Equal(t, map[ID]string{1: "1", 2: "0"}, shares(parts), "an allergen does not vanish by being little; what was never added does not appear")
}

func TestCompositionRefuses(t *testing.T) {
	for name, change := range map[string]func(*Family){
		"two origins":             func(f *Family) { f.Origins = append(f.Origins, Origin{32, 30, "A"}) },
		"negative mass":           func(f *Family) { f.Uses[4].Grams = d("-1") },
		"shares above 1":          func(f *Family) { f.Splits[0].Share = d("0.8") },
		"negative share":          func(f *Family) { f.Splits[0].Share, f.Splits[1].Share = d("-0.25"), d("1.25") },
		"portion without a share": func(f *Family) { f.Splits = f.Splits[:1] },
		"portion with two shares": func(f *Family) { f.Splits[0].Portion = "B" },
		"nothing in it":           func(f *Family) { f.Uses = nil },
	} {
		f := workshop()
		change(&f)
		parts, err := f.Composition(32)
		require.ErrorIs(t, err, ErrFamily, name)
		require.Nil(t, parts, name)
		_, err = f.Composition(13)
		require.Equal(t, name == "nothing in it", err != nil, "%s: lots that have nothing to do with it still get an answer", name)
	}
}

func TestCycleNamesItsLots(t *testing.T) {
	f := workshop()
	f.Uses = append(f.Uses, Use{10, 41, "", d("1"), false}) // rework into the stock lye of its own soap
	_, err := f.Composition(41)
	var cycle *CycleError
	require.ErrorAs(t, err, &cycle)
	require.ErrorIs(t, err, ErrFamily)
	require.Equal(t, []ID{41, 33, 13}, cycle.Lots)
	require.ErrorContains(t, err, "41, 33, 13")

	_, err = f.Composition(32) // leads into the cycle without being in it
	require.ErrorAs(t, err, &cycle)
	require.ElementsMatch(t, []ID{41, 33, 13}, cycle.Lots)

	self := Family{Uses: []Use{{1, 7, "", d("1"), false}}, Origins: []Origin{{7, 1, ""}}}
	_, err = self.Composition(7)
	require.ErrorAs(t, err, &cycle)
	require.Equal(t, []ID{7}, cycle.Lots)

	require.Len(t, self.Up(7), 1, "a query answers even so")
	require.Len(t, self.Down(7), 1)
	require.NotEmpty(t, f.Up(41))
}

// Leftover of one portion stirred into another portion of the same batch is no cycle.
func TestPortionIntoPortion(t *testing.T) {
	f := Family{
		Uses:    []Use{{1, 1, "", d("100"), false}, {1, 2, "A", d("50"), false}, {1, 9, "B", d("50"), false}},
		Origins: []Origin{{9, 1, "A"}, {10, 1, "B"}},
		Splits:  []Split{{1, "A", d("0.5")}, {1, "B", d("0.5")}},
	}
	parts, err := f.Composition(10)
	require.NoError(t, err)
	require.Equal(t, map[ID]string{1: "0.75", 2: "0.25"}, shares(parts))
}

// lots collects where steps arrive, with their depth.
func lots(steps []Step) map[ID]int {
	out := map[ID]int{}
	for _, s := range steps {
		if _, found := out[s.Lot]; !found {
			out[s.Lot] = s.Depth
		}
	}
	return out
}

func TestUp(t *testing.T) {
	f := workshop()
	require.Equal(t, map[ID]int{1: 1, 2: 1, 13: 1, 4: 1, 6: 1, 3: 2}, lots(f.Up(31)), "portion A: no dispersion, no mica")
	require.Equal(t, map[ID]int{1: 1, 2: 1, 13: 1, 4: 1, 6: 1, 25: 1, 3: 2, 5: 2}, lots(f.Up(32)))
	require.Equal(t, map[ID]int{33: 1, 2: 1, 1: 2, 13: 2, 4: 2, 6: 2, 25: 2, 3: 3, 5: 3}, lots(f.Up(41)))
	require.Empty(t, f.Up(1))
	require.Equal(t, Step{From: 41, Batch: 40, Lot: 33, Grams: d("41"), Depth: 1}, f.Up(41)[0])
	for _, s := range f.Up(31) {
		require.Equal(t, s.Lot == 6, s.Leaves)
	}
}

func TestDown(t *testing.T) {
	f := workshop()
	require.Equal(t, map[ID]int{25: 1, 32: 2, 33: 2, 41: 3}, lots(f.Down(5)), "mica: only what came from portion B or from all")
	require.Equal(t, map[ID]int{13: 1, 31: 2, 32: 2, 33: 2, 41: 3}, lots(f.Down(3)))
	require.Equal(t, map[ID]int{31: 1, 32: 1, 33: 1, 41: 2}, lots(f.Down(6)), "spirit leaves, but was there")
	require.Empty(t, f.Down(41))
	require.Contains(t, f.Down(5), Step{From: 25, Batch: 30, Lot: 32, Portion: "B", Grams: d("20"), Depth: 2})

	f.Origins = f.Origins[:3] // only the stock lye, the dispersion and the bars of portion A have been made yet
	require.Equal(t, map[ID]int{25: 1, 0: 2}, lots(f.Down(5)), "the rest of the batch is still in the mould")
}

// The two balances that the notes on mock recalls work through: lavender 500.0 g received, 2.7 g
// unexplained, 99.46 %; a batch of 48 bars, all found.
func TestWorkedBalances(t *testing.T) {
	lavender, err := NewBalance(d("500.0"), map[string]decimal.Decimal{
		"B1": d("42.0"), "B2": d("42.0"), "B3": d("30.5"), "test": d("5.0"), "spill": d("2.0"), "shelf": d("375.8"),
	})
	require.NoError(t, err)
	require.Equal(t, "2.7", lavender.Unaccounted.String())
	require.Equal(t, "99.46", lavender.Percent.String())

	bars, err := NewBalance(d("48"), map[string]decimal.Decimal{
		"kept": d("2"), "test": d("1"), "scrap bag": d("3"), "gifts": d("6"), "shop X": d("20"), "online": d("9"), "June fair": d("5"), "shelf": d("2"),
	})
	require.NoError(t, err)
	require.True(t, bars.Unaccounted.IsZero())
	require.Equal(t, "100", bars.Percent.String())

	over, err := NewBalance(d("100"), map[string]decimal.Decimal{"shelf": d("103"), "count": d("-1")})
	require.NoError(t, err)
	require.Equal(t, "-2", over.Unaccounted.String())
	require.Equal(t, "102", over.Percent.String())

	_, err = NewBalance(d("0"), nil)
	require.ErrorIs(t, err, ErrFamily)
}
