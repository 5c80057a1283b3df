package made

import (
	"testing"

	"ashbook/ledger/soap"
	"ashbook/ledger/trace"
	"ashbook/testdata/reference"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
)

func d(s string) decimal.Decimal { return decimal.RequireFromString(s) }

// within requires |want - got| <= tolerance.
func within(t require.TestingT, want string, got decimal.Decimal, tolerance string, note ...any) {
	reference.Within(t, d(want), got, d(tolerance), note...)
}

// Bought lots of the tests. SAPs of the four oils are the middles of chem-sap.csv; 20 is an oil with a round one.
const (
	olive, coconut, palm, castor  = 1, 2, 3, 4
	soda, potash, weak, tap, mica = 5, 6, 7, 8, 9
	stearic, jojoba, citric       = 10, 11, 12
	milk, vinegar                 = 13, 14
	fat                           = 20
)

func lots() map[trace.ID]Ingredient {
	oil := func(name, low, high string) Ingredient {
		return Ingredient{Name: name, Kind: Oil, SAPMin: d(low), SAPMax: d(high)}
	}
	acid, wax := oil("stearic acid", "197.22", "197.22"), oil("jojoba oil", "92", "92")
	acid.FreeAcid, wax.NoGlycerol = true, true
	alkali := func(name, kind, purity string) Ingredient {
		return Ingredient{Name: name, Kind: Alkali, Alkali: kind, Purity: d(purity)}
	}
	return map[trace.ID]Ingredient{
		olive: oil("olive oil", "184", "196"), coconut: oil("coconut oil", "248", "265"), palm: oil("palm oil", "190", "209"),
		castor: oil("castor oil", "176", "187"), fat: oil("a fat", "195", "205"), stearic: acid, jojoba: wax,
		soda: alkali("soda", soap.NaOH, "0.98"), potash: alkali("potash", soap.KOH, "1"), weak: alkali("weak potash", soap.KOH, "0.9"),
		tap: {Name: "tap water", Kind: Water}, mica: {Name: "mica", Kind: Other}, milk: {Name: "milk", Kind: Other, Water: d("0.87")},
		citric:  {Name: "citric acid", Kind: Acid, Purity: one, EquivalentMass: soap.CitricAcid(one).EquivalentMass},
		vinegar: {Name: "vinegar", Kind: Acid, Purity: d("0.05"), EquivalentMass: soap.AceticAcid(one).EquivalentMass},
	}
}

// tree grows a family by hand: lot 1000 + n comes from batch n.
type tree struct {
	trace.Family
	Facts
}

func newTree() *tree { return &tree{Facts: Facts{Lots: lots(), Soap: map[trace.ID]bool{}}} }

type in struct {
	lot   trace.ID
	grams string
}

func (w *tree) mix(batch trace.ID, uses ...in) *tree {
	for _, u := range uses {
		w.Uses = append(w.Uses, trace.Use{Batch: batch, Lot: u.lot, Grams: d(u.grams)})
	}
	w.Origins = append(w.Origins, trace.Origin{Lot: 1000 + batch, Batch: batch})
	return w
}

func (w *tree) soap(batch trace.ID, uses ...in) *tree {
	w.Soap[batch] = true
	return w.mix(batch, uses...)
}

func (w *tree) made(t require.TestingT, lot trace.ID) Composition {
	all, err := AsMade(w.Family, w.Facts, lot)
	require.NoError(t, err)
	return all[lot]
}

// names is the parts of a composition in grams of a pour.
func names(c Composition, poured string) map[string]decimal.Decimal {
	out := map[string]decimal.Decimal{}
	for _, p := range c.Parts {
		out[p.String()] = p.Share.Mul(d(poured))
	}
	return out
}

// is requires the parts in grams, all of them, each within 0.1 mg.
func is(t *testing.T, c Composition, poured string, want map[string]string) {
	t.Helper()
	got := names(c, poured)
	require.Len(t, got, len(want), "%v", got)
	for name, grams := range want {
		require.Contains(t, got, name)
		within(t, grams, got[name], "0.0001", name)
	}
}

