package lye

import (
	"math"
	"slices"

	"ashbook/ledger/measure"

	"github.com/shopspring/decimal"
)

// Estimate is the strength of a lye, as mass fraction of hydroxide on the pure basis.
type Estimate struct {
	Share decimal.Decimal
	U     float64 // standard uncertainty of Share
}

// ByMass returns the strength from what was weighed, in grams, and the purity of the alkali, a mass fraction above 0 and at most
// 1. What the purity does not know, such as an alkali that drew damp since its certificate, is not in its uncertainty; see Blend.
func ByMass(alkali, water, purity measure.Measured) (Estimate, error) {
	if err := CheckPurity("the alkali", purity.Value); err != nil {
		return Estimate{}, err
	}
	return Blend(Part{alkali, purity}, Part{Grams: water})
}

// Part is something that goes into a lye: its grams, and the mass fraction of hydroxide in it, 0 to 1.
type Part struct{ Grams, Share measure.Measured }

// Blend returns the strength of parts that were put together, for example alkali, water and a stock lye. Uncertainty is propagated by
// JCGM 100:2008, equation 10, all masses and shares taken as independent. It fails for masses below zero, for none at all, and for
// shares outside 0 to 1.
func Blend(parts ...Part) (Estimate, error) {
	total, hydroxide := decimal.Zero, decimal.Zero
	for _, p := range parts {
		if err := p.check(); err != nil {
			return Estimate{}, err
		}
		total = total.Add(p.Grams.Value)
		hydroxide = hydroxide.Add(p.Grams.Value.Mul(p.Share.Value))
	}
	if !total.IsPositive() {
		return Estimate{}, wrong("a lye of nothing has no strength; weigh what goes into it")
	}
	e := Estimate{Share: divide(hydroxide, total)}
	mean, all := e.Share.InexactFloat64(), total.InexactFloat64()
	var moved []float64
	for _, p := range parts {
		grams, ug := p.Grams.Floats()
		share, us := p.Share.Floats()
		moved = append(moved, ug*(share-mean)/all, us*grams/all)
	}
	e.U = norm(moved...)
	return e, nil
}

func (p Part) check() error {
	if p.Grams.Value.IsNegative() {
		return wrong("a mass of %s g is negative; weigh it again", p.Grams.Value)
	}
	if p.Share.Value.IsNegative() || p.Share.Value.GreaterThan(one) {
		return wrong("a share of %s hydroxide is not from 0 to 1; 98 %% is 0.98", p.Share.Value)
	}
	if err := checkSpread("mass", p.Grams); err != nil {
		return err
	}
	return checkSpread("share", p.Share)
}

func checkSpread(what string, m measure.Measured) error {
	if m.U.IsNegative() {
		return wrong("the uncertainty %s of the %s is negative; give it as zero or more", m.U, what)
	}
	return nil
}

// norm is the root of the sum of squares.
func norm(parts ...float64) float64 {
	sum := 0.0
	for _, p := range parts {
		sum += p * p
	}
	return math.Sqrt(sum)
}

// interpolation is what reading between the rows of a density table costs, g/cm³.
const interpolation = 2e-4

// tableLimit is how far the density table itself may be off, in g/cm³, as a limit: what other published tables differ from it by. Near
// 20 °C the soda table agrees within its own interpolation; away from it, 0.0011 is the largest disagreement up to 19 %, and above
// that no second table stands behind it.
func tableLimit(kind string, celsius float64) float64 {
	switch {
	case kind == KOH:
		return 0.002
	case celsius < 15 || celsius > 25:
		return 0.0011
	}
	return 0
}

// ByDensity returns the strength from a density in g/cm³ at a temperature in °C. Its uncertainty is that of the reading, of the
// temperature by the slope of the table, of interpolation and of the table. It fails where FromDensity does.
func ByDensity(kind string, density, celsius measure.Measured) (Estimate, error) {
	if err := checkSpread("density", density); err != nil {
		return Estimate{}, err
	}
	if err := checkSpread("temperature", celsius); err != nil {
		return Estimate{}, err
	}
	share, err := FromDensity(kind, density.Value, celsius.Value)
	if err != nil {
		return Estimate{}, err
	}
	perShare, perDegree := grids[kind].slopes(share, celsius.Value)
	t, ut := celsius.Floats()
	u := norm(density.U.InexactFloat64(), perDegree*ut, interpolation, tableLimit(kind, t)/math.Sqrt(3))
	return Estimate{share, u / perShare}, nil
}

