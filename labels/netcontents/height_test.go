package netcontents

import (
	"testing"

	"ashbook/testdata/reference"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
)

// Both bounds of every row; a lower bound belongs to the row before. Sources are named in the tables.
func checkHeights(t *testing.T, rows []map[string]string, over, upTo, mm string, height func(decimal.Decimal) decimal.Decimal) {
	hair := d("0.001")
	for _, row := range rows {
		want := row[mm]
		require.Equal(t, want, height(d(row[over]).Add(hair)).String(), "just over %s", row[over])
		if row[upTo] == "" {
			require.Equal(t, want, height(d(row[over]).Mul(d("100"))).String())
			continue
		}
		require.Equal(t, want, height(d(row[upTo])).String(), "at %s", row[upTo])
		require.Equal(t, want, height(d(row[upTo]).Sub(hair)).String(), "just under %s", row[upTo])
	}
}

func TestTypeHeight(t *testing.T) {
	checkHeights(t, reference.Rows("us-typesize.csv"), "pdp_area_min_sq_in_exclusive", "pdp_area_max_sq_in_inclusive", "min_height_mm", TypeHeight)
	require.Equal(t, "12.7", TypeHeight(decimal.Zero).String(), "an unknown area gets the largest height")
}

func TestDigitHeight(t *testing.T) {
	checkHeights(t, reference.Rows("eu-digit-height.csv"), "nominal_over_g_or_ml", "nominal_up_to_g_or_ml", "min_figure_height_mm", DigitHeight)
}
