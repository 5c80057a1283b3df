package ledger_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// scentOf receives a lot of a scent; an empty limit is none.
func (w *workshop) scentOf(material int64, number, limit string) int64 {
	w.t.Helper()
	r := &ledger.LotReceived{Material: material, Supplier: w.supplier, SupplierLot: number, Mass: grams("500")}
	if limit != "" {
		r.LimitShare, r.LimitNote = ptr(dec(limit)), "IFRA category 9, invented certificate"
	}
	return record(w, r).ID
}

// scented is a batch of 1436 g with 1000 g of oils and what is weighed of scents besides, poured, with what the gate found
// then. All water in it is the 261 g that were weighed, less what more than 30 g of scent take the place of.
func (w *workshop) scented(scents ...[2]any) (batch int64, poured []ledger.Finding) {
	w.t.Helper()
	b := w.started()
	for _, c := range []struct {
		material int64
		mass     string
	}{{w.lye, "145"}, {w.water, "261"}, {w.olive, "700"}, {w.coconut, "300"}} {
		w.put(b.ID, w.lineOf(b, c.material), w.lotFor(c.material), c.mass)
	}
	for i, s := range scents {
		line := 0
		if i == 0 {
			line = w.lineOf(b, w.scent)
		}
		w.put(b.ID, line, s[0].(int64), s[1].(string))
	}
	w.warm(b.ID)
	w.step(b.ID, ledger.StepLyeMade, ledger.StepCombine)
	return b.ID, record(w, &ledger.StepTaken{Batch: b.ID, Step: ledger.StepPour}).Findings
}

// cut makes ten bars of a poured batch, and weighs one after four weeks.
func (w *workshop) cut(batch int64, each string) ledger.Lot {
	w.t.Helper()
	w.clock.Add(25 * time.Hour)
	w.step(batch, ledger.StepUnmould)
	y := record(w, &ledger.BatchYielded{Batch: batch, Outputs: []ledger.Output{{What: "bars", Pieces: 10, Mass: grams("1430")}}})
	w.clock.Add(28 * 24 * time.Hour)
	record(w, &ledger.ReadingTaken{Lot: y.Outputs[0].ID, Type: ledger.BarMass, Typed: each, Unit: "g", Sample: "1"})
	return w.lot(y.Outputs[0].ID)
}

// onScent are the rules of findings about scents.
func onScent(found []ledger.Finding, level ledger.Level) []string {
	return slices.DeleteFunc(rules(found, level), func(r string) bool { return !strings.HasPrefix(r, "scent-") })
}

func (w *workshop) atRelease(batch int64) []ledger.Finding {
	w.t.Helper()
	found, err := w.l.ReleaseFindings(w.t.Context(), batch)
	require.NoError(w.t, err)
	return found
}

// Three per cent of 1000 g of oils in a batch of 1436 g are 2.09 % as poured and 2.36 % at 1270.9 g: the worked example of the
// reference values. Without its water the batch weighs 1175 g, at 10 % of water 1305.56 g: 2.29787 % of scent. The limits lie
// just below and just above.
func TestScentIsHeldAgainstItsLimit(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	dry := w.scentOf(w.scent, "SC-DRY", "0.0229")
	_, found := w.scented([2]any{dry, "30"})
	require.Equal(t, []string{"scent-limit-near"}, onScent(found, ledger.Warn))
	text := textOf(t, &ledger.Error{Findings: found}, "scent-limit-near")
	for _, part := range []string{"2.09 % as poured", "2.30 % dried to 10 % of water", "allows 2.29 % in the finished product (IFRA category 9", "local law decide"} {
		require.Contains(t, text, part)
	}

	lot := w.scentOf(w.scent, "SC-NOW", "0.0236")
	batch, found := w.scented([2]any{lot, "30"})
	require.Empty(t, onScent(found, ledger.Warn), "2.298 % is within 2.36 %")
	bars := w.cut(batch, "127.09")
	m := w.madeOf(bars)
	require.Len(t, m.Scents, 1)
	require.Equal(t, "2.089 2.361", m.Scents[0].Share.Shift(2).StringFixed(3)+" "+m.Scents[0].ShareNow.Shift(2).StringFixed(3))
	require.True(t, m.Scents[0].Over, "2.3605 % is over 2.36 %")
	found = w.atRelease(batch)
	require.Equal(t, []string{"scent-over-limit"}, onScent(found, ledger.Stop))
	text = textOf(t, &ledger.Error{Findings: found}, "scent-over-limit")
	for _, part := range []string{bars.Code, "2.37 % of the bars at their mass now (mean of the bars weighed on", "2.09 % as poured", "allows 2.36 %"} {
		require.Contains(t, text, part)
	}

	w.corrected(w.lot(lot).Entry, &ledger.LotReceived{ID: lot, Material: w.scent, Supplier: w.supplier, SupplierLot: "SC-NOW", Mass: grams("500"), LimitShare: ptr(dec("0.02361"))})
	require.False(t, w.madeOf(bars).Scents[0].Over)
	require.Empty(t, onScent(w.atRelease(batch), ledger.Stop))
	require.Empty(t, onScent(w.atRelease(batch), ledger.Warn))
	w.verify()
}

// Bars that hold more water than usual are within their limit now and will not stay so.
func TestScentLimitComesNearAsBarsDry(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	batch, _ := w.scented([2]any{w.scentOf(w.scent, "SC-2", "0.0229"), "30"})
	w.cut(batch, "135") // 30 of 1350 g are 2.22 %
	require.Empty(t, onScent(w.atRelease(batch), ledger.Stop))
	require.Equal(t, []string{"scent-limit-near"}, onScent(w.atRelease(batch), ledger.Warn))
}

