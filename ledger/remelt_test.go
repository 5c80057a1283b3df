package ledger_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// remelt starts a batch of bars and water alone, with what is weighed besides.
func (w *workshop) remelt(bars ledger.Lot, pieces string, besides ...[2]any) int64 {
	w.t.Helper()
	b := w.started()
	record(w, &ledger.WeighingTaken{Batch: b.ID, Lot: bars.ID, Pieces: ptr(dec(pieces)), Mass: grams("220")})
	w.put(b.ID, 0, w.waterLot, "40")
	for _, c := range besides {
		w.put(b.ID, 0, c[0].(int64), c[1].(string))
	}
	w.warm(b.ID)
	return b.ID
}

// byLye are the rules of a refused or recorded step that are about lye.
func byLye(found []ledger.Finding, level ledger.Level) []string {
	about := []string{"lye-unknown", "lye-heavy", "free-alkali-predicted", "oil-without-alkali", "reworked-lye-heavy"}
	return slices.DeleteFunc(rules(found, level), func(r string) bool { return !slices.Contains(about, r) })
}

// passed takes a step past what the formula still asks for and gives what the gate found.
func (w *workshop) passed(batch int64, step string) []ledger.Finding {
	w.t.Helper()
	r, err := w.l.Record(w.t.Context(), w.owner, ledger.Request{Override: "soap that is made over, without fresh oils", Body: &ledger.StepTaken{Batch: batch, Step: step}})
	require.NoError(w.t, err)
	return r.Record.(*ledger.StepTaken).Findings
}

// Soap that is only made over has no lye sum of its own and needs none: what it brings is judged, at the bench and at release.
// Soap that is made of such soap again is no worse.
func TestARemeltIsJudgedByWhatItBrings(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	_, bars := w.make()
	batch := w.remelt(bars, "4")
	for _, s := range []string{ledger.StepCombine, ledger.StepPour} {
		found := w.passed(batch, s)
		require.Equal(t, []string{"not-weighed"}, rules(found, ledger.Stop), s)
		require.Empty(t, byLye(found, ledger.Warn), s)
	}
	w.clock.Add(25 * time.Hour)
	w.step(batch, ledger.StepUnmould)
	y := record(w, &ledger.BatchYielded{Batch: batch, Outputs: []ledger.Output{{What: "bars", Pieces: 4, Mass: grams("500")}}})
	require.Empty(t, byLye(w.atRelease(batch), ledger.Stop))

	again := w.remelt(w.lot(y.Outputs[0].ID), "1")
	require.Empty(t, byLye(w.passed(again, ledger.StepCombine), ledger.Stop))
	w.passed(again, ledger.StepPour)
	w.clock.Add(25 * time.Hour)
	w.step(again, ledger.StepUnmould)
	record(w, &ledger.BatchYielded{Batch: again, Outputs: []ledger.Output{{What: "bars", Pieces: 1, Mass: grams("120")}}})
	require.Empty(t, byLye(w.atRelease(again), ledger.Stop))
	w.verify()
}

// 175 g of lye at 98 % are 171.5 g of NaOH, and the oils of the first batch want 149.67078 g (olive at 190, coconut at 256.5 mg KOH
// per g): 21.82922 g are free, and a sixth of it, 3.63820 g, is in two of twelve bars. Olive oil takes 190 / 1000 / 56.1056 × 39.997 =
// 0.135448 g of NaOH per gram: 25 g take 3.38620 g, 27 g could take 3.65710 g and leave 0.14 g of oil.
func TestARemeltOfLyeHeavySoapStops(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	_, bars := w.lyeHeavy()
	free := func(batch int64) string {
		m, err := w.l.MadeOfBatch(t.Context(), batch)
		require.NoError(t, err)
		return m.Poured.FreeAlkali.Mul(m.Poured.Grams).StringFixed(3)
	}

	pure := w.remelt(bars, "2")
	require.Equal(t, "3.638", free(pure))
	require.Equal(t, []string{"free-alkali-predicted"}, byLye(w.passed(pure, ledger.StepCombine), ledger.Stop))

	little := w.remelt(bars, "2", [2]any{w.oliveLot, "25"})
	require.Equal(t, "0.252", free(little))
	found := w.passed(little, ledger.StepCombine)
	require.Equal(t, []string{"free-alkali-predicted"}, byLye(found, ledger.Stop))
	require.Equal(t, []string{"oil-without-alkali"}, byLye(found, ledger.Warn))

	enough := w.remelt(bars, "2", [2]any{w.oliveLot, "27"})
	found = w.passed(enough, ledger.StepCombine)
	require.Empty(t, byLye(found, ledger.Stop))
	require.Equal(t, []string{"oil-without-alkali"}, byLye(found, ledger.Warn))
	text := textOf(t, &ledger.Error{Findings: found}, "oil-without-alkali")
	require.Contains(t, text, "27 g of fresh oil are in without fresh alkali")
	require.Contains(t, text, "no free alkali is predicted, and 0.0 % of unreacted oil")

	alkali := w.remelt(bars, "2", [2]any{w.lyeLot, "5"})
	found = w.passed(alkali, ledger.StepCombine)
	require.Equal(t, []string{"lye-unknown"}, byLye(found, ledger.Stop))
	require.Contains(t, textOf(t, &ledger.Error{Findings: found}, "lye-unknown"), "5 g of alkali are in the pot and no fresh oil")
	w.verify()
}

// Oil alone is no soap, at the bench as at release.
func TestOilAloneIsNoSoap(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := w.started()
	w.put(b.ID, w.lineOf(b, w.olive), w.oliveLot, "700")
	w.finish(b.ID, ledger.Output{What: "bars", Pieces: 5, Mass: grams("600")})
	require.Equal(t, []string{"lye-unknown"}, byLye(w.atRelease(b.ID), ledger.Stop))
}
