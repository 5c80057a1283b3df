// Package netcontents states how much soap a bar holds: the words and figures of the net quantity declaration, and how
// tall they must be printed.
//
// It is a pure function over plain values. The caller says what mass a bar still holds on the last day it may be
// sold; a declaration never says more than that, so every figure is rounded down. Whether real bars hold
// what is declared is a matter of weighing samples (NIST Handbook 133; Directive 76/211/EEC), not of this package.
package netcontents

import (
	"fmt"

	"github.com/shopspring/decimal"

	"ashbook/labels/statement"
)

// The avoirdupois ounce in grams, exact: 1 lb = 453.59237 g [retrieved, general reference]. The rounded factors of
// 16 CFR 500.19(a) [retrieved] (1 oz = 28.3495 g) give the same printed digits.
var (
	gramsPerOunce  = decimal.RequireFromString("28.349523125")
	ouncesPerPound = decimal.NewFromInt(16)
)

// Declaration is the net quantity as it is printed.
type Declaration struct {
	Grams  decimal.Decimal // the mass every bar is held to: the larger of the printed figures, in grams, exact
	Metric decimal.Decimal // the printed metric figure, in grams
	Ounces decimal.Decimal // the printed inch-pound figure, in ounces; zero where only metric is printed
	Text   string          // exactly what is printed, for example "NET WT 4.2 oz (120 g)"
	Notes  []string        // what was rounded, and why this form was chosen, for people
}

// Declare states the mass of a bar that still holds the given grams. No printed figure, converted back exactly, is
// more than that. It fails when the style is unknown, or the mass is not above zero or too small to be printed.
func Declare(style statement.Style, grams decimal.Decimal) (Declaration, error) {
	if !grams.IsPositive() {
		return Declaration{}, fmt.Errorf("declare net contents: %s g is no mass to declare; weigh the bars first", grams)
	}
	var d Declaration
	switch style {
	case statement.US:
		d = declareUS(grams)
	case statement.EU:
		d = declareEU(grams)
	default:
		return Declaration{}, fmt.Errorf("declare net contents: unknown style %s; choose US or EU", style)
	}
	if d.Metric.IsZero() || (style == statement.US && d.Ounces.IsZero()) {
		return Declaration{}, fmt.Errorf("declare net contents: %s g rounds down to nothing; sell it in a larger pack", grams)
	}
	return d, nil
}

// declareEU prints metric alone: Article 19(1)(b) of Regulation (EC) No 1223/2009 [retrieved; metric units from
// memory].
func declareEU(grams decimal.Decimal) Declaration {
	metric, text := metric(grams)
	d := Declaration{Grams: metric, Metric: metric, Text: text}
	d.Notes = append(d.Notes, rounding(grams, text, metric))
	if grams.LessThan(decimal.NewFromInt(5)) {
		d.Notes = append(d.Notes, "a pack under 5 g needs no declaration (Regulation (EC) No 1223/2009, Article 19(1)(b))")
	}
	return d
}

// declareUS prints both systems: 15 USC 1453(a)(2) [retrieved].
func declareUS(grams decimal.Decimal) Declaration {
	metric, metricText := metric(grams)
	ounces := ouncesDown(grams)
	d := Declaration{Grams: decimal.Max(metric, ounces.Mul(gramsPerOunce)), Metric: metric, Ounces: ounces}
	var form string
	d.Text, form = formUS(ounces, metricText)
	d.Notes = []string{
		rounding(grams, ounces.String()+" oz", ounces.Mul(gramsPerOunce)),
		rounding(grams, metricText, metric),
		// NIST Handbook 133 and the model packaging regulation [from memory].
		fmt.Sprintf("the larger of the two figures is tested: every bar is held to %s g", d.Grams.Round(3)),
	}
	if form != "" {
		d.Notes = append(d.Notes, form)
	}
	return d
}

// formUS puts the two systems into the words of the size of pack, and says why.
//
//   - under 1 lb, ounces: 16 CFR 500.9 [from memory];
//   - from 1 lb to under 4 lb, ounces, then pounds and ounces in brackets: 21 CFR 701.13(j) [from memory]. Soap that
//     is no cosmetic may leave out the ounces; the longer form is right for both;
//   - from 4 lb, pounds and ounces: 21 CFR 701.13(k) [from memory].
func formUS(ounces decimal.Decimal, metric string) (text, form string) {
	const pound, fourPounds = 16, 64
	switch {
	case ounces.LessThan(decimal.NewFromInt(pound)):
		return fmt.Sprintf("NET WT %s oz (%s)", ounces, metric), ""
	case ounces.LessThan(decimal.NewFromInt(fourPounds)):
		return fmt.Sprintf("NET WT %s oz (%s) %s", ounces, pounds(ounces), metric),
			"from 1 lb to under 4 lb: ounces, then pounds and ounces (21 CFR 701.13(j)); right for soap and for cosmetics"
	}
	return fmt.Sprintf("NET WT %s (%s)", pounds(ounces), metric), "from 4 lb: pounds and ounces (21 CFR 701.13(k))"
}

// pounds writes ounces as whole pounds and the rest in ounces: "1 lb 8 oz", "2 lb".
func pounds(ounces decimal.Decimal) string {
	whole, rest := ounces.QuoRem(ouncesPerPound, 0)
	if rest.IsZero() {
		return whole.String() + " lb"
	}
	return fmt.Sprintf("%s lb %s oz", whole, rest)
}

// ouncesDown is the inch-pound figure: one decimal, two under an ounce, never rounded up. At most two decimals are
// allowed (model packaging regulation [retrieved]). The division is checked by multiplying back, because
// a quotient of endless digits may itself have been rounded up.
func ouncesDown(grams decimal.Decimal) decimal.Decimal {
	places := int32(1)
	if grams.LessThan(gramsPerOunce) {
		places = 2
	}
	ounces := grams.Div(gramsPerOunce).Truncate(places)
	if ounces.Mul(gramsPerOunce).GreaterThan(grams) {
		ounces = ounces.Sub(decimal.New(1, -places))
	}
	return ounces
}

// metric is the SI figure in grams and in words: three figures, or two below 100 g, decimals only, final zeros dropped:
// 16 CFR 500.19(b) [retrieved in part]; grams below 1000 g, kilograms from there [from memory]. The same
// figures serve the EU, where no number of figures is set.
func metric(grams decimal.Decimal) (decimal.Decimal, string) {
	figures := int32(3)
	if grams.LessThan(decimal.NewFromInt(100)) {
		figures = 2
	}
	down := grams.RoundDown(figures - magnitude(grams))
	if down.LessThan(decimal.NewFromInt(1000)) {
		return down, down.String() + " g"
	}
	return down, down.Shift(-3).String() + " kg"
}

// magnitude is the number of digits before the point; at or below zero for a mass under one tenth of a gram or more.
func magnitude(d decimal.Decimal) int32 {
	return int32(d.NumDigits()) + d.Exponent()
}

// rounding says how a printed figure came about.
func rounding(grams decimal.Decimal, printed string, exact decimal.Decimal) string {
	if exact.Equal(grams) {
		return fmt.Sprintf("%s g is printed as %s, exactly", grams, printed)
	}
	return fmt.Sprintf("%s g is printed as %s (%s g), rounded down so that it never overstates", grams, printed, exact.Round(3))
}
