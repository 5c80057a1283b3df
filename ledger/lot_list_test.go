package ledger_test

import (
	"cmp"
	"slices"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

func (w *workshop) lots(q ledger.LotQuery) []ledger.Lot {
	w.t.Helper()
	lots, err := w.l.Lots(w.t.Context(), q)
	require.NoError(w.t, err)
	return lots
}

// pages reads a list two lots at a time.
func (w *workshop) pages(q ledger.LotQuery) (ids []int64) {
	w.t.Helper()
	for q.Limit = 2; ; q.After = ids[len(ids)-1] {
		lots := w.lots(q)
		ids = append(ids, numbersOf(lots)...)
		if len(lots) < q.Limit {
			return ids
		}
	}
}

func numbersOf(lots []ledger.Lot) []int64 {
	ids := []int64{}
	for _, l := range lots {
		ids = append(ids, l.ID)
	}
	return ids
}

// Lots of all kinds: with a date, several with the same, without, on hold, past their date, used up, struck, and bars.
func TestListOfLotsIsReadPageByPage(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	w.released()
	var lots []int64
	for _, before := range []string{"2027-03-01", "", "2026-12-01", "2027-03-01", "2026-12-01", "", "2027-01-01"} {
		lots = append(lots, record(w, &ledger.LotReceived{Material: w.olive, Supplier: w.supplier, SupplierLot: "more", Mass: grams("500"), BestBefore: before}).ID)
	}
	record(w, &ledger.LotHeld{Lot: lots[3], Reason: "a certificate is missing"})
	record(w, &ledger.StockMoved{Lot: lots[4], Way: ledger.Discarded, Amount: decimal.NewFromInt(500), Reason: "rancid"})
	struck := w.enter(&ledger.LotReceived{Material: w.olive, Supplier: w.supplier, SupplierLot: "never came", Mass: grams("1")})
	w.corrected(struck.Entry, nil)
	w.clock.Set(time.Date(2026, 12, 15, 12, 0, 0, 0, time.UTC)) // lots[2] has expired

	whole := w.lots(ledger.LotQuery{})
	sorted := slices.SortedFunc(slices.Values(whole), func(a, b ledger.Lot) int {
		day := func(l ledger.Lot) time.Time {
			if l.BestBefore == nil {
				return time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)
			}
			return *l.BestBefore
		}
		return cmp.Or(day(a).Compare(day(b)), cmp.Compare(a.ID, b.ID))
	})
	require.Equal(t, numbersOf(sorted), numbersOf(whole))
	require.Subset(t, numbersOf(whole), lots)
	require.NotContains(t, numbersOf(whole), struck.Record.(*ledger.LotReceived).ID)

	now := w.l.Now()
	onHand := func(l ledger.Lot) bool { return l.OnHand.IsPositive() }
	for name, c := range map[string]struct {
		query ledger.LotQuery
		in    func(ledger.Lot) bool
	}{
		"all":             {ledger.LotQuery{}, func(ledger.Lot) bool { return true }},
		"on hand":         {ledger.LotQuery{OnHand: true}, onHand},
		"used up":         {ledger.LotQuery{UsedUp: true}, func(l ledger.Lot) bool { return !onHand(l) }},
		"held":            {ledger.LotQuery{Held: true, OnHand: true}, func(l ledger.Lot) bool { return l.Held }},
		"usable":          {ledger.LotQuery{Usable: true}, func(l ledger.Lot) bool { return onHand(l) && !l.Held && !l.Expired(now.Truncate(24*time.Hour)) }},
		"usable bars":     {ledger.LotQuery{Usable: true, What: "bars"}, func(l ledger.Lot) bool { return onHand(l) && l.What == "bars" }},
		"bought, on hand": {ledger.LotQuery{OnHand: true, What: "bought"}, func(l ledger.Lot) bool { return onHand(l) && l.What == "bought" }},
		"of a material":   {ledger.LotQuery{OnHand: true, Material: w.olive}, func(l ledger.Lot) bool { return onHand(l) && l.MaterialID != nil && *l.MaterialID == w.olive }},
	} {
		want := slices.DeleteFunc(slices.Clone(whole), func(l ledger.Lot) bool { return !c.in(l) })
		require.NotEmpty(t, want, name)
		require.Equal(t, numbersOf(want), w.pages(c.query), name)
	}

	_, err := w.l.Lots(t.Context(), ledger.LotQuery{After: 999})
	fault(t, err, ledger.NotFound)
	_, err = w.l.Lots(t.Context(), ledger.LotQuery{UsedUp: true, OnHand: true})
	fault(t, err, ledger.Invalid)
}

func TestStocksOfMaterialsSumUpTheirLots(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	w.released()
	record(w, &ledger.LotHeld{Lot: w.oliveLot, Reason: "a certificate is missing"})
	record(w, &ledger.LotReceived{Material: w.olive, Supplier: w.supplier, SupplierLot: "more", Mass: grams("500")})
	want := map[int64]ledger.MaterialStock{}
	for _, l := range w.lots(ledger.LotQuery{OnHand: true}) {
		if l.MaterialID == nil {
			continue
		}
		s := want[*l.MaterialID]
		s.Material, s.OnHand, s.Lots = *l.MaterialID, s.OnHand.Add(l.OnHand), s.Lots+1
		if l.Held {
			s.Held++
		}
		want[s.Material] = s
	}
	stocks, err := w.l.MaterialStocks(t.Context())
	require.NoError(t, err)
	require.Len(t, stocks, len(want))
	require.Equal(t, 2, want[w.olive].Lots)
	for _, s := range stocks {
		require.Equal(t, want[s.Material].OnHand.String(), s.OnHand.String())
		require.Equal(t, []int{want[s.Material].Lots, want[s.Material].Held}, []int{s.Lots, s.Held})
	}
}