// The worked four-oil batch of the reference values, computed beforehand with other software: 5 % superfat, lye 33 %
// as weighed, purity 0.98.
func TestWorkedFourOilBatch(t *testing.T) {
	w := newTree()
	alkali, err := soap.AlkaliToWeigh([]soap.Oil{
		{Grams: d("500"), SAPMin: d("190"), SAPMax: d("190")}, {Grams: d("250"), SAPMin: d("256.5"), SAPMax: d("256.5")},
		{Grams: d("200"), SAPMin: d("199.5"), SAPMax: d("199.5")}, {Grams: d("50"), SAPMin: d("181.5"), SAPMax: d("181.5")},
	}, d("0.05"), d("0.98"), soap.NaOH)
	require.NoError(t, err)
	pour := alkali.Add(d("1291.9790421582125"))
	within(t, "1435.7896151615112", pour, "1e-12")
	w.soap(1, in{olive, "500"}, in{coconut, "250"}, in{palm, "200"}, in{castor, "50"}, in{soda, alkali.String()}, in{tap, "291.9790421582125"})
	c := w.made(t, 1001)

	for what, v := range map[What]struct{ grams, percent string }{
		Soap:         {reference.Value("four_oil_soap")["expected"], "68.448"},
		Glycerol:     {reference.Value("four_oil_glycerol")["expected"], "7.534"},
		FreeOil:      {"50", "3.482"},
		AnyWater:     {reference.Value("four_oil_water_33")["expected"], "20.336"},
		RestOfAlkali: {"2.876211460065956", "0.200"},
	} {
		within(t, v.grams, c.Share(what).Mul(pour), "0.000001", what) // a microgram
		within(t, v.percent, c.Share(what).Shift(2), "0.0005", what)
	}
	require.True(t, c.FreeAlkali().IsZero())
	within(t, "66.5", c.FattyMatter().Shift(2), "0.05")
	// Fatty acids of 3.5236233103290933 mol at 256.9258 g/mol, and 50 g oil.
	within(t, "955.3097", c.FattyMatter().Mul(pour), "0.0002")
	for _, v := range []struct{ water, grams, loss, tfm string }{
		{"0.12", "1299.78", "9.47", "73.50"}, {"0.10", "1270.90", "11.48", "75.17"}, {"0.08", "1243.27", "13.41", "76.84"},
	} {
		bar, err := c.AtWater(d(v.water))
		require.NoError(t, err)
		within(t, v.grams, bar.Mass.Mul(pour), "0.005")
		within(t, v.loss, one.Sub(bar.Mass).Shift(2), "0.005")
		within(t, v.tfm, bar.FattyMatter().Shift(2), "0.005")
		weighed, err := c.Dried(pour, bar.Mass.Mul(pour))
		require.NoError(t, err)
		within(t, v.water, weighed.Share(AnyWater), "1e-11")
		requireWhole(t, bar)
		requireWhole(t, weighed)
	}
}

func requireWhole(t require.TestingT, c Composition) {
	sum := decimal.Zero
	for i, p := range c.Parts {
		require.False(t, p.Share.IsNegative(), "%s: %s", p, p.Share)
		require.LessOrEqual(t, -p.Share.Exponent(), int32(12))
		require.True(t, i == 0 || p.Share.LessThanOrEqual(c.Parts[i-1].Share), "largest first")
		sum = sum.Add(p.Share)
	}
	require.True(t, sum.Equal(one), sum)
}

// The same batch with 40 % of the equivalents as potash of purity 0.90: 84.5606 g and 79.0780 g of pure alkali in the
// reference values. By mass conservation the soap is 950 + 84.5606 + 79.0780 - 108.1682 g.
func TestTwoAlkalis(t *testing.T) {
	w := newTree().soap(1, in{olive, "500"}, in{coconut, "250"}, in{palm, "200"}, in{castor, "50"}, in{soda, "86.2863"}, in{weak, "87.8644"}, in{tap, "300"})
	c := w.made(t, 1001)
	pour := d("1474.1507")
	within(t, "1005.4704", c.Share(Soap).Mul(pour), "0.001")
	within(t, "108.1682", c.Share(Glycerol).Mul(pour), "0.0001")
	within(t, "50", c.Share(FreeOil).Mul(pour), "0.001")
	within(t, "10.5122", c.Share(RestOfAlkali).Mul(pour), "0.0001") // 1.7257 + 8.7864
	// Of olive's 500 g × 0.95 × 190/56105.6 = 1.608574 mol, 60 % is sodium soap at 295.2926 - 12.683 + 21.982 g/mol.
	grams := names(c, pour.String())
	within(t, "293.9747", grams["sodium soap of olive oil"], "0.001")
	within(t, "206.3480", grams["potassium soap of olive oil"], "0.001")
}

