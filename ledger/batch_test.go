package ledger_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

func TestBatchGoesAllTheWay(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.make()
	require.Equal(t, "12", bars.OnHand.String())
	w.cure(b.ID, bars)
	w.release(b.ID)

	buyer, err := w.l.Record(t.Context(), w.owner, ledger.Request{Body: &ledger.BuyerAdded{Type: "shop"}, Contact: &ledger.Contact{Name: "Invented Corner Shop"}})
	require.NoError(t, err)
	sent := record(w, &ledger.DispatchSent{Channel: "shop", Buyer: buyer.Record.(*ledger.BuyerAdded).ID, Reference: "INV-1", Lines: []ledger.DispatchLine{{Lot: bars.ID, Pieces: 5}}})
	record(w, &ledger.DispatchReturned{Dispatch: sent.ID, Lot: bars.ID, Pieces: 1, Decision: ledger.Restock, Reason: "unsold, wrapper whole"})

	for _, asked := range []string{"OL-1", b.Code, sent.Code, "INV-1", "invented corner"} {
		a, err := w.l.Ask(t.Context(), asked)
		require.NoError(t, err, asked)
		require.Len(t, a.Sent, 1, asked)
		require.Equal(t, "Invented Corner Shop", a.Sent[0].Buyer, asked)
		require.Equal(t, "4", a.Sent[0].Pieces.String(), asked)
		require.Contains(t, a.Text(), bars.Code, asked)
	}
	w.verify()
}
