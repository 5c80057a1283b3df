package netcontents

import (
	"encoding/csv"
	"os"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
)

// table reads a reference table without its heading.
func table(t *testing.T, name string) [][]string {
	f, err := os.Open("../../testdata/reference/" + name)
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(rows), 1)
	return rows[1:]
}

// Both bounds of every row; a lower bound belongs to the row before. Sources are named in the tables.
func checkHeights(t *testing.T, rows [][]string, mm int, height func(decimal.Decimal) decimal.Decimal) {
	hair := d("0.001")
	for _, row := range rows {
		want := row[mm]
		require.Equal(t, want, height(d(row[0]).Add(hair)).String(), "just over %s", row[0])
		if row[1] == "" {
			require.Equal(t, want, height(d(row[0]).Mul(d("100"))).String())
			continue
		}
		require.Equal(t, want, height(d(row[1])).String(), "at %s", row[1])
		require.Equal(t, want, height(d(row[1]).Sub(hair)).String(), "just under %s", row[1])
	}
}

func TestTypeHeight(t *testing.T) {
	checkHeights(t, table(t, "us-typesize.csv"), 3, TypeHeight)
	require.Equal(t, "12.7", TypeHeight(decimal.Zero).String(), "an unknown area gets the largest height")
}

func TestDigitHeight(t *testing.T) {
	checkHeights(t, table(t, "eu-digit-height.csv"), 2, DigitHeight)
}
