package ledger

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"ashbook/ledger/assay"
	"ashbook/ledger/measure"
)

// Titrated are the raw figures of a test as they were read. Which of them a method needs is said with each.
type Titrated struct {
	Method       string           `json:"method" maxLength:"60" doc:"ethanol; barium chloride; acid in ethanol, back; split with acid, back; dried potassium soap; silver nitrate; oven"`
	Sample       string           `json:"sample" maxLength:"40" doc:"g of soap taken"`
	Volume       string           `json:"volume,omitempty" maxLength:"40" doc:"mL of titrant used to the end point; of back titrations, of the alkali for the acid that was left; all but the oven"`
	Blank        string           `json:"blank,omitempty" maxLength:"40" doc:"mL of titrant that a blank used; not for back titrations"`
	Titrant      string           `json:"titrant,omitempty" maxLength:"40" doc:"mol/L of the titrant, by what it neutralises; all but the oven"`
	Factor       string           `json:"factor,omitempty" maxLength:"40" doc:"of the titrant, from its standardisation; none given: 1, taken as good to 1 %"`
	Acid         string           `json:"acid,omitempty" maxLength:"40" doc:"back titrations: mL of acid added"`
	AcidTitrant  string           `json:"acid_titrant,omitempty" maxLength:"40" doc:"back titrations: mol/L of that acid"`
	AcidFactor   string           `json:"acid_factor,omitempty" maxLength:"40" doc:"back titrations: its factor"`
	Dried        string           `json:"dried,omitempty" maxLength:"40" doc:"g: the dried potassium soap, or what is left after the oven"`
	As           string           `json:"as,omitempty" enum:",NaOH,KOH" doc:"back titrations: what the alkali is stated as; none given: NaOH"`
	VolumeWithin *decimal.Decimal `json:"volume_within,omitempty" doc:"mL that a volume may be off to either side; none given: 0.05, one drop"`
}

// How far a reading may be off where nobody says. Common practice, no source: a drop is about 0.05 mL, and a solution that
// was bought or made by weighing is good to a hundredth.
var (
	dropHalf    = decimal.New(5, -2)
	titrantHalf = decimal.New(1, -2) // as a share of the concentration
)

// testOf is the kind of reading that a test of the laboratory is.
var testOf = map[assay.Test]string{assay.FreeCaustic: FreeAlkali, assay.TotalFreeAlkali: FreeAlkali, assay.TotalAlkali: TotalAlkali,
	assay.FattyMatter: FattyMatter, assay.Chloride: Chloride, assay.Moisture: Moisture}

// SoapMethods lists the methods by which soap is tested, with the kind of reading that each gives.
func SoapMethods() map[string]string {
	kinds := map[string]string{}
	for _, m := range assay.Methods() {
		if kind, ok := testOf[m.Tests[0]]; ok {
			kinds[string(m.Method)] = kind
		}
	}
	return kinds
}

// titrate works the result and its verdict out of the raw figures.
func (r *ReadingTaken) titrate(ctx context.Context, tx *Tx) error {
	result, err := r.Titration.result()
	if err != nil {
		return err
	}
	if kind := testOf[result.Test]; kind != r.Type {
		return invalid("type", "the method %q gives the %s, not the %s; choose that, or another method", r.Titration.Method, kind, r.Type)
	}
	u := decimal.NewFromFloat(result.U).Round(6)
	r.Value, r.Uncertainty = result.Value.Round(6), &u
	r.Typed = result.Value.StringFixed(3)
	r.Unit = strings.TrimSpace("% " + result.As)
	r.ValueUnit = r.Unit
	if r.Method == "" {
		r.Method = standardOf(result.Method)
	}
	return r.judge(ctx, tx, result, r.Titration.figures())
}

func standardOf(method assay.Method) string {
	methods := assay.Methods()
	return methods[slices.IndexFunc(methods, func(m assay.About) bool { return m.Method == method })].Standard
}

// figures are the raw figures in words, as they were typed.
func (t *Titrated) figures() string {
	text := t.Sample + " g of soap"
	for _, part := range []struct{ figure, unit, of, factor string }{
		{t.Acid, " mL of acid", t.AcidTitrant, t.AcidFactor}, {t.Volume, " mL of titrant", t.Titrant, t.Factor}} {
		if part.figure == "" {
			continue
		}
		text += ", " + part.figure + part.unit + " at " + part.of + " mol/L"
		if part.factor != "" {
			text += " × " + part.factor
		}
	}
	if t.Blank != "" {
		text += ", blank " + t.Blank + " mL"
	}
	if t.Dried != "" {
		text += ", " + t.Dried + " g dried"
	}
	if assumed := t.assumed(); len(assumed) > 0 {
		text += " (assumed: " + strings.Join(assumed, ", ") + ")"
	}
	return text
}

// assumed is what was taken for what nobody said.
func (t *Titrated) assumed() []string {
	var taken []string
	if t.VolumeWithin == nil && t.Volume != "" {
		taken = append(taken, fmt.Sprintf("burette good to ±%s mL", dropHalf))
	}
	if t.Titrant != "" && t.Factor == "" || t.AcidTitrant != "" && t.AcidFactor == "" {
		taken = append(taken, fmt.Sprintf("titrant good to ±%s %%", titrantHalf.Shift(2)))
	}
	return taken
}

