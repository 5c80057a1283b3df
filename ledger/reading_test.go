package ledger_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// The cure sees the weighings of bars that stand, in the days of the shop, each with the finest step typed on its scale.
func TestCureWeighings(t *testing.T) {
	vienna, err := time.LoadLocation("Europe/Vienna")
	require.NoError(t, err)
	late := time.Date(2026, time.June, 1, 22, 30, 0, 0, time.UTC)
	read := func(typed, unit, scale, grams string) ledger.Reading {
		return ledger.Reading{Type: ledger.BarMass, Lot: ptr(int64(4)), Value: dec(grams), Typed: typed, TypedUnit: unit, Instrument: scale, Sample: "A", HappenedAt: late}
	}
	struck := read("150.25", "g", "fine", "150.25")
	struck.StruckBy = ptr(int64(7))
	other := read("99", "g", "fine", "99")
	other.Lot = ptr(int64(5))
	ph := ledger.Reading{Type: ledger.PH, Value: dec("9.5"), Typed: "9.5"}
	ws := ledger.CureWeighings([]ledger.Reading{read("113", "g", "fine", "113"), read("112.9", "g", "fine", "112.9"), read("4.0", "oz", "old", "113.398093"), struck, other, ph}, 4, vienna)
	require.Len(t, ws, 3)
	for i, step := range []string{"0.1", "0.1", "2.8349523125"} {
		require.Equal(t, step, ws[i].Step.String())
	}
	require.Equal(t, "2026-06-02", ws[0].Day.Format(time.DateOnly))
	require.Equal(t, "A", ws[0].Bar)
}
