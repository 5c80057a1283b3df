package soap

import (
	"errors"
	"slices"
	"testing"

	"ashbook/testdata/reference"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func given(s string) *decimal.Decimal {
	v := d(s)
	return &v
}

// wished is the worked four-oil batch as a wish, oils by share.
func wished() Wish {
	var oils []OilWish
	for _, o := range []struct{ name, share, iodine, density string }{
		{"olive", "0.5", "84.5", ""}, {"coconut", "0.25", "8.45", ""}, {"palm", "0.2", "52.5", ""}, {"castor", "0.05", "", "0.9620"},
	} {
		at := slices.IndexFunc(fourOils(), func(known Oil) bool { return known.Name == o.name })
		wish := OilWish{Oil: fourOils()[at], Share: d(o.share)}
		wish.Grams = decimal.Zero
		if o.iodine != "" {
			wish.Iodine = given(o.iodine)
		} else {
			wish.Density = given(o.density)
		}
		oils = append(oils, wish)
	}
	return Wish{
		Oils: oils, OilGrams: d("1000"), Alkalis: []Alkali{{Kind: NaOH, Purity: d("0.98"), PurityHalf: d("0.01")}},
		Superfat: given("0.05"), Concentration: given("0.33"), Scale: fine,
	}
}

// The worked batch of the reference notes (sections 3 and 10): what to weigh, what the scale's step does, how sure it is.
func TestWorkedWish(t *testing.T) {
	a, err := wished().Work()
	require.NoError(t, err)
	tiny := d("1e-11")
	reference.Within(t, d("143.8105730032987"), a.Exact.Alkalis[0].Grams, tiny)
	reference.Within(t, d("291.9790421582125"), a.Exact.Water, tiny)
	reference.Within(t, d("0.05"), a.Exact.Superfat, tiny)
	reference.Within(t, d("0.33"), a.Exact.Concentration, tiny)
	require.Equal(t, "143.8", a.Weigh.Alkalis[0].Grams.String())
	require.Equal(t, "292", a.Weigh.Water.String())
	require.True(t, a.Weigh.Oils[0].Grams.Equal(d("500")))
	reference.Within(t, d("0.05006984433010753"), a.Weigh.Superfat, d("1e-15"))
	reference.Within(t, d("0.00006984433010753"), a.SuperfatShift, d("1e-15"))
	reference.Within(t, d("143.8").Div(d("435.8")).Sub(d("0.33")), a.ConcentrationShift, d("1e-15"))
	reference.Within(t, d("0.0155"), a.Result.Low, d("0.0001"))
	reference.Within(t, d("0.0822"), a.Result.High, d("0.0001"))
	require.InDelta(t, 0.012289458145657859, a.Budget.U, 1e-9)
	require.InDelta(t, 0.4139, a.Budget.Inputs[0].Share, 0.00005)
}

// The worst case of the reference notes is harsher still: all saponification values at the minimum and the purity at 0.99.
func TestWorstCaseOfTheWorkedBatch(t *testing.T) {
	oils, alkalis := entered()
	alkalis[0].Purity = d("0.99")
	r, err := Superfat(oils, alkalis)
	require.NoError(t, err)
	reference.Within(t, d("0.0055"), r.Low, d("0.00005"))
}

// The worked mixtures, by equivalents and by mass; and a mass of alkali gives back the superfat that it came from.
func TestWishForTwoAlkalis(t *testing.T) {
	for _, v := range []struct {
		basis                            Basis
		purityNaOH, purityKOH, naoh, koh string
	}{{ByEquivalents, "0.98", "0.90", "86.2863", "87.8644"}, {ByEquivalents, "1", "1", "84.5606", "79.0780"}, {ByMass, "1", "1", "95.5320", "63.6880"}} {
		w := wished()
		w.Alkalis = []Alkali{{Kind: KOH, Purity: d(v.purityKOH)}, {Kind: NaOH, Purity: d(v.purityNaOH)}}
		w.KOHShare, w.Basis = given("0.4"), v.basis
		a, err := w.Work()
		require.NoError(t, err)
		reference.Within(t, d(v.koh), a.Exact.Alkalis[0].Grams, d("0.00005"))
		reference.Within(t, d(v.naoh), a.Exact.Alkalis[1].Grams, d("0.00005"))

		w.Superfat, w.AlkaliGrams = nil, given(alkaliGrams(a.Exact.Alkalis).String())
		back, err := w.Work()
		require.NoError(t, err)
		reference.Within(t, d("0.05"), back.Exact.Superfat, d("1e-18"))
		reference.Within(t, a.Exact.Alkalis[0].Grams, back.Exact.Alkalis[0].Grams, d("1e-18"))
	}
}

// The recipe of 1908 as a wish: a mass of lye, and the superfat is the answer, 11.8 to 12.6 % (Simmons & Appleton).
func TestWishOf1908(t *testing.T) {
	w := Wish{
		Oils:    []OilWish{{Oil: Oil{Name: "coconut", Grams: d("100"), SAPMin: d("259.7"), SAPMax: d("261.9")}}},
		Alkalis: []Alkali{{Kind: NaOH, Purity: d("1")}}, AlkaliGrams: given("16.32"), WaterGrams: given("33.68"), Scale: Scale{Step: d("0.01")},
	}
	a, err := w.Work()
	require.NoError(t, err)
	reference.Within(t, d("0.1222"), a.Result.Superfat, d("0.004"))
	reference.Within(t, d("0.118"), a.Result.Low, d("0.0006"))
	reference.Within(t, d("0.126"), a.Result.High, d("0.0006"))
	reference.Within(t, d("0.3264"), a.Weigh.Concentration, d("1e-20"))
	require.True(t, a.SuperfatShift.IsZero())

	w.WaterGrams, w.WaterRatio = nil, given("2")
	a, err = w.Work()
	require.NoError(t, err)
	reference.Within(t, d("32.64"), a.Weigh.Water, decimal.Zero)
	reference.Within(t, d("0.333333"), a.Weigh.Concentration, d("0.000001")) // two to one
}

func TestFinerScaleForTheAlkali(t *testing.T) {
	w := wished()
	w.Scale = Scale{Step: d("5")}
	w.AlkaliScale = &Scale{Step: d("0.01"), Limit: d("0.02")}
	a, err := w.Work()
	require.NoError(t, err)
	require.Equal(t, "143.81", a.Weigh.Alkalis[0].Grams.String())
	require.Equal(t, "290", a.Weigh.Water.String())
	require.Equal(t, w.AlkaliScale.U().String(), a.Weigh.Alkalis[0].GramsU.String())
	require.Equal(t, w.Scale.U().String(), a.Weigh.Oils[3].GramsU.String())
	w.OilGrams = d("40")
	_, err = w.Work()
	require.ErrorContains(t, err, "2 g of castor are less than a scale of 5 g steps can show")
}

// Oil densities against the reference notes: olive oil at 15 and 40 °C by Lund's relation, and coconut oil at 40 °C,
// which the Codex standard has from 0.908 to 0.921 (relative to water of 20 °C).
func TestOilDensities(t *testing.T) {
	olive := OilWish{Oil: point("olive", "1", "190"), Iodine: given("84")}
	coconut := wished().Oils[1]
	for _, v := range []struct {
		oil           OilWish
		celsius, want string
	}{{olive, "15", "0.9154"}, {olive, "40", "0.8994"}, {coconut, "40", "0.9088"}} {
		got, err := v.oil.density(d(v.celsius))
		require.NoError(t, err)
		reference.Within(t, d(v.want), got, d("0.00006"), v.oil.Name)
	}
	relative := d("0.9088").Div(d("0.9982"))
	require.True(t, relative.GreaterThanOrEqual(d("0.908")) && relative.LessThanOrEqual(d("0.921")), "%s", relative)
}

// The worked batter at 40 °C, added up beforehand with other software from the tables of the reference notes:
// 435.790 g lye at 1.33965 g/cm³, and oils at 0.89951, 0.90880, 0.89788 and, castor as given, 0.946; 1431.85 mL or 1.0028 g/mL.
func TestVolumeAndMould(t *testing.T) {
	w, at := wished(), Batter{Celsius: d("40")}
	ml, err := w.Volume(at)
	require.NoError(t, err)
	reference.Within(t, d("1431.852"), ml, d("0.02"))
	filled, err := w.ForMould(d("2000"), at)
	require.NoError(t, err)
	ml, err = filled.Volume(at)
	require.NoError(t, err)
	reference.Within(t, d("2000"), ml, d("1e-15"))
	a, err := filled.Work()
	require.NoError(t, err)
	reference.Within(t, d("0.05"), a.Exact.Superfat, d("1e-15"))

	at.Density = d("1.03") // the maker's own goes first
	ml, err = w.Volume(at)
	require.NoError(t, err)
	reference.Within(t, d("1435.7896151615112").Div(d("1.03")), ml, d("1e-9"))
	w.Oils[0].Iodine = nil // and needs nothing of the oils
	_, err = w.Volume(at)
	require.NoError(t, err)
	_, err = w.Volume(Batter{Celsius: d("40")})
	require.ErrorContains(t, err, "olive has neither a density nor an iodine value")
}

// Two alkalis and acids have a volume too, between those of the alkalis alone.
func TestVolumeOfTwoAlkalis(t *testing.T) {
	at := Batter{Celsius: d("40")}
	volume := func(share string) decimal.Decimal {
		w := wished()
		w.Alkalis = append(w.Alkalis, Alkali{Kind: KOH, Purity: d("0.9")})
		w.KOHShare, w.Acids = given(share), []Acid{CitricAcid(d("10"))}
		ml, err := w.Volume(at)
		require.NoError(t, err)
		return ml
	}
	soda, both, potash := volume("0"), volume("0.4"), volume("1")
	require.True(t, soda.LessThan(both) && both.LessThan(potash), "%s %s %s", soda, both, potash)
}

// Another size changes every mass in proportion, and neither superfat nor strength.
func TestResizingKeepsTheFormula(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := wished()
		w.Acids = []Acid{CitricAcid(d("12"))}
		if rapid.Bool().Draw(t, "by mass") {
			w.OilGrams = decimal.Zero
			for i := range w.Oils {
				w.Oils[i].Grams, w.Oils[i].Share = d("1000").Mul(w.Oils[i].Share), decimal.Zero
			}
			w.Superfat, w.AlkaliGrams, w.Concentration, w.WaterGrams = nil, given("150"), nil, given("300")
		}
		to := decimal.New(int64(rapid.IntRange(1000, 50_000_000).Draw(t, "to")), -3)
		resized, err := w.ForOils(to)
		require.NoError(t, err)
		before, err := w.exact()
		require.NoError(t, err)
		after, err := resized.exact()
		require.NoError(t, err)
		close := func(want, got decimal.Decimal) {
			require.True(t, want.Sub(got).Abs().LessThan(d("1e-12")), "%s, not %s", got, want)
		}
		close(before.Superfat, after.Superfat)
		close(before.Concentration, after.Concentration)
		factor := to.Div(d("1000"))
		close(before.Water.Mul(factor), after.Water)
		close(before.Alkalis[0].Grams.Mul(factor), after.Alkalis[0].Grams)
		for i := range before.Oils {
			close(before.Oils[i].Grams.Mul(factor), after.Oils[i].Grams)
		}
		require.Equal(t, "12", w.Acids[0].Grams.String(), "the wish itself stays as it was")
	})
}

