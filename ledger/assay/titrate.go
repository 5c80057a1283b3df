package assay

import (
	"ashbook/ledger/measure"

	"github.com/shopspring/decimal"
)

// Titration is a sample titrated straight to its end point.
type Titration struct {
	Volume        measure.Measured // mL of titrant used
	Concentration measure.Measured // mol/L of titrant; see Titrant
	Sample        measure.Measured // g of sample
}

func (t Titration) check() error {
	return first(checkVolume("of titrant", t.Volume), checkConcentration("of titrant", t.Concentration), checkMass("of the sample", t.Sample))
}

// percent returns volume × concentration × factor / mass. The factor is g per mol over ten: 4.00 for NaOH.
func (t Titration) percent(factor decimal.Decimal) (decimal.Decimal, float64, error) {
	if err := t.check(); err != nil {
		return decimal.Zero, 0, err
	}
	value := divide(t.Volume.Value.Mul(t.Concentration.Value).Mul(factor), t.Sample.Value)
	v, c, m, f := t.Volume.Value.InexactFloat64(), t.Concentration.Value.InexactFloat64(), t.Sample.Value.InexactFloat64(), factor.InexactFloat64()
	return value, spread(term{t.Volume, c * f / m}, term{t.Concentration, v * f / m}, term{t.Sample, v * c * f / (m * m)}), nil
}

// BackTitration is a sample that met more acid than it needs; what was left of the acid is titrated with alkali.
type BackTitration struct {
	Acid, AcidConcentration     measure.Measured // mL and mol/L of acid added
	Alkali, AlkaliConcentration measure.Measured // mL and mol/L of alkali used for what was left
	Sample                      measure.Measured // g
}

func (b BackTitration) check() error {
	return first(checkVolume("of acid", b.Acid), checkConcentration("of acid", b.AcidConcentration),
		checkVolume("of alkali", b.Alkali), checkConcentration("of alkali", b.AlkaliConcentration), checkMass("of the sample", b.Sample))
}

// percent returns (acid - alkali) × factor / mass, both in mmol. It is below zero when the sample itself is acid.
func (b BackTitration) percent(factor decimal.Decimal) (decimal.Decimal, float64, error) {
	if err := b.check(); err != nil {
		return decimal.Zero, 0, err
	}
	net := b.Acid.Value.Mul(b.AcidConcentration.Value).Sub(b.Alkali.Value.Mul(b.AlkaliConcentration.Value))
	per := factor.InexactFloat64() / b.Sample.Value.InexactFloat64()
	u := spread(
		term{b.Acid, b.AcidConcentration.Value.InexactFloat64() * per}, term{b.AcidConcentration, b.Acid.Value.InexactFloat64() * per},
		term{b.Alkali, b.AlkaliConcentration.Value.InexactFloat64() * per}, term{b.AlkaliConcentration, b.Alkali.Value.InexactFloat64() * per},
		term{b.Sample, net.InexactFloat64() * per / b.Sample.Value.InexactFloat64()})
	return divide(net.Mul(factor), b.Sample.Value), u, nil
}

// Per cent of the sample per mmol of acid and gram: a tenth of the molar mass, as the methods round it.
var (
	percentNaOH = decimal.RequireFromString("4.00")
	percentKOH  = decimal.RequireFromString("5.61")
	percentNaCl = decimal.RequireFromString("5.85")
)

// factorFor returns the factor of the alkali that a result is stated as.
func factorFor(as string) (decimal.Decimal, error) {
	switch as {
	case NaOH:
		return percentNaOH, nil
	case KOH:
		return percentKOH, nil
	}
	return decimal.Zero, wrong("a result as %q is not known; state it as NaOH or KOH", as)
}

// CausticByEthanol returns the free caustic alkali of a sodium soap as % NaOH: soap dissolved in neutral ethanol and
// titrated with ethanolic acid. See Methods.
func CausticByEthanol(t Titration) (Result, error) {
	value, u, err := t.percent(percentNaOH)
	if err != nil {
		return Result{}, err
	}
	return finish(Result{FreeCaustic, EthanolMethod, value, u, Percent, NaOH})
}

// CausticByBarium returns the free caustic alkali of a potassium soap as % KOH: soap and carbonate precipitated with
// barium chloride, the rest titrated. See Methods.
func CausticByBarium(t Titration) (Result, error) {
	value, u, err := t.percent(percentKOH)
	if err != nil {
		return Result{}, err
	}
	return finish(Result{FreeCaustic, BariumMethod, value, u, Percent, KOH})
}

// FreeAlkali returns the total free alkali, caustic and carbonate, as % NaOH or KOH: boiled in ethanol with an excess of acid, which is
// titrated back. See Methods.
func FreeAlkali(b BackTitration, as string) (Result, error) {
	return backAs(b, as, TotalFreeAlkali, FreeAlkaliMethod)
}

// WholeAlkali returns the total alkali, that bound in the soap and that which is free, as % NaOH or KOH: soap split
// with an excess of acid, and the acid left in the water titrated back. See Methods.
func WholeAlkali(b BackTitration, as string) (Result, error) {
	return backAs(b, as, TotalAlkali, WholeMethod)
}

