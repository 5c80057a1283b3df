package lye

import (
	"testing"

	"ashbook/testdata/reference"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
)

// Strength against ratio: 3:1 is 25 %, 2:1 is 33.33 %, 2.5:1 is 28.57 %, 1:1 is 50 %.
func TestStrength(t *testing.T) {
	for _, v := range []struct{ alkali, water, want string }{{"1", "3", "0.25"}, {"2", "4", "0.3333333333"}, {"7", "7", "0.5"}, {"2", "5", "0.2857142857"}} {
		c, err := Concentration(d(v.alkali), d(v.water))
		require.NoError(t, err)
		reference.Within(t, d(v.want), c, d("1e-10"))
		water, err := WaterFor(d(v.alkali), c)
		require.NoError(t, err)
		reference.Within(t, d(v.water), water, d("1e-20"))
		pure, err := PureConcentration(d(v.alkali), d(v.water), d("0.9"))
		require.NoError(t, err)
		reference.Within(t, c.Mul(d("0.9")), pure, decimal.Zero)
	}
}

// The water of the worked four-oil batch on the pure basis, computed beforehand with other software.
func TestWaterForPure(t *testing.T) {
	water, err := WaterForPure(d("143.8105730032987"), d("0.98"), d("0.33"))
	require.NoError(t, err)
	reference.Within(t, d("283.2632498549823"), water, d("1e-11"))
}

// 140 g of alkali from a 50 % stock are 280 g of it; a 33.33 % lye of them weighs 420 g, so 140 g of water are added.
func TestFromStock(t *testing.T) {
	draw, err := FromStock(d("140"), d("0.5"), divide(one, d("3")))
	require.NoError(t, err)
	reference.Within(t, d("280"), draw.Stock, d("1e-12"))
	reference.Within(t, d("140"), draw.Water, d("1e-6"))
	same, err := FromStock(d("140"), d("0.333333333333"), divide(one, d("3")))
	require.NoError(t, err, "a rounded strength is the same strength")
	reference.Within(t, d("0"), same.Water, d("0"))
	for _, v := range [][3]string{{"140", "0.3", "0.33"}, {"-1", "0.5", "0.33"}, {"140", "0", "0.33"}, {"140", "0.5", "0"}, {"140", "50", "33"}} {
		_, err := FromStock(d(v[0]), d(v[1]), d(v[2]))
		require.ErrorIs(t, err, ErrInput, "%v", v)
	}
}

func TestStrengthRefusals(t *testing.T) {
	for _, fails := range []func() (decimal.Decimal, error){
		func() (decimal.Decimal, error) { return Concentration(d("0"), d("0")) },
		func() (decimal.Decimal, error) { return Concentration(d("-1"), d("5")) },
		func() (decimal.Decimal, error) { return WaterFor(d("10"), d("0")) },
		func() (decimal.Decimal, error) { return WaterFor(d("10"), d("33")) },
		func() (decimal.Decimal, error) { return WaterFor(d("-10"), d("0.33")) },
		func() (decimal.Decimal, error) { return WaterForPure(d("10"), d("0.9"), d("0.95")) },
		func() (decimal.Decimal, error) { return PureConcentration(d("10"), d("10"), d("2")) },
	} {
		_, err := fails()
		require.ErrorIs(t, err, ErrInput)
	}
}
