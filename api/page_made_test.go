package api

import (
	"net/http"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

func TestWhatBarsAreMadeOfIsShown(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := w.plan("Hay")
	p := w.as(ledger.Seller).hand(t)
	p.open("/batches/" + itoa(b.ID))
	require.NotContains(t, p.on.html, "What it is made of", "nothing is in yet")
	v := w.as(ledger.Visitor)
	path := "/v1/batches/" + itoa(b.ID) + "/composition"
	require.Equal(t, http.StatusConflict, v.get(path).status)
	w.steps(b.ID, ledger.StepStart)
	w.weigh(b.ID, 4) // lye, water and both oils
	p.open("/batches/"+itoa(b.ID)).says("What it is made of", "sodium soap of Olive oil", "Free alkali, predicted")
	require.Equal(t, http.StatusOK, v.get(path).status)

	_, bars := w.released("Clover")
	lot := "/lots/" + itoa(bars.ID)
	p, v = w.as(ledger.Seller).hand(t), w.as(ledger.Visitor) // weeks have passed
	p.open(lot).says("What it is made of", "As added", "As made", "glycerol from Coconut oil", "unreacted Olive oil", "each by its own mass at the cut", "By the weighing of 2 June", "g in a bar")
	var m ledger.MadeOf
	v.get("/v1"+lot+"/composition").json(t, &m)
	sum, now := decimal.Zero, decimal.Zero
	for _, part := range m.Made {
		sum, now = sum.Add(part.Grams), now.Add(part.GramsNow)
	}
	require.True(t, sum.Equal(m.Poured.Grams) && now.Equal(m.Now.Grams) && now.LessThan(sum))
	require.NotEmpty(t, m.Added[0].Lots)
	bought := v.get("/v1/lots/" + itoa(w.lots["OL-2"].ID) + "/composition")
	require.Equal(t, http.StatusUnprocessableEntity, bought.status)
	require.NotContains(t, p.open("/lots/"+itoa(w.lots["OL-2"].ID)).on.html, "What it is made of")
}

// What a formula will be made of is shown before anything is weighed: the bars hold 30 g of scent in 1474 g or so.
func TestWhatAFormulaWillBeMadeOfIsShown(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	p := w.as(ledger.Seller).hand(t)
	p.open("/formulas/"+itoa(w.formula.ID)).says("What it will be made of", "sodium soap of Olive oil", "Dried", "10.00 %", "dried to 10 % of water", "Scents and their limits", "by the lot")
	v := w.as(ledger.Visitor)
	path := "/v1/formulas/" + itoa(w.formula.ID) + "/composition"
	var m ledger.MadeOf
	v.get(path).json(t, &m)
	require.Equal(t, "30", m.Scents[0].Share.Mul(m.Poured.Grams).StringFixed(0))
	require.Equal(t, "0.100000", m.Now.Water.StringFixed(6))
	sum := decimal.Zero
	for _, line := range w.formula.Plan {
		sum = sum.Add(line.Grams)
	}
	require.True(t, sum.Equal(m.Poured.Grams))
	require.Equal(t, http.StatusNotFound, v.get("/v1/formulas/999999/composition").status)
}

// A scent stands beside the limit of its certificate, and over it the release says so.
func TestAScentOverItsLimitIsShown(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.bars("Hay")
	p := w.as(ledger.Owner).hand(t)
	lot := "/lots/" + itoa(bars.ID)
	p.open(lot).says("Scents and their limits", "no limit stated", "not stated")
	p.open("/lots/"+itoa(w.lots["SC-1"].ID)).send("right", "limit_share", "2", "limit_note", "invented", "reason", "the certificate came")
	p.open(lot).says("2 %, invented", "Over") // 30 g of 1470 g are 2.04 %
	p.open("/batches/"+itoa(b.ID)).says("the certificate of lot", "allows 2 % in the finished product (invented)")
}

func TestAnAcidStartsFromWhatIsUsual(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	p := w.as(ledger.Maker).hand(t)
	p.open("/materials/new?kind=additive").says("citric acid, anhydrous: 64.041 g per mol")
	p.open("/materials/new?kind=additive&acid=vinegar,+5+%25+acetic+acid").send("define", "name", "Vinegar").says("60.052 g of the acid take one mol of alkali; 5.0 % of it is acid")
	p.open("/materials/new?kind=additive").send("define", "name", "Milk", "water_share", "87").says("Water in it", "87.0 %")
	p.open("/materials/new?kind=oil").send("define", "name", "Stearic acid", "sap_min", "196", "sap_max", "200", "sap_source", "invented", "free_acid", "yes").
		says("free: with lye it forms water and no glycerol")
	refused := p.open("/materials/new?kind=additive").try("define", "name", "Salt", "acid_share", "5")
	require.Equal(t, http.StatusUnprocessableEntity, refused.status)
	require.Contains(t, refused.words(), "give acid_equivalent too")
}
