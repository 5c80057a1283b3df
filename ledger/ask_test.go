package ledger_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// A batch that gave bars and remnants is asked about. 20 g of mica and 80 g of sunflower oil went into the dispersion,
// 10 g and then 5 g of the dispersion into the soap: each is told once, however many lots the batch gave.
func TestSourcesAreToldOnce(t *testing.T) {
	w := newWorkshop(t)
	premix := record(w, &ledger.BatchPlanned{Purpose: ledger.ForPremix, Material: w.blue})
	record(w, &ledger.WeighingTaken{Batch: premix.ID, Lot: w.micaLot, Mass: grams("20")})
	record(w, &ledger.WeighingTaken{Batch: premix.ID, Lot: w.sunflowerLot, Mass: grams("80")})
	blue := record(w, &ledger.BatchYielded{Batch: premix.ID, Outputs: []ledger.Output{{What: "prepared", Mass: grams("99")}}}).Outputs[0]

	b := record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: w.formula.ID})
	w.step(b.ID, ledger.StepStart)
	w.weigh(b.ID)
	w.warm(b.ID)
	w.step(b.ID, ledger.StepLyeMade, ledger.StepCombine)
	record(w, &ledger.WeighingTaken{Batch: b.ID, Lot: blue.ID, Mass: grams("10")})
	record(w, &ledger.WeighingTaken{Batch: b.ID, Lot: blue.ID, Mass: grams("5")})
	w.step(b.ID, ledger.StepPour)
	w.clock.Add(30 * time.Hour)
	w.step(b.ID, ledger.StepUnmould)
	record(w, &ledger.BatchYielded{Batch: b.ID, Outputs: []ledger.Output{{What: "bars", Pieces: 12, Mass: grams("1390")}, {What: "remnants", Mass: grams("20")}}})

	a, err := w.l.Ask(t.Context(), b.Code)
	require.NoError(t, err)
	told := map[int64][]string{}
	for _, s := range a.Sources {
		told[s.Lot] = append(told[s.Lot], s.Grams.String())
	}
	require.Equal(t, []string{"15"}, told[blue.ID])
	require.Equal(t, []string{"20"}, told[w.micaLot])
	require.Equal(t, []string{"80"}, told[w.sunflowerLot])
}

// A lot that went into a batch which has given nothing yet is in that batch all the same, and the answer says who sent
// the lot.
func TestAnswerNamesBatchesInTheMaking(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: w.formula.ID})
	w.step(b.ID, ledger.StepStart)
	w.weigh(b.ID)
	a, err := w.l.Ask(t.Context(), "OL-1")
	require.NoError(t, err)
	require.Len(t, a.Open, 1)
	require.Equal(t, b.Code, a.Open[0].Code)
	require.Equal(t, "700", a.Open[0].Grams.String()) // 70 % of 1000 g of oils
	require.Equal(t, "Invented Oils", a.Reached[0].Supplier)
	require.Contains(t, a.Text(), "from Invented Oils, their lot OL-1")
}

// An answer names whoever holds bars or held them until they came back, and nobody whose dispatch was struck or
// corrected to another lot. The places of their bars are still in the balances, at nothing.
func TestAnswerNamesOnlyWhoHadBars(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	_, bars := w.released()
	_, other := w.released()
	send := func(reference string, lot int64) *ledger.DispatchSent {
		return &ledger.DispatchSent{Channel: "gift", Reference: reference, Lines: []ledger.DispatchLine{{Lot: lot, Pieces: 2}}}
	}
	record(w, send("holds", bars.ID))
	back := record(w, send("gave back", bars.ID))
	record(w, &ledger.DispatchReturned{Dispatch: back.ID, Lot: bars.ID, Pieces: 2, Decision: ledger.Restock, Reason: "unsold"})
	w.corrected(w.enter(send("struck", bars.ID)).Entry, nil)
	w.corrected(w.enter(send("other lot", bars.ID)).Entry, send("other lot", other.ID))

	told := map[string]string{}
	for lot, code := range map[string]string{"": bars.Code, "the other: ": other.Code} {
		a, err := w.l.Ask(t.Context(), code)
		require.NoError(t, err)
		for _, s := range a.Sent {
			told[lot+s.Reference] = s.Pieces.String() + ", " + s.Returned.String() + " returned"
		}
	}
	require.Equal(t, map[string]string{"holds": "2, 0 returned", "gave back": "0, 2 returned", "the other: other lot": "2, 0 returned"}, told)
	w.verify()
}

// A question that finds nothing, or fails, leaves its connection as it was.
func TestQuestionEndsItsTransaction(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	for _, words := range []string{"OL-1", "nothing known"} {
		_, _ = w.l.Ask(t.Context(), words)
		for _, conn := range w.l.Pool().AcquireAllIdle(t.Context()) {
			require.Equal(t, byte('I'), conn.Conn().PgConn().TxStatus(), words)
			conn.Release()
		}
	}
	require.Zero(t, w.l.Pool().Stat().AcquiredConns())
}