// result works the figures out by the method.
func (t *Titrated) result() (assay.Result, error) {
	if t.As == "" {
		t.As = assay.NaOH
	}
	f := &figureReader{t: t}
	var r assay.Result
	var err error
	switch assay.Method(t.Method) {
	case assay.EthanolMethod:
		r, err = work(f, assay.CausticByEthanol, f.direct())
	case assay.BariumMethod:
		r, err = work(f, assay.CausticByBarium, f.direct())
	case assay.ChlorideMethod:
		r, err = work(f, assay.ChlorideAsNaCl, f.direct())
	case assay.FreeAlkaliMethod:
		r, err = work(f, func(b assay.BackTitration) (assay.Result, error) { return assay.FreeAlkali(b, t.As) }, f.back())
	case assay.WholeMethod:
		r, err = work(f, func(b assay.BackTitration) (assay.Result, error) { return assay.WholeAlkali(b, t.As) }, f.back())
	case assay.FattyMethod:
		r, err = work(f, assay.TotalFattyMatter, assay.Fatty{Dried: f.grams("dried", t.Dried), Alkali: f.millilitres("volume", t.Volume),
			Concentration: f.titrant("titrant", t.Titrant, t.Factor), Sample: f.grams("sample", t.Sample)})
	case assay.OvenMethod:
		before, after := f.grams("sample", t.Sample), f.grams("dried", t.Dried)
		r, err = work(f, func(before measure.Measured) (assay.Result, error) { return assay.MoistureByOven(before, after) }, before)
	default:
		return r, invalid("titration.method", "%q is no method for soap; use one of %s", t.Method, strings.Join(methodNames(), "; "))
	}
	return r, err
}

func methodNames() []string {
	var names []string
	for _, m := range assay.Methods() {
		if _, ok := testOf[m.Tests[0]]; ok {
			names = append(names, string(m.Method))
		}
	}
	return names
}

// work runs a method on figures that could all be read.
func work[T any](f *figureReader, method func(T) (assay.Result, error), figures T) (assay.Result, error) {
	if f.err != nil {
		return assay.Result{}, f.err
	}
	r, err := method(figures)
	if err != nil {
		return r, invalid("titration.volume", "%s", unwrapped(err))
	}
	if _, high := r.Interval(); high.IsNegative() {
		return r, invalid("titration.volume", "the result is %s %%, below nothing: the sample is acid, or two figures do not fit; check them", r.Value.Round(3))
	}
	return r, nil
}

// figureReader reads typed figures with their uncertainties and keeps the first fault.
type figureReader struct {
	t   *Titrated
	err error
}

func (f *figureReader) number(field, typed string) (n, half decimal.Decimal) {
	n, err := measure.ParseNumber(typed)
	if err != nil && f.err == nil {
		f.err = invalid("titration."+field, "%s", err)
	}
	return n, decimal.New(5, min(n.Exponent(), 0)-1)
}

// grams is a mass, good to half its last place.
func (f *figureReader) grams(field, typed string) measure.Measured {
	n, half := f.number(field, typed)
	return measure.Measured{Value: n, U: measure.Rectangular(half)}
}

// millilitres is a volume, good to a drop or as far as was said, but not better than half its last place.
func (f *figureReader) millilitres(field, typed string) measure.Measured {
	n, half := f.number(field, typed)
	within := dropHalf
	if f.t.VolumeWithin != nil {
		within = *f.t.VolumeWithin
		if err := between("titration.volume_within", within, 0, 10); err != nil && f.err == nil {
			f.err = err
		}
	}
	return measure.Measured{Value: n, U: measure.Rectangular(decimal.Max(within, half))}
}

// titrant is a concentration. With a factor it is as good as half the last place of that.
func (f *figureReader) titrant(field, typed, factor string) measure.Measured {
	normality, _ := f.number(field, typed)
	if factor == "" {
		return assay.Titrant(normality, measure.Measured{Value: decimal.NewFromInt(1), U: measure.Rectangular(titrantHalf)})
	}
	n, half := f.number(strings.Replace(field, "titrant", "factor", 1), factor)
	return assay.Titrant(normality, measure.Measured{Value: n, U: measure.Rectangular(half)})
}

// direct is a titration straight to its end point, less what a blank took.
func (f *figureReader) direct() assay.Titration {
	volume := f.millilitres("volume", f.t.Volume)
	if f.t.Blank != "" {
		blank := f.millilitres("blank", f.t.Blank)
		u := math.Hypot(volume.U.InexactFloat64(), blank.U.InexactFloat64())
		volume = measure.Measured{Value: volume.Value.Sub(blank.Value), U: decimal.NewFromFloat(u).Round(9)}
	}
	return assay.Titration{Volume: volume, Concentration: f.titrant("titrant", f.t.Titrant, f.t.Factor), Sample: f.grams("sample", f.t.Sample)}
}

func (f *figureReader) back() assay.BackTitration {
	return assay.BackTitration{Acid: f.millilitres("acid", f.t.Acid), AcidConcentration: f.titrant("acid_titrant", f.t.AcidTitrant, f.t.AcidFactor),
		Alkali: f.millilitres("volume", f.t.Volume), AlkaliConcentration: f.titrant("titrant", f.t.Titrant, f.t.Factor), Sample: f.grams("sample", f.t.Sample)}
}