// A fat that takes 0.2 g potash per gram, so that it can be done by hand. 300 of the 1500 g are reworked: 200 g fat with
// 38 g potash, 10 g of it free, and 62 g water. 2 g of potash more finish it: 40 g in all, 0.712941 mol, which free
// 30.698 g glycerol each.
func TestReworkByHand(t *testing.T) {
	w := newTree().
		soap(1, in{fat, "1000"}, in{potash, "190"}, in{tap, "310"}).
		soap(2, in{1001, "300"}, in{potash, "2"}, in{tap, "18"}).
		soap(3, in{1002, "320"}, in{mica, "5"}) // melted with colour: nothing is left that could react
	is(t, w.made(t, 1001), "1500", map[string]string{
		"potassium soap of a fat": "1036.0421", "unreacted a fat": "50", "water of tap water": "310", "glycerol from a fat": "103.9579",
	})
	done := map[string]string{"potassium soap of a fat": "218.1141", "water of tap water": "80", "glycerol from a fat": "21.8859"}
	is(t, w.made(t, 1002), "320", done)
	done["mica"] = "5"
	is(t, w.made(t, 1003), "325", done)
}

// 10 g of 1500 are free potash, 7.128878 g as NaOH. 150 g of it bring 1 g potash into a batch whose 100 g of fat want 20
// and get 18: 5 g stay free.
func TestLyeHeavyScrapIsUsedUp(t *testing.T) {
	w := newTree().
		soap(1, in{fat, "1000"}, in{potash, "210"}, in{tap, "290"}).
		soap(2, in{1001, "150"}, in{fat, "100"}, in{potash, "18"}, in{tap, "32"})
	c := w.made(t, 1001)
	within(t, "7.128878", c.FreeAlkali().Mul(d("1500")), "0.000001")
	within(t, "10", c.Share(FreeAlkali).Mul(d("1500")), "0.000001")
	require.True(t, c.Share(FreeOil).IsZero())
	// 195 g of fat with 39 g potash, 0.695118 mol: 21.3387 g glycerol; water 29 + 32.
	is(t, w.made(t, 1002), "300", map[string]string{
		"potassium soap of a fat": "212.6613", "unreacted a fat": "5", "water of tap water": "61", "glycerol from a fat": "21.3387",
	})
	require.True(t, w.made(t, 1002).FreeAlkali().IsZero())
}

// 100 g of pure stearic acid are 0.351515 mol (284.484 g/mol). Potassium stearate has 322.574 g/mol, from memory.
func TestFattyAcidMakesWaterAndNoGlycerol(t *testing.T) {
	w := newTree().soap(1, in{stearic, "100"}, in{potash, "19.722"}, in{tap, "50"})
	c := w.made(t, 1001)
	is(t, c, "169.722", map[string]string{
		"potassium soap of stearic acid": "113.3894", "water of tap water": "50", "water that formed": "6.3326",
	})
	within(t, "113.39", c.Share(Soap).Mul(d("169.722")), "0.01")
	within(t, "100", c.FattyMatter().Mul(d("169.722")), "0.000001")

	// Too little potash for both: the acid takes its 19.722 g, the fat the other 10 of the 20 g it wants.
	c = newTree().soap(1, in{stearic, "100"}, in{fat, "100"}, in{potash, "29.722"}).made(t, 1001)
	is(t, c, "229.722", map[string]string{
		"potassium soap of stearic acid": "113.3894", "water that formed": "6.3326", "unreacted a fat": "50",
		"potassium soap of a fat": "54.5285", "glycerol from a fat": "5.4715",
	})
}

// Jojoba's alcohols stay in the soap: 100 g and the potash they take.
func TestWaxSetsNoGlycerolFree(t *testing.T) {
	c := newTree().soap(1, in{jojoba, "100"}, in{potash, "9.2"}).made(t, 1001)
	is(t, c, "109.2", map[string]string{"potassium soap of jojoba oil": "109.2"})
	// A wax and a water make acid and alcohol, 9.2/56.1056 × 18.015 g more than the wax.
	within(t, "102.9540", c.FattyMatter().Mul(d("109.2")), "0.0001")
}

