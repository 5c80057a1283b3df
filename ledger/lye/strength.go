package lye

import "github.com/shopspring/decimal"

// Concentration returns the strength of a lye solution on the as-weighed basis, the one that recipes
// use: grams of alkali as weighed over grams of solution.
func Concentration(alkali, water decimal.Decimal) (decimal.Decimal, error) {
	if alkali.IsNegative() || water.IsNegative() || !alkali.Add(water).IsPositive() {
		return decimal.Zero, wrong("a lye of %s g alkali and %s g water has no strength; weigh both", alkali, water)
	}
	return divide(alkali, alkali.Add(water)), nil
}

// PureConcentration returns the strength on the pure basis, the one that a density reading shows:
// grams of hydroxide over grams of solution. It is Concentration times purity.
func PureConcentration(alkali, water, purity decimal.Decimal) (decimal.Decimal, error) {
	if err := CheckPurity("the alkali", purity); err != nil {
		return decimal.Zero, err
	}
	asWeighed, err := Concentration(alkali, water)
	return asWeighed.Mul(purity), err
}

// WaterFor returns the grams of water for an amount of alkali and a concentration on the same basis,
// above 0 and at most 1. With alkali as weighed and a concentration as weighed it is the usual recipe.
func WaterFor(alkali, concentration decimal.Decimal) (decimal.Decimal, error) {
	if alkali.IsNegative() {
		return decimal.Zero, wrong("a mass of alkali of %s g is negative; weigh it again", alkali)
	}
	if !concentration.IsPositive() || concentration.GreaterThan(one) {
		return decimal.Zero, wrong("a concentration of %s is not above 0 and at most 1; 33 %% is 0.33", concentration)
	}
	return divide(alkali.Mul(one.Sub(concentration)), concentration), nil
}

// WaterForPure returns the grams of water that make a solution of the given concentration on the
// pure basis from alkali as weighed. It fails when the alkali itself is weaker than that.
func WaterForPure(alkali, purity, concentration decimal.Decimal) (decimal.Decimal, error) {
	if err := CheckPurity("the alkali", purity); err != nil {
		return decimal.Zero, err
	}
	if !concentration.IsPositive() || concentration.GreaterThan(purity) {
		return decimal.Zero, wrong("a pure concentration of %s is not above 0 and at most the purity %s", concentration, purity)
	}
	return WaterFor(alkali, divide(concentration, purity))
}

// Draw is what to take of a stock lye, and the water to add, both in grams.
type Draw struct{ Stock, Water decimal.Decimal }

// FromStock returns what to take of a stock lye so that it brings the given grams of alkali, and the water that thins it to the wanted
// strength, to a microgram. Both strengths are on the same basis, above 0 and at most 1. It fails when the stock is weaker than
// what is wanted.
func FromStock(alkali, stock, wanted decimal.Decimal) (Draw, error) {
	inStock, err := WaterFor(alkali, stock)
	if err != nil {
		return Draw{}, err
	}
	water, err := WaterFor(alkali, wanted)
	if err != nil {
		return Draw{}, err
	}
	more := water.Sub(inStock).Round(6) // strengths that come from a division are not quite equal
	if more.IsNegative() {
		return Draw{}, wrong("the stock lye is weaker (%s) than the lye asked for (%s); ask for %s or less", stock, wanted, stock)
	}
	return Draw{Stock: alkali.Add(inStock), Water: more}, nil
}
