package soap

import (
	"ashbook/ledger/measure"

	"github.com/shopspring/decimal"
)

// SpoonPerMass turns a kitchen rate into grams: n spoons (or other units of volume) of an additive
// per perMass grams of oils, for a batch with oils grams of oils. density is that of the additive in
// g/ml as it lies in the spoon. For powders it depends on packing by a factor of two: weighing one
// level spoon of the lot beats any table.
//
// "1 teaspoon per pound" has n 1, spoon measure.Teaspoon, perMass 453.59237.
func SpoonPerMass(n decimal.Decimal, spoon measure.Unit, density, perMass, oils decimal.Decimal) (decimal.Decimal, error) {
	ml, err := spoon.Millilitres()
	if err != nil {
		return decimal.Zero, err
	}
	if n.IsNegative() || oils.IsNegative() {
		return decimal.Zero, wrong("%s spoons for %s g of oils: neither may be negative", n, oils)
	}
	if !density.IsPositive() || !perMass.IsPositive() {
		return decimal.Zero, wrong("a rate by volume needs the density of the additive and the mass of oils that it is for, both above zero")
	}
	return divide(n.Mul(ml).Mul(density).Mul(oils), perMass), nil
}
