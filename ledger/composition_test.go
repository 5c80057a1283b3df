package ledger_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// put weighs a mass into a batch, whatever was planned.
func (w *workshop) put(batch int64, line int, lot int64, mass string) int64 {
	w.t.Helper()
	r, err := w.l.Record(w.t.Context(), w.owner, ledger.Request{Override: "round figures", Body: &ledger.WeighingTaken{Batch: batch, Line: line, Lot: lot, Mass: grams(mass)}})
	require.NoError(w.t, err)
	return r.Entry
}

// prepare makes a prepared lot of two others.
func (w *workshop) prepare(purpose string, material int64, one int64, mass1 string, two int64, mass2 string, made string) ledger.Lot {
	w.t.Helper()
	b := record(w, &ledger.BatchPlanned{Purpose: purpose, Material: material})
	w.put(b.ID, 0, one, mass1)
	w.put(b.ID, 0, two, mass2)
	y := record(w, &ledger.BatchYielded{Batch: b.ID, Outputs: []ledger.Output{{What: "prepared", Mass: grams(made)}}})
	return w.lot(y.Outputs[0].ID)
}

// finish takes a batch that is weighed to its outputs.
func (w *workshop) finish(batch int64, outputs ...ledger.Output) []ledger.Lot {
	w.t.Helper()
	w.warm(batch)
	for _, s := range []string{ledger.StepCombine, ledger.StepPour} {
		_, err := w.l.Record(w.t.Context(), w.owner, ledger.Request{Override: "round figures", Body: &ledger.StepTaken{Batch: batch, Step: s}})
		require.NoError(w.t, err)
	}
	w.clock.Add(25 * time.Hour)
	w.step(batch, ledger.StepUnmould)
	record(w, &ledger.BatchYielded{Batch: batch, Outputs: outputs})
	lots, err := w.l.Outputs(w.t.Context(), batch)
	require.NoError(w.t, err)
	return lots
}

// amounts are the grams of each material in a lot of bars, by name.
func (w *workshop) amounts(lot ledger.Lot) map[string]string {
	w.t.Helper()
	list, err := w.l.Ingredients(w.t.Context(), lot)
	require.NoError(w.t, err)
	out := map[string]string{}
	for _, x := range list {
		out[x.Material.Name] = x.Grams.Round(6).String()
	}
	return out
}

// layers is a batch in two layers with stock lye and a dispersion, and its lots: white bars, blue bars.
type layers struct {
	batch            *ledger.BatchPlanned
	white, blue      ledger.Lot
	stock, dispersed ledger.Lot
	split            int64 // the entry that divided the pot
}

// layered makes it of round figures. The stock lye holds 500 g of alkali and 500 g of water, the dispersion 20 g of mica
// and 80 g of sunflower oil. Common to both layers are 300 g of stock lye, 150 g of water, 700 g of olive oil, 300 g of
// coconut oil and 20 g of scent: 1470 g, divided 882 : 588. Then 30 g of the dispersion go into the blue layer: 618 g.
func (w *workshop) layered() layers {
	w.t.Helper()
	x := layers{stock: w.prepare(ledger.ForStockLye, w.stock, w.lyeLot, "500", w.waterLot, "500", "1000"),
		dispersed: w.prepare(ledger.ForPremix, w.blue, w.micaLot, "20", w.sunflowerLot, "80", "100")}
	f := record(w, &ledger.FormulaDefined{Name: "Two layers", OilGrams: dec("1000"), Superfat: dec("0.03"), Concentration: dec("0.33"), Alkali: w.lye,
		AlkaliPurity: dec("0.98"), Water: w.water, StockLye: w.stock, TempMinC: ptr(dec("30")), TempMaxC: ptr(dec("50")), MouldHours: 24, Bars: 10,
		Portions: []ledger.FormulaPortion{{Name: "white", Share: dec("0.5")}, {Name: "blue", Share: dec("0.5")}},
		Lines: []ledger.FormulaLine{{Material: w.olive, Basis: ledger.ByPercent, Amount: dec("70")}, {Material: w.coconut, Basis: ledger.ByPercent, Amount: dec("30")},
			{Material: w.scent, Basis: ledger.ByPercent, Amount: dec("2")}, {Material: w.blue, Portion: "blue", Basis: ledger.ByMass, Amount: dec("30")}}})
	x.batch = record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: f.ID})
	w.step(x.batch.ID, ledger.StepStart)
	for i, c := range []struct {
		lot  int64
		mass string
	}{{x.stock.ID, "300"}, {w.waterLot, "150"}, {w.oliveLot, "700"}, {w.coconutLot, "300"}, {w.scentLot, "20"}} {
		w.put(x.batch.ID, i+1, c.lot, c.mass)
	}
	w.warm(x.batch.ID)
	w.step(x.batch.ID, ledger.StepCombine)
	x.split = w.enter(&ledger.PortionsSplit{Batch: x.batch.ID, Portions: []ledger.PortionMass{{Name: "blue", Mass: grams("588")}, {Name: "white", Mass: grams("882")}}}).Entry
	fault(w.t, w.try(&ledger.PortionsSplit{Batch: x.batch.ID, Portions: []ledger.PortionMass{{Name: "blue", Mass: grams("1")}, {Name: "white", Mass: grams("1")}}}), ledger.Conflict)
	w.put(x.batch.ID, 6, x.dispersed.ID, "30")
	w.step(x.batch.ID, ledger.StepPour)
	w.clock.Add(25 * time.Hour)
	w.step(x.batch.ID, ledger.StepUnmould)
	// 1400 g after the cut, in the proportion of what was poured: 882 and 618 of 1500 g.
	y := record(w, &ledger.BatchYielded{Batch: x.batch.ID, Outputs: []ledger.Output{{What: "bars", Portion: "white", Pieces: 6, Mass: grams("823.2")},
		{What: "bars", Portion: "blue", Pieces: 4, Mass: grams("576.8")}}})
	x.white, x.blue = w.lot(y.Outputs[0].ID), w.lot(y.Outputs[1].ID)
	return x
}