func backAs(b BackTitration, as string, test Test, method Method) (Result, error) {
	factor, err := factorFor(as)
	if err != nil {
		return Result{}, err
	}
	value, u, err := b.percent(factor)
	if err != nil {
		return Result{}, err
	}
	return finish(Result{test, method, value, u, Percent, as})
}

// ChlorideAsNaCl returns the chloride of a soap as % NaCl; Volume is the silver nitrate that the chloride took up. See Methods.
func ChlorideAsNaCl(t Titration) (Result, error) {
	value, u, err := t.percent(percentNaCl)
	if err != nil {
		return Result{}, err
	}
	return finish(Result{Chloride, ChlorideMethod, value, u, Percent, "NaCl"})
}

// Fatty is the second half of a determination of total fatty matter: the fatty acids from the soap, neutralised with ethanolic
// potassium hydroxide and dried as potassium soap.
type Fatty struct {
	Dried         measure.Measured // g of dried potassium soap
	Alkali        measure.Measured // mL of potassium hydroxide that neutralised the acids
	Concentration measure.Measured // mol/L of it
	Sample        measure.Measured // g of soap taken
}

// potassiumForHydrogen is g per mmol that a fatty acid gains as potassium soap: 39.1 - 1.0, as the method rounds it.
var potassiumForHydrogen = decimal.RequireFromString("0.038")

// TotalFattyMatter returns the total fatty matter in per cent: the dried soap less the potassium in it. See Methods.
func TotalFattyMatter(f Fatty) (Result, error) {
	err := first(checkMass("of the dried soap", f.Dried), checkVolume("of alkali", f.Alkali),
		checkConcentration("of alkali", f.Concentration), checkMass("of the sample", f.Sample))
	if err != nil {
		return Result{}, err
	}
	fat := f.Dried.Value.Sub(f.Alkali.Value.Mul(f.Concentration.Value).Mul(potassiumForHydrogen))
	if fat.IsNegative() {
		return Result{}, wrong("%s g of dried soap weigh less than the potassium in them; check the alkali used and the mass", f.Dried.Value)
	}
	m, k := f.Sample.Value.InexactFloat64(), potassiumForHydrogen.InexactFloat64()
	u := spread(term{f.Dried, 100 / m}, term{f.Alkali, 100 * k * f.Concentration.Value.InexactFloat64() / m},
		term{f.Concentration, 100 * k * f.Alkali.Value.InexactFloat64() / m}, term{f.Sample, 100 * fat.InexactFloat64() / (m * m)})
	return finish(Result{FattyMatter, FattyMethod, divide(fat.Shift(2), f.Sample.Value), u, Percent, ""})
}

// MoistureByOven returns what a sample lost on drying to constant mass, in per cent; before and after are g of the sample, the
// dish taken off. It fails if the sample gained. See Methods.
func MoistureByOven(before, after measure.Measured) (Result, error) {
	if err := first(checkMass("before drying", before), checkMass("after drying", after)); err != nil {
		return Result{}, err
	}
	if after.Value.GreaterThan(before.Value) {
		return Result{}, wrong("%s g became %s g on drying; check both masses and the dish", before.Value, after.Value)
	}
	wet, dry := before.Value.InexactFloat64(), after.Value.InexactFloat64()
	u := spread(term{before, 100 * dry / (wet * wet)}, term{after, 100 / wet})
	return finish(Result{Moisture, OvenMethod, divide(before.Value.Sub(after.Value).Shift(2), before.Value), u, Percent, ""})
}

// Saponified is a fat boiled with ethanolic potassium hydroxide; what was left is titrated with acid, beside a blank without fat.
type Saponified struct {
	Blank, Sample measure.Measured // mL of acid
	Concentration measure.Measured // mol/L of the acid
	Fat           measure.Measured // g of fat
}

// molarKOH in g/mol; the standard rounds it to 56.1, old exercises to 56.
var molarKOH = decimal.RequireFromString("56.1056")

// SaponificationValue returns mg KOH per g of fat. See Methods.
func SaponificationValue(s Saponified) (Result, error) { return s.value(molarKOH) }

func (s Saponified) value(molar decimal.Decimal) (Result, error) {
	err := first(checkVolume("of the blank", s.Blank), checkVolume("of the sample", s.Sample),
		checkConcentration("of acid", s.Concentration), checkMass("of fat", s.Fat))
	if err != nil {
		return Result{}, err
	}
	used := s.Blank.Value.Sub(s.Sample.Value)
	if used.IsNegative() {
		return Result{}, wrong("the sample took %s mL of acid and the blank only %s; check which is which", s.Sample.Value, s.Blank.Value)
	}
	per := molar.InexactFloat64() / s.Fat.Value.InexactFloat64()
	c, v := s.Concentration.Value.InexactFloat64(), used.InexactFloat64()
	u := spread(term{s.Blank, c * per}, term{s.Sample, c * per}, term{s.Concentration, v * per}, term{s.Fat, c * v * per / s.Fat.Value.InexactFloat64()})
	return Result{Saponification, SaponificationMethod, divide(used.Mul(s.Concentration.Value).Mul(molar), s.Fat.Value), u, MgKOHPerG, ""}, nil
}