// 10 g of citric acid (192.123 g/mol) take 6.2455 g NaOH and make 13.4325 g of trisodium citrate, 258.069 g/mol from
// memory, and 3 × 18.015/192.123 of their mass in water.
func TestCitricAcidGoesFirst(t *testing.T) {
	w := newTree()
	w.Lots[soda] = Ingredient{Name: "soda", Kind: Alkali, Alkali: soap.NaOH, Purity: one}
	w.soap(1, in{fat, "100"}, in{citric, "10"}, in{soda, "6.2455"}, in{tap, "20"})
	grams := names(w.made(t, 1001), "136.2455")
	within(t, "13.4325", grams["sodium salt of citric acid"], "0.0003")
	within(t, "2.8130", grams["water that formed"], "0.0001")
	within(t, "100", grams["unreacted a fat"], "0.001")
}

// Vinegar in soap that has no lye to spare: 0.05 × 100/60.052 mol of acetic acid take as much potash out of the
// soap and leave fatty acid of 280.528 + 18.015 - 30.698 g/mol; potassium acetate has 98.142 g/mol, from memory. The
// glycerol stays free. Potash turns the fatty acid to soap again, before any oil.
func TestAcidTakesAlkaliOutOfSoap(t *testing.T) {
	w := newTree().
		soap(1, in{fat, "1000"}, in{potash, "190"}, in{tap, "310"}).
		soap(2, in{1001, "1500"}, in{vinegar, "100"}).
		soap(3, in{1002, "1600"}, in{potash, "4.6714"}, in{fat, "50"}).
		soap(4, in{citric, "1"}, in{tap, "9"})
	before, c := names(w.made(t, 1001), "1500"), w.made(t, 1002)
	grams := names(c, "1600")
	within(t, "8.1714", grams["potassium salt of vinegar"], "0.0001")
	within(t, "22.3011", grams["fatty acid from a fat"], "0.0001")
	within(t, "95", grams["water of vinegar"], "0.0001")
	within(t, before["glycerol from a fat"].String(), grams["glycerol from a fat"], "0.000001")
	within(t, "50", grams["unreacted a fat"], "0.000001")
	within(t, "0", w.made(t, 1001).FattyMatter().Mul(d("1500")).Sub(c.FattyMatter().Mul(d("1600"))), "0.000001", "the fatty matter is the same")
	require.NotContains(t, grams, "water that formed")

	grams = names(w.made(t, 1003), "1654.6714")
	within(t, before["potassium soap of a fat"].String(), grams["potassium soap of a fat"], "0.001")
	within(t, "1.4999", grams["water that formed"], "0.0001")
	within(t, "100", grams["unreacted a fat"], "0.001")

	is(t, w.made(t, 1004), "10", map[string]string{"unreacted citric acid": "1", "water of tap water": "9"})
}

// Common: 800 g of fat, 152 of potash, 248 of water. B gets 6 g of potash more, of which its 10 g of free fat take 2.
func TestEachPortionIsAPoolOfItsOwn(t *testing.T) {
	w := newTree().soap(1, in{fat, "800"}, in{potash, "152"}, in{tap, "248"})
	w.Uses = append(w.Uses, trace.Use{Batch: 1, Lot: potash, Portion: "B", Grams: d("6")}, trace.Use{Batch: 1, Lot: mica, Portion: "A", Grams: d("1")})
	w.Splits = []trace.Split{{Batch: 1, Portion: "A", Share: d("0.75")}, {Batch: 1, Portion: "B", Share: d("0.25")}}
	w.Origins = append(w.Origins, trace.Origin{Lot: 2001, Batch: 1, Portion: "A"}, trace.Origin{Lot: 2002, Batch: 1, Portion: "B"})
	a, b := names(w.made(t, 2001), "901"), names(w.made(t, 2002), "306")
	within(t, "30", a["unreacted a fat"], "0.000001")
	within(t, "1", a["mica"], "0.000001")
	require.NotContains(t, a, "free potassium hydroxide")
	within(t, "4", b["free potassium hydroxide"], "0.000001")
	require.NotContains(t, b, "unreacted a fat")
	require.NotContains(t, b, "mica")
}

// Only batches that make soap react. Stock lye of equal masses brings half its mass of alkali.
func TestMixingIsNoReaction(t *testing.T) {
	w := newTree().
		mix(1, in{fat, "100"}, in{potash, "10"}).
		mix(2, in{potash, "50"}, in{tap, "50"}).
		soap(3, in{1001, "110"}, in{1002, "20"}, in{mica, "0.0000000001"})
	is(t, w.made(t, 1001), "110", map[string]string{"unreacted a fat": "100", "free potassium hydroxide": "10"})
	c := w.made(t, 1003)
	is(t, c, "130", map[string]string{
		"potassium soap of a fat": "109.0570", "glycerol from a fat": "10.9430", "water of tap water": "10", "mica": "0",
	})
	is(t, w.made(t, soda), "100", map[string]string{"free sodium hydroxide": "98", "rest of soda": "2"})
}