// Every wish that contradicts itself is refused, and the field is named.
func TestContradictoryWishes(t *testing.T) {
	for _, v := range []struct {
		field, says string
		spoil       func(w *Wish)
	}{
		{FieldAlkali, "both a superfat of 0.05 and a mass of alkali of 100 g", func(w *Wish) { w.AlkaliGrams = given("100") }},
		{FieldSuperfat, "neither a superfat nor a mass of alkali", func(w *Wish) { w.Superfat = nil }},
		{FieldSuperfat, "superfat of 5", func(w *Wish) { w.Superfat = given("5") }},
		{FieldAlkali, "not above zero", func(w *Wish) { w.Superfat, w.AlkaliGrams = nil, given("0") }},
		{FieldWater, "0 of concentration", func(w *Wish) { w.Concentration = nil }},
		{FieldWater, "2 of concentration", func(w *Wish) { w.WaterRatio = given("2") }},
		{FieldWater, "33 % is 0.33", func(w *Wish) { w.Concentration = given("33") }},
		{FieldWater, "-20 g", func(w *Wish) { w.Concentration, w.WaterGrams = nil, given("-20") }},
		{FieldOils, "sum to 1.01, not to 1", func(w *Wish) { w.Oils[0].Share = d("0.51") }},
		{FieldOils, "castor has a negative share", func(w *Wish) { w.Oils[3].Share, w.Oils[0].Share = d("-0.05"), d("0.6") }},
		{FieldOils, "olive has a saponification value from 0 to 0", func(w *Wish) { w.Oils[0].SAPMin, w.Oils[0].SAPMax = d("0"), d("0") }},
		{FieldOils, "olive has a mass of 5 g", func(w *Wish) { w.Oils[0].Grams = d("5") }},
		{FieldOils, "no oils", func(w *Wish) { w.Oils, w.OilGrams = nil, d("0") }},
		{FieldOilGrams, "no mass of all oils", func(w *Wish) { w.OilGrams = d("0") }},
		{FieldOilGrams, "-1 g", func(w *Wish) { w.OilGrams = d("-1") }},
		{FieldAlkalis, "no alkali is given", func(w *Wish) { w.Alkalis = nil }},
		{FieldAlkalis, "LiOH", func(w *Wish) { w.Alkalis[0].Kind = "LiOH" }},
		{FieldAlkalis, "98 % is 0.98", func(w *Wish) { w.Alkalis[0].Purity = d("98") }},
		{FieldAlkalis, "half-width", func(w *Wish) { w.Alkalis[0].PurityHalf = d("0.98") }},
		{FieldAlkalis, "NaOH is given twice", func(w *Wish) { w.Alkalis = append(w.Alkalis, w.Alkalis[0]) }},
		{FieldKOHShare, "give the share of KOH", func(w *Wish) { w.Alkalis = append(w.Alkalis, Alkali{Kind: KOH, Purity: d("0.9")}) }},
		{FieldKOHShare, "one alkali alone", func(w *Wish) { w.KOHShare = given("0.4") }},
		{FieldKOHShare, "40 % is 0.4", func(w *Wish) {
			w.Alkalis, w.KOHShare = append(w.Alkalis, Alkali{Kind: KOH, Purity: d("0.9")}), given("40")
		}},
		{FieldAcids, "nameless", func(w *Wish) { w.Acids = []Acid{{Name: "nameless", Grams: d("1")}} }},
		{FieldScale, "neither may be negative", func(w *Wish) { w.Scale.Step = d("-1") }},
		{FieldScale, "NaOH are less than a scale of 500 g", func(w *Wish) { w.AlkaliScale = &Scale{Step: d("500")} }},
	} {
		w := wished()
		v.spoil(&w)
		_, err := w.Work()
		require.ErrorContains(t, err, v.says)
		require.ErrorIs(t, err, ErrInput)
		var field *FieldError
		require.True(t, errors.As(err, &field), v.says)
		require.Equal(t, v.field, field.Field, v.says)
	}
	for _, ml := range []string{"0", "-5"} {
		_, err := wished().ForMould(d(ml), Batter{Celsius: d("40")})
		require.ErrorContains(t, err, "measure it with water")
	}
	_, err := wished().ForMould(d("500"), Batter{Celsius: d("400")})
	require.ErrorIs(t, err, ErrInput)
	_, err = wished().ForMould(d("500"), Batter{Density: d("-1")})
	require.ErrorIs(t, err, ErrInput)
	_, err = wished().ForOils(d("0"))
	require.ErrorIs(t, err, ErrInput)
}
