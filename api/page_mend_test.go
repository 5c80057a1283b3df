package api

import (
	"testing"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// A slip with an oil is mended by the alkali, a slip with the alkali by an oil: the bench says how much. With 294 g of coconut oil for 300 the
// oils take 133 + 75.411 g of KOH: 144.03 g of alkali at 98 % for 5 % superfat.
func TestTheBenchSaysWhatMendsASlip(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	p := w.as(ledger.Owner).hand(t)
	b := w.plan("Slip").ID
	at := "/batches/" + itoa(b)
	p.open(at).send("step").says("Oils still wait. Weigh them first")
	p.open(at+"?line=3").send("weigh", "mass", "700", "second_check", ledger.SecondMethod)
	p.open(at+"?line=4").send("weigh", "mass", "294", "second_check", ledger.SecondMethod)
	p.open(at + "?line=1").says("For the oils that are in the pot, 144 g in all instead of 145.1 g, at the purity")
	p.send("weigh", "mass", "145.1", "second_check", ledger.SecondMethod) // it was in the cup already
	p.open(at).says("More alkali is in than fits the oils.", "Olive oil: add", "Lye that fits the oils", "Chance of lye-heavy soap")

	p.open("/formulas/"+itoa(w.formula.ID)).says("How sure the superfat is", "Chance of lye-heavy soap below 0.1 %", "saponification value", "counts most")
}

// Two alkalis, limits of its own, and water by ratio are said on the same form; a mould is filled by its volume.
func TestAFormulaOfTwoAlkalisThroughThePages(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	p := w.as(ledger.Owner).hand(t)
	p.open("/materials/new?kind=alkali").send("define", "name", "Potash", "alkali", "KOH", "cas", "1310-58-3")
	p.open("/formulas/new")
	p.send("formula", "name", "Soft", "lines.0.material", p.pick("Olive oil"), "lines.0.amount", "100", "alkali", p.pick("Lye"), "water_by", "ratio",
		"concentration", "2", "second_alkali", p.pick("Potash"), "second_share", "40", "second_basis", "equivalents", "second_purity", "90", "lye_warn", "1", "lye_stop", "10")
	p.says("Soft, version 1, is kept.", "40.0 % of the equivalents", "from 2 g of water to one of alkali", "warns above 1.0 %, stops above 10.0 %", "33.3 %")
	p.open("/formulas/new")
	again := p.try("formula", "name", "Heavy", "lines.0.material", p.pick("Olive oil"), "lines.0.amount", "100", "alkali", p.pick("Lye"), "alkali_by", "grams", "superfat", "200")
	require.Equal(t, 422, again.status)
	require.Contains(t, again.html, "below zero the soap would be lye-heavy")
	require.Contains(t, again.html, `value="200"`, "nothing that was typed is lost")

	p.open("/batches/plan?formula="+itoa(w.formula.ID)).send("plan", "mould_ml", "2000", "batter_density", "1").says("The batch is B", "Olive oil 952.6 g")
}
