package ledger_test

import (
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ashbook/ledger"
	"ashbook/ledger/made"
)

// reacting are materials that take part in what happens in the pot, each with a lot.
type reacting struct{ citric, vinegar, milk, stearic, jojoba int64 }

func (w *workshop) additive(m ledger.MaterialDefined) (material, lot int64) {
	w.t.Helper()
	m.Type, m.EUName = "additive", m.Name
	material = record(w, &m).ID
	return material, w.receive(material, m.Name, "5000")
}

func (w *workshop) reacting() (lots reacting) {
	w.t.Helper()
	_, lots.citric = w.additive(ledger.MaterialDefined{Name: "Citric acid", AcidEquiv: ptr(dec("64.041"))})
	_, lots.vinegar = w.additive(ledger.MaterialDefined{Name: "Vinegar", AcidEquiv: ptr(dec("60.052")), AcidShare: ptr(dec("0.05"))})
	_, lots.milk = w.additive(ledger.MaterialDefined{Name: "Milk", WaterShare: ptr(dec("0.87"))})
	oil := func(m ledger.MaterialDefined, low, high string) int64 {
		m.Type, m.SAPMin, m.SAPMax, m.SAPSource = "oil", ptr(dec(low)), ptr(dec(high)), "invented"
		return w.receive(record(w, &m).ID, m.Name, "5000")
	}
	lots.stearic = oil(ledger.MaterialDefined{Name: "Stearic acid", FreeAcid: true}, "196", "200")
	lots.jojoba = oil(ledger.MaterialDefined{Name: "Jojoba", NoGlycerol: true}, "88", "96")
	return lots
}

// 1 g of anhydrous citric acid takes 0.62455 g of NaOH: row citric_naoh of testdata/reference/chem-check-values.csv.
// Without acid the plan is 149.67078 × 0.95 / 0.98 = 145.0890 g of lye.
func TestAcidsTakeAlkali(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	citric, citricLot := w.additive(ledger.MaterialDefined{Name: "Citric acid", AcidEquiv: ptr(dec("64.041"))})
	half := record(w, &ledger.MaterialDefined{Name: "Citric acid, half water", Type: "prepared", Parts: []ledger.MaterialPart{{Material: citric, Share: dec("0.5")}, {Material: w.water, Share: dec("0.5")}}}).ID
	vinegar, _ := w.additive(ledger.MaterialDefined{Name: "Vinegar", AcidEquiv: ptr(dec("60.052")), AcidShare: ptr(dec("0.05"))})

	formula := func(material int64, mass string) *ledger.FormulaDefined {
		f := *w.formula
		f.ID, f.Formula, f.Name, f.Plan = 0, 0, "With an acid "+fmt.Sprint(material, mass), nil
		f.Lines = append(f.Lines[:3:3], ledger.FormulaLine{Material: material, Basis: ledger.ByMass, Amount: dec(mass)})
		return record(w, &f)
	}
	require.Equal(t, "145.1", w.formula.Plan[0].Grams.String())
	withCitric := formula(citric, "20")
	require.Equal(t, "157.8", withCitric.Plan[0].Grams.String())              // 12.4910 / 0.98 = 12.7459 more
	require.Equal(t, "157.8", formula(half, "40").Plan[0].Grams.String())     // the same inside something prepared
	require.Equal(t, "148.5", formula(vinegar, "100").Plan[0].Grams.String()) // 3.330 / 0.98 = 3.398 more
	require.Equal(t, "0.0502", withCitric.Lye.Superfat.StringFixed(4))        // 1 - (157.8 × 0.98 - 12.491) / 149.67078

	b := record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: withCitric.ID})
	w.step(b.ID, ledger.StepStart)
	for i, c := range []struct {
		lot  int64
		mass string
	}{{w.lyeLot, "157.8"}, {w.waterLot, "300"}, {w.oliveLot, "700"}, {w.coconutLot, "300"}} {
		w.put(b.ID, i+1, c.lot, c.mass)
	}
	superfat := func() string {
		lye, err := w.l.Lye(t.Context(), b.ID)
		require.NoError(t, err)
		return lye.Superfat.StringFixed(5)
	}
	mend, err := w.l.Mend(t.Context(), b.ID)
	require.NoError(t, err)
	require.Equal(t, "157.8", mend.Lines[0].Right.String(), "the acid still comes")
	require.Empty(t, mend.Oils, "nothing is to be mended")
	require.Equal(t, "-0.03323", superfat()) // 1 - 154.644 / 149.67078
	w.put(b.ID, w.lineOf(b, citric), citricLot, "20")
	require.Equal(t, "0.05023", superfat()) // the acid took 12.49106 g
	w.verify()
}

