package cure

import (
	"errors"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var often = []float64{0, 3, 7, 10, 14, 18, 21, 28, 35, 42}

// slipped is two bars of known truth, of which some weighings are changed by grams.
func slipped(seed uint64, change func(bar, weighing int, day float64) string) []Weighing {
	ws := usual.weigh(rand.New(rand.NewPCG(seed, 9)), []float64{135, 128}, often, 0.1)
	for i := range ws {
		ws[i].Grams = ws[i].Grams.Add(d(change(1+i/len(often), i%len(often), often[i%len(often)])))
	}
	return ws
}

// pointed gives what is pointed at, whether a curve is given with it or refused because of it.
func pointed(t *testing.T, ws []Weighing) ([]Outlier, *Curve) {
	t.Helper()
	c, err := Fit(cut, ws)
	var refusal *Refusal
	if errors.As(err, &refusal) {
		require.Contains(t, err.Error(), "look at the marks on the bars")
		require.Contains(t, err.Error(), strings.TrimSuffix(refusal.Odd[0].String(), "."))
		return refusal.Odd, refusal.Without
	}
	require.NoError(t, err)
	return c.Outliers()
}

func TestATareSlipIsPointedAt(t *testing.T) {
	for seed := range uint64(20) {
		ws := slipped(seed, func(bar, weighing int, _ float64) string {
			if bar == 2 && weighing == 5 {
				return "2"
			}
			return "0"
		})
		all := fit(t, ws)
		odd, without := all.Outliers()
		require.NotEmpty(t, odd)
		require.Equal(t, LooksSlip, odd[0].Looks)
		require.Equal(t, "bar 2", odd[0].Bar)
		require.Equal(t, after(18), odd[0].Day)
		require.InDelta(t, 2, odd[0].Off, 0.5)
		require.Contains(t, odd[0].String(), `The weighing of bar "bar 2" on 2026-03-19 lies `)
		require.Less(t, without.Scatter, all.Scatter/3)
		require.Len(t, all.data, len(ws), "the fit is given with all")
		require.Less(t, without.LossPerWeek(42).Upper, all.LossPerWeek(42).Upper)
	}
}

func TestASwappedBarIsPointedAt(t *testing.T) {
	for seed := range uint64(20) {
		odd, without := pointed(t, slipped(seed, func(bar, _ int, day float64) string {
			if bar == 1 && day >= 21 {
				return "-3"
			}
			return "0"
		}))
		require.NotEmpty(t, odd)
		require.Equal(t, LooksSwapped, odd[0].Looks)
		require.Equal(t, "bar 1", odd[0].Bar)
		require.Equal(t, after(21), odd[0].Day)
		require.InDelta(t, -3, odd[0].Off, 0.6)
		require.Contains(t, odd[0].String(), "below its curve from 2026-03-22 on, as if another bar")
		require.InDelta(t, usual.share(42), without.Share(42).Value, 0.004)
	}
}

func TestExchangedBarsArePointedAt(t *testing.T) {
	ws := slipped(1, func(int, int, float64) string { return "0" })
	ws[4].Grams, ws[4+len(often)].Grams = ws[4+len(often)].Grams, ws[4].Grams
	odd, without := pointed(t, ws)
	require.Len(t, odd, 2)
	require.ElementsMatch(t, []string{"bar 1", "bar 2"}, []string{odd[0].Bar, odd[1].Bar})
	for _, o := range odd {
		require.Equal(t, LooksExchanged, o.Looks)
		require.Equal(t, after(14), o.Day)
		require.Contains(t, o.String(), "taken for each other")
	}
	require.InDelta(t, usual.share(42), without.Share(42).Value, 0.002)
}

func TestTwoSlipsArePointedAt(t *testing.T) {
	odd, without := pointed(t, slipped(4, func(bar, weighing int, _ float64) string {
		switch {
		case bar == 1 && weighing == 3:
			return "-2.5"
		case bar == 2 && weighing == 8:
			return "1.5"
		}
		return "0"
	}))
	require.Len(t, odd, 2)
	days := []time.Time{odd[0].Day, odd[1].Day}
	slices.SortFunc(days, time.Time.Compare)
	require.Equal(t, []time.Time{after(10), after(35)}, days)
	require.Less(t, without.Scatter, 0.002)
}

func TestNothingToPointAt(t *testing.T) {
	odd, without := fit(t, series("a")).Outliers()
	require.Empty(t, odd)
	require.Nil(t, without)
}

// A slip that makes bars look slower does not let them pass, and the verdict says where to look.
func TestReadyHoldsWithAndWithoutWhatIsPointedAt(t *testing.T) {
	ws := slipped(2, func(bar, weighing int, _ float64) string {
		if bar == 2 && weighing == 5 {
			return "3"
		}
		return "0"
	})
	rules := Rules{28, d("0.6")}
	require.True(t, Ready(rules, cut, after(42), slipped(2, func(int, int, float64) string { return "0" })).Ready)
	v := Ready(rules, cut, after(42), ws)
	require.False(t, v.Ready)
	require.Len(t, v.Odd, 1)
	require.Contains(t, v.Reasons[0], v.Odd[0])
}