// Lots of one scent add up against the strictest of their limits; another scent stands by itself.
func TestScentsAddUpByMaterial(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	rose := record(w, &ledger.MaterialDefined{Name: "Scent of rose", Type: "scent", USName: "Fragrance", EUName: "PARFUM"}).ID
	strict, wide, unstated := w.scentOf(w.scent, "SC-A", "0.0236"), w.scentOf(w.scent, "SC-B", "0.05"), w.scentOf(rose, "RO-1", "")
	batch, _ := w.scented([2]any{wide, "15"}, [2]any{strict, "15"}, [2]any{unstated, "3"})
	bars := w.cut(batch, "127.09")
	m := w.madeOf(bars)
	require.Len(t, m.Scents, 2)
	for _, s := range m.Scents {
		if s.Material == rose {
			require.Nil(t, s.Limit)
			require.False(t, s.Over)
			continue
		}
		require.Equal(t, "30.0000", s.Share.Mul(m.Poured.Grams).StringFixed(4))
		require.Equal(t, "0.0236", s.Limit.String())
		require.Len(t, s.Lots, 2)
	}
	found := w.atRelease(batch)
	require.Equal(t, []string{"scent-over-limit"}, onScent(found, ledger.Stop))
	require.Contains(t, textOf(t, &ledger.Error{Findings: found}, "scent-over-limit"), "lot "+w.lot(strict).Code+" allows 2.36 %")
	require.Equal(t, []string{"scent-limit-unknown"}, onScent(found, ledger.Warn))
	require.Contains(t, textOf(t, &ledger.Error{Findings: found}, "scent-limit-unknown"), "lot "+w.lot(unstated).Code+" (Scent of rose)")
}

// A portion is a soap of its own, and so are its bars. Half of what is common, 735 g with 10 g of scent and 150 g of water, with
// 30 g of the dispersion and 10 g more of scent are 775 g: 2.58 % as poured, 2.88 % at 10 % of water. White has 1.36 % and 1.54 %,
// and all of it mixed would have 2.23 %. What bars have of scent goes with them into other soap.
func TestScentOfAPortion(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	x := w.layered()
	share := func(lot ledger.Lot) string {
		m := w.madeOf(lot)
		return m.Scents[0].Share.Mul(m.Poured.Grams).StringFixed(4)
	}
	require.Equal(t, "12.0000 8.0000", share(x.white)+" "+share(x.blue))
	_, bars := w.reworkedFrom(x.blue)
	require.Equal(t, "34.0000", share(bars), "30 g of its own and half of 8 g")

	lot := w.scentOf(w.scent, "SC-P", "0.025")
	b := record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: x.batch.FormulaVersion})
	w.step(b.ID, ledger.StepStart)
	for i, c := range []struct {
		lot  int64
		mass string
	}{{x.stock.ID, "300"}, {w.waterLot, "150"}, {w.oliveLot, "700"}, {w.coconutLot, "300"}, {w.scentLot, "20"}, {x.dispersed.ID, "30"}} {
		w.put(b.ID, i+1, c.lot, c.mass)
	}
	_, err := w.l.Record(t.Context(), w.owner, ledger.Request{Override: "round figures", Body: &ledger.WeighingTaken{Batch: b.ID, Portion: "blue", Lot: lot, Mass: grams("10")}})
	require.NoError(t, err)
	w.warm(b.ID)
	w.step(b.ID, ledger.StepCombine)
	found := record(w, &ledger.StepTaken{Batch: b.ID, Step: ledger.StepPour}).Findings
	require.Equal(t, []string{"scent-limit-near"}, onScent(found, ledger.Warn))
	text := textOf(t, &ledger.Error{Findings: found}, "scent-limit-near")
	require.Contains(t, text, "portion blue: Scent of hay is 2.59 % as poured, and would be 2.88 % dried")
	require.NotContains(t, text, "white")
}

func TestScentLimitIsAskedForRightly(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	for field, r := range map[string]ledger.LotReceived{
		"of an oil":      {Material: w.olive, LimitShare: ptr(dec("0.03"))},
		"nothing":        {Material: w.scent, LimitShare: ptr(dec("0"))},
		"more than all":  {Material: w.scent, LimitShare: ptr(dec("1.01"))},
		"note by itself": {Material: w.scent, LimitNote: "IFRA category 9"},
	} {
		r.Supplier, r.SupplierLot, r.Mass = w.supplier, "X", grams("10")
		fault(t, w.try(&r), ledger.Invalid)
		require.Contains(t, w.try(&r).Error(), "limit", field)
	}
	lot := w.lot(w.scentOf(w.scent, "SC-1", "1"))
	require.Equal(t, "1", lot.LimitShare.String())
	require.Equal(t, "IFRA category 9, invented certificate", lot.LimitNote)
}

// A limit that is put right to a lower one opens the releases that stood on it; a higher one, or the first, does not.
func TestALowerScentLimitReopens(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, _ := w.released()
	state := func(limit string) string {
		r := &ledger.LotReceived{ID: w.scentLot, Material: w.scent, Supplier: w.supplier, SupplierLot: "SC-1", Mass: grams("500")}
		if limit != "" {
			r.LimitShare = ptr(dec(limit))
		}
		w.corrected(w.lot(w.scentLot).Entry, r)
		return w.stage(b.ID)
	}
	require.Equal(t, ledger.Released, state("0.6"))
	require.Equal(t, ledger.Released, state(""))
	require.Equal(t, ledger.Released, state("0.03"))
	require.Equal(t, ledger.Curing, state("0.029"))
	w.verify()
}