func TestWhatReactsIsRefusedWhereItMakesNoSense(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	oil := ledger.MaterialDefined{Type: "oil", SAPMin: ptr(dec("190")), SAPMax: ptr(dec("200")), SAPSource: "invented"}
	for field, m := range map[string]ledger.MaterialDefined{
		"free_acid":       {Type: "additive", FreeAcid: true},
		"acid_equivalent": {Type: "scent", AcidEquiv: ptr(dec("64"))},
		"acid_share":      {Type: "additive", AcidShare: ptr(dec("0.5"))},
		"water_share":     {Type: "additive", AcidEquiv: ptr(dec("64")), WaterShare: ptr(dec("0.5"))},
	} {
		m.Name = "Wrong " + field
		err := w.try(&m)
		fault(t, err, ledger.Invalid)
		e, _ := errors.AsType[*ledger.Error](err)
		require.Equal(t, field, e.Field)
	}
	for _, m := range []ledger.MaterialDefined{
		{Type: "additive", AcidEquiv: ptr(dec("19.9"))}, {Type: "additive", AcidEquiv: ptr(dec("1000.1"))}, {Type: "additive", AcidEquiv: ptr(dec("60")), AcidShare: ptr(dec("1.1"))},
		{Type: "additive", AcidEquiv: ptr(dec("60")), AcidShare: ptr(dec("0"))}, {Type: "additive", WaterShare: ptr(dec("1"))}, {Type: "colour", WaterShare: ptr(dec("0.5"))},
		{Type: oil.Type, SAPMin: oil.SAPMin, SAPMax: oil.SAPMax, SAPSource: oil.SAPSource, AcidEquiv: ptr(dec("280"))},
	} {
		m.Name = "Wrong"
		fault(t, w.try(&m), ledger.Invalid)
	}
	oil.Name, oil.FreeAcid = "Stearic acid", true
	kept, err := w.l.Material(t.Context(), record(w, &oil).ID)
	require.NoError(t, err)
	require.True(t, kept.FreeAcid)
	require.Nil(t, kept.AcidEquiv)
	w.verify()
}

// Stearic acid of 198 mg KOH/g makes 100 × 0.198 / 56.1056 × 18.015 = 6.35764 g of water and no glycerol, jojoba neither.
func TestFreeFattyAcidAndWaxAsMade(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	x := w.reacting()
	b := w.started()
	w.put(b.ID, 1, w.lyeLot, "150")
	w.put(b.ID, 2, w.waterLot, "300")
	for _, lot := range []int64{x.stearic, x.jojoba} {
		w.put(b.ID, 0, lot, "100")
	}
	w.put(b.ID, 3, w.oliveLot, "700")
	m, err := w.l.MadeOfBatch(t.Context(), b.ID)
	require.NoError(t, err)
	requireWhole(t, m)
	for _, p := range m.Made {
		switch {
		case p.What == made.AnyWater && p.Material == 0:
			require.Equal(t, "6.3576", p.Grams.StringFixed(4))
		case p.What == made.Glycerol:
			require.Equal(t, "glycerol from Olive oil", p.Text)
		}
	}
}

// brew is what a random workshop weighs, in grams.
type brew struct{ inPremix, premix, fresh, lye, water, scraps []int }

// Through a premix, soap with it and soap made over with more of it, nothing is lost or won, whatever reacts.
func TestAsMadeConservesMass(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	x := w.reacting()
	lots := []int64{w.oliveLot, w.coconutLot, x.stearic, x.jojoba, x.citric, x.vinegar, x.milk, w.scentLot}
	jug := record(w, &ledger.MaterialDefined{Name: "A jug of anything", Type: "prepared", Parts: []ledger.MaterialPart{{Material: w.water, Share: dec("1")}}}).ID
	some := func(n, most int) *rapid.Generator[[]int] { return rapid.SliceOfN(rapid.IntRange(0, most), n, n) }
	brews := rapid.Custom(func(t *rapid.T) brew {
		return brew{some(len(lots), 12).Draw(t, "into the premix"), rapid.SliceOfN(rapid.IntRange(1, 5), 2, 2).Draw(t, "of the premix"), some(2*len(lots), 20).Draw(t, "fresh"),
			rapid.SliceOfN(rapid.IntRange(1, 25), 2, 2).Draw(t, "lye"), rapid.SliceOfN(rapid.IntRange(1, 40), 2, 2).Draw(t, "water"), rapid.SliceOfN(rapid.IntRange(1, 5), 1, 1).Draw(t, "scraps")}
	})
	for seed := range 4 {
		r := brews.Example(seed)
		p := record(w, &ledger.BatchPlanned{Purpose: ledger.ForPremix, Material: jug})
		w.put(p.ID, 0, w.waterLot, "3.3333")
		for i, mass := range r.inPremix {
			if mass > 0 {
				w.put(p.ID, 0, lots[i], fmt.Sprintf("%d.0001", mass))
			}
		}
		premix := w.lot(record(w, &ledger.BatchYielded{Batch: p.ID, Outputs: []ledger.Output{{What: "prepared", Mass: grams("3.3")}}}).Outputs[0].ID)
		require.True(t, w.madeOf(premix).Poured.Grams.Equal(dec("3.3")))
		var bars ledger.Lot
		for stage := range 2 {
			b := w.started()
			w.put(b.ID, 0, w.oliveLot, "7.77")
			w.put(b.ID, 1, w.lyeLot, fmt.Sprintf("%d.07", r.lye[stage]))
			w.put(b.ID, 2, w.waterLot, fmt.Sprintf("%d.003", r.water[stage]))
			w.put(b.ID, 0, premix.ID, fmt.Sprintf("0.%d", r.premix[stage]))
			for i, lot := range lots {
				if mass := r.fresh[stage*len(lots)+i]; mass > 0 {
					w.put(b.ID, 0, lot, fmt.Sprintf("%d.01", mass))
				}
			}
			if stage > 0 {
				record(w, &ledger.WeighingTaken{Batch: b.ID, Lot: bars.ID, Pieces: ptr(dec(fmt.Sprint(r.scraps[0]))), Mass: grams("1")})
			}
			pot, err := w.l.MadeOfBatch(t.Context(), b.ID)
			require.NoError(t, err)
			requireWhole(t, pot)
			for _, lot := range w.finish(b.ID, ledger.Output{What: "bars", Pieces: 7, Mass: grams("9")}, ledger.Output{What: "remnants", Mass: grams("1.1")}) {
				m := w.madeOf(lot)
				require.Equal(t, pot.Made[0].Text, m.Made[0].Text, "bars and trimmings are of one pot")
				if lot.What == "bars" {
					bars = lot
				}
			}
		}
	}
	w.verify()
}
