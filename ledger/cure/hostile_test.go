package cure

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
)

// wild is bars whose every third weighing is off, by every size from nothing to ten times the bar; no step is known.
func wild(bars, each int) []Weighing {
	r := rand.New(rand.NewPCG(1, 2))
	var ws []Weighing
	for b := range bars {
		for i := range each {
			day := float64(i) * 60 / float64(each)
			grams := 100*usual.share(day) + 1e-6*r.NormFloat64()
			if n := len(ws); n%3 == 0 {
				grams += 1e-5 * math.Pow(1.02, float64(n%700))
			}
			ws = append(ws, Weighing{Day: cut.Add(time.Duration(day * 24 * float64(time.Hour))), Grams: decimal.NewFromFloat(grams), Bar: strconv.Itoa(b)})
		}
	}
	return ws
}

// However odd the weighings, the search fits no more curves than it may point at weighings, and then says that they disagree.
func TestTheSearchIsBounded(t *testing.T) {
	for _, v := range []struct{ bars, each, most int }{{1, 12, 3}, {5, 80, 20}, {10, 200, 20}, {50, 40, 20}} {
		ws := wild(v.bars, v.each)
		c, _ := attempt(cut, ws)
		fits := 0
		found, without, disagree := c.search(func(cutOn time.Time, ws []Weighing) (*Curve, *Refusal) {
			fits++
			return attempt(cutOn, ws)
		})
		require.LessOrEqual(t, fits, v.most)
		require.Equal(t, fits == v.most, disagree != nil)
		if disagree == nil {
			continue
		}
		require.Empty(t, found)
		require.Nil(t, without)
		_, err := Fit(cut, ws)
		require.ErrorIs(t, err, ErrDisagree)
		require.ErrorContains(t, err, fmt.Sprintf("more than 20 of the %d do not go with the others", len(ws)))
	}
}

// Three of twenty are pointed at; a fourth, and none is: it is for the scale or the marks then, and the last weighings alone decide.
func TestTooManyToPointAt(t *testing.T) {
	slips := map[[2]int]string{{1, 2}: "-4", {1, 6}: "3", {2, 4}: "6"}
	change := func(bar, weighing int, _ float64) string { return cmp.Or(slips[[2]int{bar, weighing}], "0") }
	odd, without := pointed(t, slipped(3, change))
	require.Len(t, odd, 3)
	require.NotNil(t, without)
	require.InDelta(t, usual.share(42), without.Share(42).Value, 0.004)

	slips[[2]int{2, 8}] = "-9"
	ws := slipped(3, change)
	_, err := Fit(cut, ws)
	require.ErrorIs(t, err, ErrDisagree)
	require.ErrorContains(t, err, "more than 3 of the 20 do not go with the others; look at the marks on the bars, and weigh all of them again on one scale")
	v := Ready(Rules{28, d("0.6")}, cut, after(42), ws)
	require.False(t, v.Ready)
	require.Contains(t, v.Reasons[0], "weigh all of them again on one scale")
	require.Len(t, v.Odd, 1)

	again := usual.weigh(rand.New(rand.NewPCG(1, 1)), []float64{135, 128}, []float64{49, 52, 55, 58}, 0.05)
	v = Ready(Rules{28, d("1")}, cut, after(58), append(ws, again...))
	require.True(t, v.Ready, "%v: weighed again on one scale", v.Reasons)
}
