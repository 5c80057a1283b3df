package ledger

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"ashbook/ledger/assay"
	"ashbook/ledger/lye"
	"ashbook/ledger/measure"
)

// The ways of measuring a pH.
const (
	WithStrip = "strip"
	WithMeter = "meter"
)

// lyeScales are the scales of a hydrometer.
func lyeScales() []string {
	var names []string
	for _, s := range lye.Scales() {
		names = append(names, string(s))
	}
	return names
}

// checkHow refuses what belongs to another kind of reading, and reads the temperature that goes with this one.
func (r *ReadingTaken) checkHow() error {
	for _, f := range []struct {
		field string
		given bool
		kinds []string
	}{
		{"at", r.At != nil, []string{LyeDensity, PH}}, {"within", r.Within != nil, []string{LyeDensity, FreeAlkali, TotalAlkali, FattyMatter, Chloride, Moisture}},
		{"limit", r.Limit != nil, []string{FreeAlkali, TotalAlkali, FattyMatter, Chloride, Moisture}},
		{"measured_by", r.MeasuredBy != "", []string{FreeAlkali, TotalAlkali, FattyMatter, Chloride, Moisture}},
		{"way", r.Way != "", []string{PH}}, {"solution", r.Solution != nil, []string{PH}},
		{"titration", r.Titration != nil, []string{FreeAlkali, TotalAlkali, FattyMatter, Chloride, Moisture}},
	} {
		if f.given && !slices.Contains(f.kinds, r.Type) {
			return invalid(f.field, "does not go with a reading of the %s; leave it out", r.Type)
		}
	}
	if r.MeasuredBy != "" && r.Titration != nil {
		return invalid("measured_by", "is for a result that is typed; raw figures are those of who records them")
	}
	if r.Within != nil && r.Titration != nil {
		return invalid("within", "is for a result that is typed; of a titration say how far a volume may be off, in titration.volume_within")
	}
	if r.At == nil {
		return nil
	}
	t, err := measure.ParseTemperature(r.At.Typed, r.At.Unit)
	if err != nil {
		return invalid("at", "%s", err)
	}
	r.At = &ReadAt{t.Typed, t.Unit, t.Celsius}
	return nil
}

func (r *ReadingTaken) resolve() error {
	r.Uncertainty, r.Verdict, r.Words = nil, "", ""
	switch r.Type {
	case OilTemperature, LyeTemperature, RoomTemperature:
		t, err := measure.ParseTemperature(r.Typed, r.Unit)
		if err != nil {
			return invalid("typed", "%s", err)
		}
		r.Value, r.ValueUnit = t.Celsius, "°C"
		return nil
	case PotGross, BarMass:
		m, err := measure.ParseMass(r.Typed, measure.Unit(r.Unit), measure.Bulk{})
		if err != nil {
			return invalid("typed", "%s", err)
		}
		r.Value, r.ValueUnit = m.Grams, "g"
		return positive("typed", r.Value)
	}
	v, err := measure.ParseNumber(r.Typed)
	if err != nil {
		return invalid("typed", "%s", err)
	}
	if r.Type == LyeDensity {
		return r.resolveDensity(v)
	}
	r.Value, r.ValueUnit = v, r.Unit
	bounds := map[string]int64{PH: 14, RoomHumidity: 100, AlkaliTongueTest: 1}
	most, ok := bounds[r.Type]
	if !ok { // per cent of the sample
		most = 100
	}
	return between("typed", v, 0, most)
}

// resolveDensity carries what the hydrometer shows, and how far it may be off, over to g/mL.
func (r *ReadingTaken) resolveDensity(shown decimal.Decimal) error {
	if r.At == nil {
		return invalid("at", "is empty; say how warm the lye was when its density was read, since warm lye is lighter")
	}
	half := decimal.New(1, min(shown.Exponent(), 0))
	if r.Within != nil {
		if err := positive("within", *r.Within); err != nil {
			return err
		}
		half = *r.Within
	}
	m, err := lye.Scale(r.Unit).Measured(measure.Measured{Value: shown, U: measure.Rectangular(half)}, r.At.Celsius)
	if err != nil {
		return invalid("typed", "%s", unwrapped(err))
	}
	u := m.U.Round(9)
	r.Within, r.Value, r.ValueUnit, r.Uncertainty = &half, m.Value.Round(6), "g/mL", &u
	return nil
}

// unwrapped is what a package says of a wrong input, without its own first words.
func unwrapped(err error) string {
	text := err.Error()
	for _, own := range []error{lye.ErrInput, assay.ErrInput} {
		text = strings.TrimPrefix(text, own.Error()+": ")
	}
	return text
}

// checkDensity refuses a density that no lye of the alkali in the pot has at that temperature.
func (r *ReadingTaken) checkDensity(ctx context.Context, tx *Tx) error {
	mix, err := mixOf(ctx, tx, r.Batch, r.Lot)
	if err != nil || mix.kind == "" {
		return err
	}
	if _, err := byDensity(mix.kind, Reading{Value: r.Value, Uncertainty: r.Uncertainty, AtCelsius: &r.At.Celsius}); err != nil {
		return invalid("typed", "%s", unwrapped(err))
	}
	return nil
}

// usualSolutionCelsius is how warm a soap solution is taken to be when nobody says.
var usualSolutionCelsius = decimal.NewFromInt(20)

// lookAtPH says how a pH was measured and what it tells of free alkali, which is little.
func (r *ReadingTaken) lookAtPH() error {
	if r.Way == "" {
		return nil
	}
	if err := oneOf("way", r.Way, WithStrip, WithMeter); err != nil {
		return err
	}
	if r.Solution == nil {
		return invalid("solution", "is empty; say how many g of soap are in 100 g of the solution")
	}
	celsius, warm := usualSolutionCelsius, ""
	if r.At != nil {
		celsius, warm = r.At.Celsius, fmt.Sprintf(" at %s °%s", r.At.Typed, r.At.Unit)
	}
	look, err := assay.LookAtPH(assay.PHReading{PH: r.Value, Solution: *r.Solution, Celsius: celsius, Strip: r.Way == WithStrip})
	if err != nil {
		return invalid("typed", "%s", unwrapped(err))
	}
	if r.Method == "" {
		r.Method = fmt.Sprintf("%s, %s %% solution%s", r.Way, r.Solution, warm)
	}
	r.Words = strings.Join(look.Texts, " ")
	return nil
}

// checkVerdict wants a verdict with an alkali test that has no figure in per cent to judge by, and none where nothing is tested.
func (r *ReadingTaken) checkVerdict() error {
	if !r.isTest() && !r.isQuality() {
		if r.Passed != nil {
			return invalid("passed", "%s passes or fails nothing by itself", r.Type)
		}
		return nil
	}
	if r.isTest() && r.Type != FreeAlkali && r.Passed == nil {
		return invalid("passed", "is empty; say whether the %s passed the limit that holds for its method", r.Type)
	}
	if r.Method == "" {
		return invalid("method", "is empty; say how it was found, or which laboratory did")
	}
	return nil
}

// isTest tells whether it is a test for free alkali, which a release waits for.
func (r *ReadingTaken) isTest() bool {
	return r.Type == PH || r.Type == FreeAlkali || r.Type == AlkaliTongueTest
}

// isQuality tells whether it is another test of the soap, which a release looks at when there is one.
func (r *ReadingTaken) isQuality() bool {
	return slices.Contains(qualityTests, r.Type)
}

var qualityTests = []string{TotalAlkali, FattyMatter, Chloride, Moisture}
