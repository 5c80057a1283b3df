package made

import (
	"math/big"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Products are those of exact fractions, rounded half up.
func TestFixedProducts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := rapid.Int64Range(0, 9e18).Draw(t, "a"), rapid.Int64Range(0, 9e18).Draw(t, "b"), rapid.Int64Range(1, 9e18).Draw(t, "c")
		exact := new(big.Int).Mul(big.NewInt(a), big.NewInt(b))
		exact.Add(exact, big.NewInt(c/2)).Quo(exact, big.NewInt(c))
		if !exact.IsInt64() {
			t.Skip("does not fit")
		}
		require.Equal(t, exact.Int64(), int64(times(fixed(a), fixed(b), fixed(c))))
		share := decimal.New(a, -18)
		require.Equal(t, fixed(a), fix(share))
		require.Equal(t, share.Round(12).String(), fixed(a).share().String())
	})
}