func TestCompositionOfLayers(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	x := w.layered()
	// Three fifths of what is common; nothing of the dispersion.
	require.Equal(t, map[string]string{"Olive oil": "420", "Coconut oil": "180", "Lye": "90", "Water": "180", "Scent of hay": "12"}, w.amounts(x.white))
	// Two fifths, and the dispersion: a fifth of 30 g is mica.
	require.Equal(t, map[string]string{"Olive oil": "280", "Coconut oil": "120", "Lye": "60", "Water": "120", "Scent of hay": "8", "Mica": "6", "Sunflower oil": "24"}, w.amounts(x.blue))
	require.Equal(t, "882 618", x.white.PouredGrams.String()+" "+x.blue.PouredGrams.String())

	// 700 × 190 + 300 × 256.5 + 24 × 190.5 mg of KOH are 214.522 g, or 152.93011 g of NaOH; 150 g at 98 % are 147 g.
	// Without the oil of the dispersion it would be 149.67078 g, and 0.0178.
	lye, err := w.l.Lye(t.Context(), x.batch.ID)
	require.NoError(t, err)
	require.Equal(t, "0.0388", lye.Superfat.StringFixed(4))
	require.Equal(t, "1024 150 300", lye.OilGrams.String()+" "+lye.AlkaliGrams.String()+" "+lye.WaterGrams.String())
	w.verify()
}

func TestAskRespectsPortions(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	x := w.layered()
	ask := func(words string) (reached, sources []int64) {
		a, err := w.l.Ask(t.Context(), words)
		require.NoError(t, err, words)
		for _, r := range a.Reached {
			reached = append(reached, r.Lot)
		}
		for _, s := range a.Sources {
			sources = append(sources, s.Lot)
		}
		return reached, sources
	}
	reached, _ := ask("MI-1")
	require.Equal(t, []int64{w.micaLot, x.dispersed.ID, x.blue.ID}, reached)
	reached, _ = ask("ly-1")
	require.Equal(t, []int64{w.lyeLot, x.stock.ID, x.white.ID, x.blue.ID}, reached)
	_, sources := ask(x.white.Code)
	require.ElementsMatch(t, []int64{x.stock.ID, w.waterLot, w.oliveLot, w.coconutLot, w.scentLot, w.lyeLot, w.waterLot}, sources)
	_, sources = ask(x.blue.Code)
	require.Contains(t, sources, w.micaLot)
	_, sources = ask(x.batch.Code)
	require.Contains(t, sources, w.micaLot)
}

// A correction above soap that is released opens its release again, at any distance.
func TestCorrectionOpensWhatWasMadeOfIt(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	x := w.layered()
	second, bars := w.reworkedFrom(x.blue)
	w.cure(x.batch.ID, x.blue)
	w.cure(second, bars)
	decide := func() {
		w.release(x.batch.ID)
		w.release(second)
		require.Equal(t, "6 2 10", w.at(x.white.ID, "ready")+" "+w.at(x.blue.ID, "ready")+" "+w.at(bars.ID, "ready"))
	}
	opened := func() {
		w.reopened(x.batch.ID)
		w.reopened(second)
		require.Equal(t, "6 2 10", w.at(x.white.ID, "rack")+" "+w.at(x.blue.ID, "rack")+" "+w.at(bars.ID, "rack"))
		w.verify()
	}
	decide()
	premix := *x.dispersed.BatchID
	w.corrected(w.entryOf(premix, w.micaLot), &ledger.WeighingTaken{Batch: premix, Lot: w.micaLot, Mass: grams("21")})
	opened()
	decide()
	w.corrected(x.split, &ledger.PortionsSplit{Batch: x.batch.ID, Portions: []ledger.PortionMass{{Name: "blue", Mass: grams("735")}, {Name: "white", Mass: grams("735")}}})
	opened()
	decide()
	w.corrected(w.entryOf(second, w.scentLot), nil)
	w.reopened(second)
	require.Equal(t, ledger.Released, w.stage(x.batch.ID), "what is above it is as it was")
	w.verify()
}

