package api

import (
	"testing"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// A seller finds at the stall that a lot was counted or written down wrongly; both figures stay on record.
func TestALotIsPutRightOnItsPage(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	p := w.as(ledger.Owner).hand(t)
	_, bars := w.bars("Hay")
	lot := "/lots/" + itoa(bars.ID)

	p.open(lot).send("right", "pieces", "11", "reason", "one was counted twice").says("is put right")
	after, err := w.l.Lot(t.Context(), bars.ID)
	require.NoError(t, err)
	require.Equal(t, "11", after.Amount.String())
	require.Equal(t, bars.Code, after.Code)
	p.open("/journal").says("one was counted twice")

	refused := p.open(lot).try("right", "pieces", "0", "reason", "none")
	require.Equal(t, 422, refused.status)

	v, err := w.l.Verify(t.Context())
	require.NoError(t, err)
	require.Empty(t, v.Difference)
}
