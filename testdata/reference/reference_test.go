package reference

import (
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
)

// Each table reads, and every row of the check values can be asked for by an id of its own.
func TestTablesRead(t *testing.T) {
	files, err := Files.ReadDir(".")
	require.NoError(t, err)
	for _, f := range files {
		require.NotEmpty(t, Rows(f.Name()))
	}
	for _, row := range Rows("chem-check-values.csv") {
		require.Equal(t, row, Value(row["id"]))
	}
	require.Panics(t, func() { Rows("none.csv") })
	require.Panics(t, func() { Value("none") })
}

// judged notes whether a check failed.
type judged struct{ failed bool }

func (j *judged) Errorf(string, ...any) { j.failed = true }
func (j *judged) FailNow()              { j.failed = true }

// Just within the tolerance of a row passes, just outside does not.
func TestHoldsToTheTolerance(t *testing.T) {
	row := Value("koh_to_naoh")
	expected, tolerance := decimal.RequireFromString(row["expected"]), decimal.RequireFromString(row["tolerance"])
	require.True(t, tolerance.IsPositive())
	hair := decimal.New(1, -15)
	for _, side := range []decimal.Decimal{tolerance, tolerance.Neg()} {
		for off, fails := range map[decimal.Decimal]bool{side: false, side.Add(hair.Mul(decimal.NewFromInt(int64(side.Sign())))): true} {
			var j judged
			Holds(&j, "koh_to_naoh", expected.Add(off))
			require.Equal(t, fails, j.failed, off)
		}
	}
}
