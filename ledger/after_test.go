package ledger_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// A weighing that is corrected after its bars went into another batch changes that batch too. 1469.7 g were poured into 12 bars; two of
// them, 244.95 g, went into a batch of 1470 g: 1714.95 g. With 10 g less scent it is 1459.7 g, 243.2833 g and 1713.2833 g; and with a
// bag of trimmings of the second batch in a third, the change goes on in proportion.
func TestCorrectionReachesWhatSoapWentInto(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.make()
	require.Equal(t, "1469.7", bars.PouredGrams.String())
	_, made := w.reworkedFrom(bars)
	require.Equal(t, "1714.95", made.PouredGrams.String())
	third := w.started()
	record(w, &ledger.WeighingTaken{Batch: third.ID, Lot: made.ID, Pieces: ptr(dec("5")), Mass: grams("790")}) // half of ten bars
	list, err := w.l.Weighings(t.Context(), third.ID)
	require.NoError(t, err)

	scent := &ledger.WeighingTaken{Batch: b.ID, Line: w.lineOf(b, w.scent), Lot: w.scentLot, Mass: grams("20")}
	_, err = w.l.Record(t.Context(), w.owner, ledger.Request{Corrects: w.entryOf(b.ID, w.scentLot), Reason: "it was 20 g", Override: "it was 20 g", Body: scent})
	require.NoError(t, err)
	require.Equal(t, "1459.7", w.lot(bars.ID).PouredGrams.String())
	require.Equal(t, "1713.283333", w.lot(made.ID).PouredGrams.String())
	poured := queryColumn[string](t, connect(t, w.db.Service), `select trim_scale(poured_grams)::text from weighing where entry_id = $1`, list[0].Entry)
	require.Equal(t, []string{"856.641667"}, poured)
	parts := w.amounts(w.lot(made.ID))
	require.Equal(t, "33.33", dec(parts["Scent of hay"]).StringFixed(2), "30 g and two twelfths of 20 g")
	w.verify()
}

// What a certificate says is part of the lye sum: a release that stood on a wrong purity is open again, and so is that of what
// the soap went into.
func TestCorrectedCertificateOpensTheReleaseAgain(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, _ := w.released()
	receipt := w.lot(w.lyeLot).Entry
	again := func(purity string) *ledger.LotReceived {
		return &ledger.LotReceived{Material: w.lye, Supplier: w.supplier, SupplierLot: "LY-1", Mass: grams("2000"), Purity: ptr(dec(purity))}
	}
	same := w.corrected(receipt, again("0.98"))
	require.Equal(t, ledger.Released, w.stage(b.ID), "nothing changed in it")
	w.corrected(same.Entry, again("0.99"))
	w.reopened(b.ID)
	lye, err := w.l.Lye(t.Context(), b.ID)
	require.NoError(t, err)
	require.Equal(t, "0.040", lye.Superfat.StringFixed(3)) // 1 - 145.1 × 0.99 / 149.67078
	w.verify()
}
