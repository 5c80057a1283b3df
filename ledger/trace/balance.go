package trace

import (
	"maps"

	"github.com/shopspring/decimal"
)

// Balance compares how much there was with where it is. Amounts are grams, or pieces for bars: count
// bars, since their mass falls as they dry.
type Balance struct {
	Made        decimal.Decimal            // made or received
	Places      map[string]decimal.Decimal // amount found or recorded in each place
	Unaccounted decimal.Decimal            // Made less the places; negative if more was found than there was
	Percent     decimal.Decimal            // found, in per cent of Made, rounded to 0.01
}

// NewBalance works out a Balance. Both more and less than 100 % need an explanation, which is for a
// person to give. A place may be negative, as a stock-take difference is. It fails if made is not
// above zero.
func NewBalance(made decimal.Decimal, places map[string]decimal.Decimal) (Balance, error) {
	if !made.IsPositive() {
		return Balance{}, broken("a balance needs an amount above zero that was made or received, not %s", made)
	}
	found := decimal.Zero
	for _, amount := range places {
		found = found.Add(amount)
	}
	return Balance{
		Made:        made,
		Places:      maps.Clone(places),
		Unaccounted: made.Sub(found),
		Percent:     found.Shift(2).DivRound(made, 2),
	}, nil
}