// slopes returns by how much density in the table rises with mass fraction and with temperature, in the cell of a point inside it.
func (g grid) slopes(share, celsius decimal.Decimal) (perShare, perDegree float64) {
	row, _ := slices.BinarySearchFunc(g.fractions, share, decimal.Decimal.Cmp)
	row = max(row, 1)
	right, _ := slices.BinarySearchFunc(g.celsius, celsius, decimal.Decimal.Cmp)
	right = max(right, 1)
	column := g.columnAt(celsius)
	perShare = divide(column[row].Sub(column[row-1]), g.fractions[row].Sub(g.fractions[row-1])).InexactFloat64()
	atTemperature := func(j int) decimal.Decimal {
		return between(share, g.fractions[row-1], g.fractions[row], g.density[row-1][j], g.density[row][j])
	}
	perDegree = divide(atTemperature(right).Sub(atTemperature(right-1)), g.celsius[right].Sub(g.celsius[right-1])).InexactFloat64()
	return perShare, perDegree
}

// Verdict says whether two routes to one strength agree.
type Verdict string

// The verdicts, by how many standard uncertainties the routes are apart.
const (
	Agree    Verdict = "agree"    // below 2
	Doubtful Verdict = "doubtful" // 2 to 3
	Disagree Verdict = "disagree" // above 3
)

// Comparison is the strength by masses against the strength by density.
type Comparison struct {
	ByMass, ByDensity Estimate
	Difference        decimal.Decimal // by density less by mass, mass fraction
	U                 float64         // standard uncertainty of the difference
	Ratio             float64         // |Difference| / U
	Verdict           Verdict
	Text              string   // what was found, in one sentence
	LooksLike         []string // what such a difference may come from, the likeliest first; none where the routes agree
	Carbonate         string   // what a density cannot see
}

// carbonateNote: 10 % sodium carbonate has 1.1029 g/cm³ at 20 °C, 10 % sodium hydroxide 1.1089 (CRC Handbook, 102nd ed.), so 1 % of
// carbonate reads as 0.95 % of hydroxide.
const carbonateNote = "Carbonate weighs on a density reading nearly as hydroxide does: 1 % sodium carbonate reads as 0.95 % NaOH. " +
	"A lye that drew carbon dioxide can agree here and still be weak; only a titration with two indicators tells them apart."

// Compare sets the two routes side by side. It fails if a share is outside 0 to 1, an uncertainty is negative, or both are zero.
func Compare(byMass, byDensity Estimate) (Comparison, error) {
	for _, e := range []Estimate{byMass, byDensity} {
		if e.Share.IsNegative() || e.Share.GreaterThan(one) || !(e.U >= 0) {
			return Comparison{}, wrong("a strength of %s ± %g cannot be; 33 %% is 0.33", e.Share, e.U)
		}
	}
	u := norm(byMass.U, byDensity.U)
	if !(u > 0) || math.IsInf(u, 0) {
		return Comparison{}, wrong("two strengths without an uncertainty cannot be compared; state that of the scale and of the hydrometer")
	}
	difference := byDensity.Share.Sub(byMass.Share)
	c := Comparison{ByMass: byMass, ByDensity: byDensity, Difference: difference, U: u, Ratio: math.Abs(difference.InexactFloat64()) / u, Carbonate: carbonateNote}
	c.Verdict = verdictOf(c.Ratio)
	c.Text = c.text()
	if c.Verdict != Agree {
		c.LooksLike = looksLike(difference)
	}
	return c, nil
}

func verdictOf(ratio float64) Verdict {
	switch {
	case ratio < 2:
		return Agree
	case ratio <= 3:
		return Doubtful
	}
	return Disagree
}

func (c Comparison) text() string {
	found := "By mass the lye holds " + percent(c.ByMass.Share) + " % hydroxide, by density " + percent(c.ByDensity.Share) + " %"
	switch c.Verdict {
	case Agree:
		return found + ": they agree within what was measured."
	case Doubtful:
		return found + ": further apart than usual. Read density and temperature once more before it is used."
	}
	return found + ": they do not agree. Do not use the lye before the cause is found."
}

func percent(share decimal.Decimal) string { return share.Shift(2).StringFixed(2) }

func looksLike(difference decimal.Decimal) []string {
	if difference.IsNegative() {
		return []string{
			"The lye was hotter than the temperature that was written down: warm lye is lighter.",
			"The alkali is weaker than its certificate says: it drew damp while open.",
			"Too little alkali or too much water went in; look at both weighings and at the tare.",
			"Not all the alkali is dissolved; stir and read again.",
			"The sample was full of fine bubbles: foam reads light.",
		}
	}
	return []string{
		"Water left as steam while it was hot; weigh the vessel again.",
		"The lye was colder than the temperature that was written down.",
		"Too much alkali or too little water went in; look at both weighings and at the tare.",
		"Something else is dissolved in it, such as salt, sugar or carbonate, or bubbles hang on the hydrometer and lift it.",
		"The alkali is stronger than the purity that was taken for it.",
	}
}
