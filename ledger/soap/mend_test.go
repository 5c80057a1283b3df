package soap

import (
	"testing"

	"ashbook/testdata/reference"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Oil weighed too richly, alkali in two parts: what is right in all is the worked 143.8106 g, what remains is the rest.
func TestAlkaliStillToWeigh(t *testing.T) {
	lot := Alkali{Kind: NaOH, Purity: d("0.98")}
	for _, v := range []struct {
		weighed       []Alkali
		more, tooMuch string
	}{
		{nil, "143.81057", "0"},
		{[]Alkali{weighed(NaOH, d("140"), d("0.98"))}, "3.81057", "0"},
		{[]Alkali{weighed(NaOH, d("86.2863"), d("0.98")), weighed(KOH, d("87.8644"), d("0.90"))}, "0", "0"}, // the worked mixture
		{[]Alkali{weighed(NaOH, d("150"), d("0.98"))}, "0", "6.18943"},
	} {
		m, err := AlkaliFor(fourOils(), d("0.05"), lot, v.weighed)
		require.NoError(t, err)
		reference.Within(t, d("143.81057"), m.InAll, d("0.00001"))
		reference.Within(t, d(v.more), m.More, d("0.0001"))
		reference.Within(t, d(v.tooMuch), m.TooMuch, d("0.0001"))
	}
}

// Extra oil e on a matched batch gives the superfat e/(1+e): 5 % extra oil is 4.762 %.
func TestOilToAdd(t *testing.T) {
	oils, olive := []Oil{point("olive", "1000", "190")}, point("olive", "0", "190")
	matched := []Alkali{weighed(KOH, d("190"), d("1"))}
	m, err := OilFor(oils, divide(d("0.05"), d("1.05")), olive, matched)
	require.NoError(t, err)
	reference.Within(t, d("50"), m.Add, d("1e-15"))
	require.True(t, m.InExcess.IsZero())
	m, err = OilFor([]Oil{point("olive", "1060", "190")}, divide(d("0.05"), d("1.05")), olive, matched)
	require.NoError(t, err)
	reference.Within(t, d("10"), m.InExcess, d("1e-15"))
	require.True(t, m.Add.IsZero())
}

// What was mended has the superfat that was wanted.
func TestMendedPotsAreRight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		thousandths := func(name string, lo, hi int) decimal.Decimal {
			return decimal.New(int64(rapid.IntRange(lo, hi).Draw(t, name)), -3)
		}
		oils, acids, wanted := fourOils(), []Acid{CitricAcid(thousandths("citric", 0, 10_000))}, thousandths("wanted", 0, 200)
		in := []Alkali{weighed(NaOH, thousandths("naoh", 60_000, 200_000), d("0.98")), weighed(KOH, thousandths("koh", 0, 60_000), d("0.9"))}
		add := Oil{Name: "any", SAPMin: thousandths("sap", 90_000, 200_000), SAPMax: d("200")}
		found := func(oils []Oil, in []Alkali) decimal.Decimal {
			r, err := Superfat(oils, in, acids...)
			require.NoError(t, err)
			return r.Superfat
		}
		o, err := OilFor(oils, wanted, add, in, acids...)
		require.NoError(t, err)
		a, err := AlkaliFor(oils, wanted, Alkali{Kind: KOH, Purity: d("0.85")}, in, acids...)
		require.NoError(t, err)
		require.True(t, o.Add.IsZero() || a.More.IsZero(), "a pot lacks oil or alkali, not both")
		require.True(t, o.InExcess.IsZero() || a.TooMuch.IsZero())
		mended, more := append(oils, add), in
		mended[4].Grams = o.Add
		if a.More.IsPositive() {
			require.True(t, found(oils, in).GreaterThan(wanted))
			more = append(in, weighed(KOH, a.More, d("0.85")))
		}
		require.True(t, found(mended, more).Sub(wanted).Abs().LessThan(d("1e-15")))
	})
}

func TestMendRefusals(t *testing.T) {
	good, lot := fourOils(), weighed(NaOH, d("100"), d("0.98"))
	for _, fails := range []func() error{
		func() error { _, err := AlkaliFor(nil, d("0.05"), lot, nil); return err },
		func() error { _, err := AlkaliFor(good, d("5"), lot, nil); return err },
		func() error { _, err := AlkaliFor(good, d("0.05"), Alkali{Kind: "LiOH", Purity: one}, nil); return err },
		func() error {
			_, err := AlkaliFor(good, d("0.05"), lot, []Alkali{weighed(NaOH, d("-1"), one)})
			return err
		},
		func() error { _, err := OilFor(nil, d("0.05"), good[0], []Alkali{lot}); return err },
		func() error { _, err := OilFor(good, d("1"), good[0], []Alkali{lot}); return err },
		func() error { _, err := OilFor(good, d("0.05"), Oil{Name: "no range"}, []Alkali{lot}); return err },
		func() error { _, err := OilFor(good, d("0.05"), good[0], []Alkali{{Kind: NaOH}}); return err },
	} {
		require.ErrorIs(t, fails(), ErrInput)
	}
}
