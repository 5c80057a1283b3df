package demo

import (
	"fmt"
	"time"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// The answers below were worked out by hand from the files in testdata/demo; the working stands beside each.

func reached(a *ledger.Answer) (lines []string) {
	for _, r := range a.Reached {
		lines = append(lines, fmt.Sprintf("%d %s %s: made %s, on hand %s, used %s, sent %s, kept %s, gone %s, missing %s",
			r.Depth, r.What, r.Name, r.Made, r.OnHand, r.InPots, r.Sent, r.Kept, r.Gone, r.Unaccounted))
	}
	return lines
}

func sent(a *ledger.Answer) (lines []string) {
	names := map[int64]string{}
	for _, r := range a.Reached {
		names[r.Lot] = r.Name
	}
	for _, s := range a.Sent {
		lines = append(lines, fmt.Sprintf("%s %s: %s %s, %s returned", s.SentOn.Format(time.DateOnly), s.To(), s.Pieces, names[s.Lot], s.Returned))
	}
	return lines
}

// supplierLot asks about ultramarine UM-0612.
//
// Ultramarine: 100 g came, 25.02 g went into the dispersion: 74.98 g are left.
// Dispersion: 98.4 g were filled, 40.2 g went into the blue layer of tides-1: 58.2 g are left. (tides-2 has not got any yet.)
// tides-1 bars: 24 made; 1 kept; 8 to the midsummer market, of which 2 came back good and 1 was thrown away, so 5 sold;
// 2 to Imogen; 10 to Lantern. Sent 5 + 2 + 10 = 17, gone 1, ready 24 - 1 - 17 - 1 = 5.
// tides-1 remnants: 110 g made; 109.4 g went into patchwork-1, 0.6 g of crumbs were thrown away: none left.
// patchwork-1 bars: 28 made; 1 kept; 10 to the harvest fair, of which 4 came back, so 6 sold; 8 to Pebble; 3 to Rufus.
// Sent 6 + 8 + 3 = 17; 1 missing at the count; ready 28 - 1 - 17 - 1 = 9.
// patchwork-1 remnants: 120 g, not used yet.
func supplierLot(d loaded) {
	a := d.result.Answer
	require.Equal(d, "UM-0612", a.Asked)
	require.Equal(d, []string{
		"0 bought Ultramarine blue: made 100, on hand 74.98, used 25.02, sent 0, kept 0, gone 0, missing 0",
		"1 prepared Blue dispersion: made 98.4, on hand 58.2, used 40.2, sent 0, kept 0, gone 0, missing 0",
		"2 bars Two tides: made 24, on hand 5, used 0, sent 17, kept 1, gone 1, missing 0",
		"2 remnants Two tides: made 110, on hand 0, used 109.4, sent 0, kept 0, gone 0.6, missing 0",
		"3 bars Patchwork: made 28, on hand 9, used 0, sent 17, kept 1, gone 0, missing 1",
		"3 remnants Patchwork: made 120, on hand 120, used 0, sent 0, kept 0, gone 0, missing 0",
	}, reached(a))
	require.Equal(d, []string{
		"2026-10-20 Rufus Example: 3 Patchwork, 0 returned",
		"2026-10-10 Pebble and Thread (invented): 8 Patchwork, 0 returned",
		"2026-10-03 Harvest fair at the lock: 6 Patchwork, 4 returned",
		"2026-08-14 Lantern Grocery (invented): 10 Two tides, 0 returned",
		"2026-08-07 Imogen Example: 2 Two tides, 0 returned",
		"2026-07-25 Midsummer market on Heron Green: 5 Two tides, 3 returned",
	}, sent(a))
}

// buyer asks about Lantern Grocery: INV-0001 brought 8 harbour-1 and 6 meadow-1, INV-0002 10 tides-1 and 6 oat-1, INV-0004
// 5 oat-1; nothing came back. What others hold of the same lots is not told.
//
// harbour-1: 24 made; 1 kept; 8 to Lantern; 8 to midsummer with 3 back, so 5; 4 to the harvest fair; 1 to Rufus, which came
// back and is kept. Sent 8 + 5 + 4 = 17, kept 2, ready 24 - 17 - 2 = 5.
// meadow-1: 24 made; 1 kept; 6 to Lantern; 8 to midsummer with 2 back, so 6; 4 to Pebble. Sent 16, ready 24 - 1 - 16 = 7.
// tides-1: as above. oat-1: 24 made; 1 kept; 2 to Imogen; 6 to Lantern; 6 to the harvest fair with 1 back, so 5; 5 to Lantern.
// Sent 2 + 6 + 5 + 5 = 18, ready 24 - 1 - 18 = 5.
func buyer(d loaded) {
	a := must(d.ledger.Ask(d.Context(), "lantern"))(d)
	require.Equal(d, []string{
		"2026-11-19 Lantern Grocery (invented): 5 Oat and shea, 0 returned",
		"2026-08-14 Lantern Grocery (invented): 10 Two tides, 0 returned",
		"2026-08-14 Lantern Grocery (invented): 6 Oat and shea, 0 returned",
		"2026-07-11 Lantern Grocery (invented): 8 Harbour plain, 0 returned",
		"2026-07-11 Lantern Grocery (invented): 6 Hay meadow, 0 returned",
	}, sent(a))
	var bars []string
	for i, r := range a.Reached {
		if r.Depth == 0 {
			bars = append(bars, reached(a)[i])
		}
	}
	require.Equal(d, []string{
		"0 bars Harbour plain: made 24, on hand 5, used 0, sent 17, kept 2, gone 0, missing 0",
		"0 bars Hay meadow: made 24, on hand 7, used 0, sent 16, kept 1, gone 0, missing 0",
		"0 bars Two tides: made 24, on hand 5, used 0, sent 17, kept 1, gone 1, missing 0",
		"0 bars Oat and shea: made 24, on hand 5, used 0, sent 18, kept 1, gone 0, missing 0",
	}, bars)
}

// batchSources asks about patchwork-1.
//
// Depth 1 is its own weigh list, soap counted as it was poured:
// tides-1 had 643.1 + 288.6 + 1000.9 + 560.3 + 340.2 + 99.7 + 40.4 + 8.1 + 40.2 = 3021.5 g in the pot and gave 2832 + 110 + 52 =
// 2994 g at cutting; its remnants stand for 3021.5 x 110 / 2994 = 111.0104 g, and 109.4 of 110 g of them for 110.4049 g.
// The stock lye of June was 1000.2 + 1000.4 = 2000.6 g and gave 1991 g, the rest taken for steam, which left before: 571.2 g of it count
// as weighed. meadow-2 had 571.2 + 294.0 + 899.6 + 540.4 + 239.3 + 320.1 + 50.1 = 2914.7 g in the pot and gave
// 2748 + 96 = 2844 g; its 24 bars stand for 2914.7 x 2748 / 2844 = 2816.3139 g, and 4 of them for 469.3856 g.
// Depth 2 is what went into the jug, tides-1 and meadow-2, depth 3 what went into the dispersion and the stock lye of June. The lot of
// water, which all of them used, is told once for each batch.
func batchSources(d loaded) {
	a := must(d.ledger.Ask(d.Context(), d.result.Batch))(d)
	var lines []string
	for _, s := range a.Sources {
		lines = append(lines, fmt.Sprintf("%d %s %s %s", s.Depth, s.Name, s.SupplierLot, s.Grams.Round(4)))
	}
	require.Equal(d, []string{
		"1 Water  567", "1 Lye (sodium hydroxide) FA-26-0409 279.2", "1 Olive oil, jug of two tins  1000.6", "1 Coconut oil MU-CO-118 500.2",
		"1 Sunflower oil MU-SU-204 400.3", "1 Castor oil MU-CA-19 100.4", "1 Kaolin KA-903 20.2", "1 Two tides  110.4048", "1 Hay meadow  469.3856",

		"2 Olive oil MU-OL-3311 696.5", "2 Olive oil MU-OL-3342 698.2",

		"2 Water  643.1", "2 Lye (sodium hydroxide) FA-26-0409 288.6", "2 Olive oil MU-OL-3311 1000.9", "2 Coconut oil MU-CO-118 560.3",
		"2 Sunflower oil MU-SU-204 340.2", "2 Castor oil MU-CA-19 99.7", "2 Lavender oil FS-LV-040 40.4", "2 Titanium dioxide TD-2201 8.1",
		"2 Blue dispersion  40.2",

		"2 Stock lye 1:1  571.2", "2 Water  294", "2 Olive oil MU-OL-3311 899.6", "2 Coconut oil MU-CO-118 540.4", "2 Shea butter MU-SH-77 239.3",
		"2 Sunflower oil MU-SU-204 320.1", "2 Hay meadow scent (invented) FS-HM-051 50.1",

		"3 Ultramarine blue UM-0612 25.02", "3 Sunflower oil MU-SU-204 75.1",
		"3 Water  1000.4", "3 Lye (sodium hydroxide) FA-26-0409 1000.2",
	}, lines)
	require.Equal(d, []string{
		"0 bars Patchwork: made 28, on hand 9, used 0, sent 17, kept 1, gone 0, missing 1",
		"0 remnants Patchwork: made 120, on hand 120, used 0, sent 0, kept 0, gone 0, missing 0",
	}, reached(a))
}

// waterNow holds each marked bar against its own mass at the cut, by hand:
// harbour-1 had 573.2 g of water in 2877.5 g, 19.92 %; its bars are 2877.5 x 2700 / 2844 = 2731.804 g of it, and weighed 2700 g at the
// cut. The marked bar went from 112.9 to 102.7 g, so all weigh 2700 x 102.7 / 112.9 = 2456.067 g: (19.9201 - 10.0935) / 0.899065 = 10.93 %.
// meadow-1 had 570.9 x 990.8 / 1991 = 284.102 g of water in its stock lye and 294.4 g besides, in 2915.441 g, 19.843 %; its bars are
// 2915.441 x 2760 / 2879 = 2794.935 g, and weigh 2760 x 104.5 / 115.2 = 2503.646 g: (19.8427 - 10.4220) / 0.895780 = 10.52 %.
func waterNow(d loaded) {
	got := map[string]string{}
	for _, lot := range must(d.ledger.Lots(d.Context(), ledger.LotQuery{What: "bars"}))(d) {
		m := must(d.ledger.Made(d.Context(), lot))(d)
		got[lot.Name+" "+lot.MadeOn.Format("2 January")] = m.Now.Water.Shift(2).StringFixed(2)
	}
	require.Equal(d, "10.93 10.52", got["Harbour plain 20 May"]+" "+got["Hay meadow 4 June"], "%v", got)
}