func TestDrying(t *testing.T) {
	w := newTree().soap(1, in{fat, "1000"}, in{potash, "190"}, in{milk, "200"}, in{tap, "136"})
	c := w.made(t, 1001)
	within(t, "310", c.Share(AnyWater).Mul(d("1526")), "0.000001")
	bar, err := c.Dried(d("1526"), d("1371")) // half the water
	require.NoError(t, err)
	is(t, bar, "1371", map[string]string{
		"potassium soap of a fat": "1036.0421", "unreacted a fat": "50", "glycerol from a fat": "103.9579",
		"water of tap water": "68", "water of milk": "87", "milk": "26",
	}) // what does not dry keeps its grams
	requireWhole(t, bar)
	dry, err := bar.Dried(d("1371"), d("1216"))
	require.NoError(t, err)
	within(t, "1216", dry.Mass.Mul(d("1526")), "0.000001")
	within(t, "0", dry.Share(AnyWater), "1e-11")

	for _, v := range [][2]string{{"1526", "1215"}, {"100", "101"}, {"0", "0"}, {"100", "0"}} {
		_, err := c.Dried(d(v[0]), d(v[1]))
		require.ErrorIs(t, err, soap.ErrInput, "%v", v)
	}
	for _, water := range []string{"-0.01", "0.21", "1"} {
		_, err := c.AtWater(d(water))
		require.ErrorIs(t, err, soap.ErrInput, water)
	}
	_, err = w.made(t, tap).AtWater(d("0.5"))
	require.ErrorIs(t, err, soap.ErrInput, "water alone dries to nothing")
}

func TestMerge(t *testing.T) {
	w := newTree()
	w.Lots[21] = w.Lots[fat]
	w.soap(1, in{fat, "600"}, in{21, "400"}, in{potash, "190"}, in{tap, "310"})
	c := w.made(t, 1001)
	require.Len(t, c.Parts, 7)
	merged := c.Merge(func(lot trace.ID) trace.ID {
		if lot == 21 {
			return fat
		}
		return lot
	})
	is(t, merged, "1500", map[string]string{
		"potassium soap of a fat": "1036.0421", "unreacted a fat": "50", "water of tap water": "310", "glycerol from a fat": "103.9579",
	})
	requireWhole(t, merged)
	require.True(t, merged.FattyMatter().Equal(c.FattyMatter()))
}

func TestRefusals(t *testing.T) {
	for name, change := range map[string]func(i *Ingredient){
		"no SAP":    func(i *Ingredient) { i.SAPMin = decimal.Zero },
		"SAP in %":  func(i *Ingredient) { i.SAPMin, i.SAPMax = d("0.02"), d("0.02") },
		"SAP × 100": func(i *Ingredient) { i.SAPMin, i.SAPMax = d("20000"), d("20000") },
		"turned":    func(i *Ingredient) { i.SAPMax = d("1") },
		"no kind":   func(i *Ingredient) { i.Kind = "" },
		"no purity": func(i *Ingredient) { i.Kind, i.Alkali = Alkali, soap.KOH },
		"alkali":    func(i *Ingredient) { i.Kind, i.Purity, i.Alkali = Alkali, one, "LiOH" },
		"acid":      func(i *Ingredient) { i.Kind, i.Purity = Acid, one },
		"pure acid": func(i *Ingredient) { i.Kind, i.EquivalentMass = Acid, one },
		"water":     func(i *Ingredient) { i.Kind, i.Water = Other, d("1.1") },
	} {
		w := newTree().soap(1, in{fat, "100"}, in{tap, "10"})
		i := w.Lots[fat]
		change(&i)
		w.Lots[fat] = i
		_, err := AsMade(w.Family, w.Facts, 1001)
		require.ErrorIs(t, err, soap.ErrInput, name)
		_, err = AsMade(w.Family, w.Facts, tap)
		require.NoError(t, err, "%s: lots that have nothing to do with it still get an answer", name)
	}
	w := newTree().soap(1, in{fat, "100"}, in{99, "10"})
	_, err := AsMade(w.Family, w.Facts, 1001)
	require.ErrorContains(t, err, "nothing is known about lot 99")
	_, err = AsMade(newTree().soap(1, in{1001, "1"}).Family, w.Facts, 1001)
	require.ErrorIs(t, err, trace.ErrFamily)
}
