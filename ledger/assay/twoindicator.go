package assay

import (
	"ashbook/ledger/measure"

	"github.com/shopspring/decimal"
)

// TwoIndicators is lye titrated with acid to the change of phenolphthalein and on to that of methyl orange. At the first change the
// hydroxide and half the carbonate are neutral; the second half takes the rest.
type TwoIndicators struct {
	Kind          string           // NaOH or KOH
	Total         measure.Measured // mL of acid to the change of methyl orange
	After         measure.Measured // mL of it after phenolphthalein had lost its colour
	Concentration measure.Measured // mol/L of the acid, counted as Titrant says
	Sample        measure.Measured // g of lye or of alkali
}

// Content is what two indicators tell apart.
type Content struct {
	TotalAlkali Result // % as the hydroxide
	Carbonate   Result // % as Na2CO3 or K2CO3
	Hydroxide   Result // %: the purity that saponification needs, since carbonate does not saponify fat
}

// uspFactors are mg per mL of normal acid: of hydroxide over the whole titration, of carbonate over the part after phenolphthalein.
var uspFactors = map[string]struct {
	hydroxide, carbonate decimal.Decimal
	salt                 string
}{
	NaOH: {decimal.RequireFromString("40.00"), decimal.RequireFromString("106.0"), "Na2CO3"},
	KOH:  {decimal.RequireFromString("56.11"), decimal.RequireFromString("138.2"), "K2CO3"},
}

// Assay returns total alkali, carbonate and hydroxide in per cent. It fails for an unknown alkali, and when more than half of the acid
// was used after phenolphthalein, which happens with carbonate and bicarbonate but not with lye. See Methods.
func (t TwoIndicators) Assay() (Content, error) {
	factors, known := uspFactors[t.Kind]
	if !known {
		return Content{}, wrong("the alkali %q is not known; use NaOH or KOH", t.Kind)
	}
	err := first(checkVolume("in total", t.Total), checkVolume("after phenolphthalein", t.After),
		checkConcentration("of acid", t.Concentration), checkMass("of the sample", t.Sample))
	if err != nil {
		return Content{}, err
	}
	caustic := t.Total.Value.Sub(t.After.Value.Mul(decimal.NewFromInt(2)))
	if caustic.IsNegative() {
		return Content{}, wrong("%s of %s mL of acid were used after phenolphthalein, more than half: this is carbonate and bicarbonate, not lye; check both readings",
			t.After.Value, t.Total.Value)
	}
	result := func(test Test, ml decimal.Decimal, factor decimal.Decimal, total, after float64, as string) Result {
		per := factor.Shift(-1) // mg per mL and g of sample, as per cent
		c, m, f, v := t.Concentration.Value.InexactFloat64(), t.Sample.Value.InexactFloat64(), per.InexactFloat64(), ml.InexactFloat64()
		u := spread(term{t.Total, total * c * f / m}, term{t.After, after * c * f / m}, term{t.Concentration, v * f / m}, term{t.Sample, v * c * f / (m * m)})
		return Result{test, TwoIndicatorMethod, divide(ml.Mul(t.Concentration.Value).Mul(per), t.Sample.Value), u, Percent, as}
	}
	content := Content{
		TotalAlkali: result(LyeTotalAlkali, t.Total.Value, factors.hydroxide, 1, 0, t.Kind),
		Carbonate:   result(LyeCarbonate, t.After.Value, factors.carbonate, 0, 1, factors.salt),
		Hydroxide:   result(LyeHydroxide, caustic, factors.hydroxide, 1, -2, t.Kind),
	}
	_, err = finish(content.TotalAlkali)
	return content, err
}
