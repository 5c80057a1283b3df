package ledger_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
	"ashbook/ledger/measure"
)

// Rules of thumb of the trade, held through the whole of the ledger. All of them: common practice, no source.

// pounds is a formula of three pounds of oils, with one more line.
func (w *workshop) pounds(name string, line ledger.FormulaLine) *ledger.FormulaDefined {
	return &ledger.FormulaDefined{Name: name, OilGrams: dec("1360.77711"), Superfat: dec("0.05"), Concentration: dec("0.33"), Alkali: w.lye, AlkaliPurity: dec("0.98"),
		Water: w.water, MouldHours: 72, Bars: 12, Lines: []ledger.FormulaLine{{Material: w.olive, Basis: ledger.ByPercent, Amount: dec("70")},
			{Material: w.coconut, Basis: ledger.ByPercent, Amount: dec("30")}, line}}
}

// One teaspoon of 60 % sodium lactate per pound of oils: three pounds take three teaspoons, about 19.7 g at 1.33 g/mL.
func TestHardenerBySpoonPerPound(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	f := record(w, w.pounds("Hard", ledger.FormulaLine{Material: w.hardener, Basis: ledger.BySpoon, Amount: dec("1"), Unit: measure.Teaspoon, Per: measure.Pound}))
	require.InDelta(t, 19.7, f.Lines[2].Grams.InexactFloat64(), 0.05)
	require.Equal(t, "0.05", f.Superfat.String(), "it is a salt already and takes no alkali")
	b := record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: f.ID})
	w.hardenerLot = w.receive(w.hardener, "HA-1", "200")
	w.step(b.ID, ledger.StepStart)
	spoons := record(w, &ledger.WeighingTaken{Batch: b.ID, Line: 5, Lot: w.hardenerLot, Mass: measure.Mass{Typed: "3", Unit: measure.Teaspoon}})
	require.Equal(t, "3", spoons.Mass.Typed, "what was typed is kept")
	require.InDelta(t, 19.7, spoons.Mass.Grams.InexactFloat64(), 0.05)
	require.Empty(t, spoons.Findings)
}

// An ounce and a half of scent in three pounds of oils is about 3 % of them.
func TestAnOunceAndAHalfOfScent(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	f := record(w, w.pounds("Scented", ledger.FormulaLine{Material: w.scent, Basis: ledger.ByPercent, Amount: dec("3.125")}))
	ounces, err := measure.ParseMass("1.5", measure.Ounce, measure.Bulk{})
	require.NoError(t, err)
	require.InDelta(t, ounces.Grams.InexactFloat64(), f.Lines[2].Grams.InexactFloat64(), 0.01)
}

// Drops count by what one weighs of that material.
func TestScentByDrops(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	drops := ledger.FormulaLine{Material: w.scent, Basis: ledger.BySpoon, Amount: dec("20"), Unit: measure.Drop, Per: measure.Pound}
	require.ErrorContains(t, w.try(w.pounds("Drops", drops)), "mass of a drop")
	record(w, &ledger.MaterialDefined{ID: w.scent, Name: "Scent of hay", Type: "scent", USName: "Fragrance", EUName: "PARFUM", DropGrams: ptr(dec("0.03"))})
	require.Equal(t, "1.8", record(w, w.pounds("Drops", drops)).Lines[2].Grams.String())
}

// A teaspoon of colour goes into a tablespoon of light oil, and that oil counts among the oils of the superfat: here, 20 g of
// it at 187 to 194 mg KOH/g in a batch of 1360.8 g make the alkali for 5 % superfat rise by 20 × 0.8 × 0.1905 × 0.712888 × 0.95 / 0.98 = 2.1 g.
func TestOilOfADispersionCounts(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	plain := record(w, w.pounds("Plain", ledger.FormulaLine{Material: w.scent, Basis: ledger.ByPercent, Amount: dec("3")}))
	blue := record(w, w.pounds("Blue", ledger.FormulaLine{Material: w.blue, Basis: ledger.ByMass, Amount: dec("20")}))
	require.Equal(t, "2.1", blue.Plan[0].Grams.Sub(plain.Plan[0].Grams).String())
}

// Lye water and oils each near 120 °F: the window of a formula is kept in degrees Celsius and read in either.
func TestCombineNear120Fahrenheit(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	r := record(w, &ledger.ReadingTaken{Batch: w.started().ID, Type: ledger.LyeTemperature, Typed: "120", Unit: "F"})
	require.Equal(t, "48.89", r.Value.String())
	require.Equal(t, []string{"120", "F"}, []string{r.Typed, r.Unit})
}

// A silicone mould wants three to four days before unmoulding: a formula that says 72 hours holds the soap in it that long.
func TestASiliconeMouldWaitsThreeDays(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	w.formula = record(w, w.pounds("Silicone", ledger.FormulaLine{Material: w.scent, Basis: ledger.ByPercent, Amount: dec("3")}))
	b := record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: w.formula.ID})
	w.step(b.ID, ledger.StepStart)
	w.weigh(b.ID)
	w.step(b.ID, ledger.StepLyeMade, ledger.StepCombine, ledger.StepPour)
	w.clock.Add(71 * time.Hour)
	w.stops(&ledger.StepTaken{Batch: b.ID, Step: ledger.StepUnmould}, "too-early")
	w.clock.Add(time.Hour)
	w.step(b.ID, ledger.StepUnmould)
}

// Spirit of 99 % sprayed on the top leaves and is no ingredient.
func TestSprayedSpiritIsNoIngredient(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := w.combining("145.1")
	w.step(b, ledger.StepCombine)
	record(w, &ledger.WeighingTaken{Batch: b, Lot: w.spiritLot, Mass: grams("5")})
	m, err := w.l.MadeOfBatch(t.Context(), b)
	require.NoError(t, err)
	for _, part := range m.Added {
		require.NotEqual(t, "Spirit", part.Name)
	}
	require.Equal(t, "5", w.at(w.spiritLot, "air"))
}