// reworkedFrom makes a plain batch of 1470 g with two of the bars in it: 10 bars.
func (w *workshop) reworkedFrom(bars ledger.Lot) (int64, ledger.Lot) {
	w.t.Helper()
	b := w.started()
	for _, c := range []struct {
		material int64
		mass     string
	}{{w.lye, "145"}, {w.water, "295"}, {w.olive, "700"}, {w.coconut, "300"}, {w.scent, "30"}} {
		w.put(b.ID, w.lineOf(b, c.material), w.lotFor(c.material), c.mass)
	}
	record(w, &ledger.WeighingTaken{Batch: b.ID, Lot: bars.ID, Pieces: ptr(dec("2")), Mass: grams("270")}) // as they weigh now
	return b.ID, w.finish(b.ID, ledger.Output{What: "bars", Pieces: 10, Mass: grams("1600")})[0]
}

// Two of four blue bars are 309 g as poured, whatever they weigh by now.
func TestReworkCountsAsPoured(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	x := w.layered()
	second, bars := w.reworkedFrom(x.blue)
	require.Equal(t, "1779", bars.PouredGrams.String())
	require.Equal(t, map[string]string{"Olive oil": "840", "Coconut oil": "360", "Lye": "175", "Water": "355", "Scent of hay": "34", "Mica": "3", "Sunflower oil": "12"}, w.amounts(bars))
	// Soap that was made already takes no alkali: 1 - 145 × 0.98 / 149.67078 = 0.0506.
	lye, err := w.l.Lye(t.Context(), second)
	require.NoError(t, err)
	require.Equal(t, "0.0506", lye.Superfat.StringFixed(4))
	require.Equal(t, "1000", lye.OilGrams.String())
	w.verify()
}

// Of 1779 g poured, 100 of 1600 g at the cut are trimmings: 111.1875 g as poured, of which half is 55.59375 g.
func TestTrimmingsCountAsPoured(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := w.started()
	w.put(b.ID, w.lineOf(b, w.lye), w.lyeLot, "145")
	w.put(b.ID, w.lineOf(b, w.water), w.waterLot, "634")
	w.put(b.ID, w.lineOf(b, w.olive), w.oliveLot, "700")
	w.put(b.ID, w.lineOf(b, w.coconut), w.coconutLot, "300")
	lots := w.finish(b.ID, ledger.Output{What: "bars", Pieces: 10, Mass: grams("1500")}, ledger.Output{What: "remnants", Mass: grams("100")})
	i := slices.IndexFunc(lots, func(l ledger.Lot) bool { return l.What == "remnants" })
	require.Equal(t, "111.1875", lots[i].PouredGrams.String())
	next := w.started()
	w.put(next.ID, 0, lots[i].ID, "50")
	a, err := w.l.Ask(t.Context(), next.Code)
	require.NoError(t, err)
	require.Equal(t, "55.59375", a.Sources[0].Grams.String())
	require.Equal(t, lots[i].Code, a.Sources[0].Code)
	w.verify()
}

// Soap that goes into soap that goes into soap: twelve batches deep, asked from both ends.
func TestReworkTwelveDeep(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	first := w.receive(w.mica, "MI-DEEP", "10")
	const depth = 12
	var bars ledger.Lot
	for i := range depth {
		b := record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: w.formula.ID, OilGrams: dec("100")})
		w.step(b.ID, ledger.StepStart)
		w.weigh(b.ID)
		if i == 0 {
			w.put(b.ID, 0, first, "8")
		} else {
			record(w, &ledger.WeighingTaken{Batch: b.ID, Lot: bars.ID, Pieces: ptr(dec("1")), Mass: grams("60")})
		}
		bars = w.finish(b.ID, ledger.Output{What: "bars", Pieces: 2, Mass: grams("150")})[0]
	}
	down, err := w.l.Ask(t.Context(), "MI-DEEP")
	require.NoError(t, err)
	require.Len(t, down.Reached, depth+1)
	require.Equal(t, bars.ID, down.Reached[depth].Lot)
	require.Equal(t, depth, down.Reached[depth].Depth)

	up, err := w.l.Ask(t.Context(), bars.Code)
	require.NoError(t, err)
	i := slices.IndexFunc(up.Sources, func(s ledger.Source) bool { return s.Lot == first })
	require.Equal(t, depth, up.Sources[i].Depth)
	list, err := w.l.Ingredients(t.Context(), bars)
	require.NoError(t, err)
	i = slices.IndexFunc(list, func(x ledger.Ingredient) bool { return x.Material.ID == w.mica })
	// Half of each batch's mica goes on: 8 g / 2¹¹ goes into the last.
	require.Equal(t, dec("8").DivRound(dec("2048"), 12).StringFixed(6), list[i].Grams.StringFixed(6))
	w.verify()
}
