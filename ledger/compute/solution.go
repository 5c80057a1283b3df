package compute

import (
	"errors"

	"ashbook/ledger/lye"
	"ashbook/ledger/measure"

	"github.com/shopspring/decimal"
)

// SolutionInput is what compute solution reads.
type SolutionInput struct {
	Alkali    string        `json:"alkali" of:"NaOH|KOH" doc:"sodium or potassium hydroxide"`
	ByMass    *LyeByMass    `json:"by_mass,omitempty" doc:"the lye by what was weighed"`
	ByDensity *LyeByDensity `json:"by_density,omitempty" doc:"the lye by its density; with by_mass the two are compared"`
}

// LyeByMass is a lye as it was weighed.
type LyeByMass struct {
	AlkaliGrams     measure.Measured `json:"alkali_grams" is:"above zero" doc:"mass of alkali as weighed, g"`
	WaterGrams      measure.Measured `json:"water_grams" is:"zero or more" doc:"mass of water, ice included, g"`
	Purity          measure.Measured `json:"purity" is:"share above zero" doc:"mass fraction of hydroxide in the alkali"`
	ExpectAtCelsius *decimal.Decimal `json:"expect_at_celsius,omitempty" is:"number" doc:"answer which density it should have at this temperature, °C"`
	Dissolve        *Dissolve        `json:"dissolve,omitempty" doc:"answer how hot it gets while it is made"`
}

// Dissolve is how the lye is made.
type Dissolve struct {
	WaterCelsius decimal.Decimal  `json:"water_celsius" is:"number" doc:"temperature of the liquid water, 0 to 60 °C"`
	IceGrams     *decimal.Decimal `json:"ice_grams,omitempty" is:"zero or more" doc:"how much of the water is ice at 0 °C, g"`
}

// LyeByDensity is a reading of a hydrometer or a density meter.
type LyeByDensity struct {
	Reading measure.Measured `json:"reading" is:"number" doc:"as read, in the unit of the scale"`
	Scale   string           `json:"scale" of:"g/mL|SG 60/60|Tw|Be 145|Be 144.3" doc:"g/mL: density; SG 60/60: specific gravity at 60 °F; Tw: degrees Twaddell; Be 145 and Be 144.3: degrees Baumé of that modulus"`
	Celsius measure.Measured `json:"celsius" is:"number" doc:"temperature of the lye, °C"`
}

// SolutionOutput is what compute solution answers.
type SolutionOutput struct {
	About
	ByMass     *ByMassOut    `json:"by_mass,omitempty" doc:"the lye by what was weighed"`
	ByDensity  *ByDensityOut `json:"by_density,omitempty" doc:"the lye by its density"`
	Comparison *Comparison   `json:"comparison,omitempty" doc:"the two side by side"`
}

// Figure is a value with its standard uncertainty.
type Figure struct {
	Value decimal.Decimal `json:"value" doc:"the value"`
	U     decimal.Decimal `json:"u" doc:"its standard uncertainty, in the unit of the value"`
}

// ByMassOut is a lye by what was weighed.
type ByMassOut struct {
	Concentration decimal.Decimal `json:"concentration" doc:"alkali as weighed over lye, fraction"`
	Strength      Figure          `json:"strength" doc:"hydroxide over lye, mass fraction"`
	Expected      *Expected       `json:"expected,omitempty" doc:"the density that it should have"`
	Peak          *PeakOut        `json:"peak,omitempty" doc:"how hot it gets if no heat is lost: an upper bound for the whole, not for a clump on the bottom"`
	NoPeak        string          `json:"no_peak,omitempty" doc:"why that is not known"`
}

// Expected is a density that is to be expected.
type Expected struct {
	Celsius  decimal.Decimal `json:"celsius" doc:"temperature, °C"`
	Readings []Reading       `json:"readings" doc:"what each scale should show"`
}

// Reading is what a scale shows.
type Reading struct {
	Scale   string          `json:"scale" doc:"the scale"`
	Reading decimal.Decimal `json:"reading" doc:"in the unit of the scale"`
}

// PeakOut is how hot lye gets.
type PeakOut struct {
	Celsius      decimal.Decimal `json:"celsius" doc:"the bound, °C"`
	RiseCelsius  decimal.Decimal `json:"rise_celsius" doc:"above the water before ice and alkali went in, °C"`
	HeatKJPerMol decimal.Decimal `json:"heat_kj_per_mol" doc:"heat given off, kJ per mol of NaOH"`
	BeyondTable  bool            `json:"beyond_table" doc:"the heat lies beyond the end of its table and is itself an upper bound"`
	Level        string          `json:"level" doc:"usual up to 80 °C, caution above, strong above 95 °C"`
}

// ByDensityOut is a lye by its density.
type ByDensityOut struct {
	Density  Figure `json:"density" doc:"g/mL"`
	Strength Figure `json:"strength" doc:"hydroxide over lye, mass fraction"`
}

// Comparison is the strength by mass against that by density.
type Comparison struct {
	Difference decimal.Decimal `json:"difference" doc:"by density less by mass, mass fraction"`
	U          decimal.Decimal `json:"u" doc:"standard uncertainty of the difference, mass fraction"`
	Ratio      decimal.Decimal `json:"ratio" doc:"the difference over its standard uncertainty, without sign"`
	Verdict    string          `json:"verdict" doc:"agree (ratio below 2), doubtful (2 to 3) or disagree (above 3)"`
	Words      string          `json:"words" doc:"what was found"`
	LooksLike  []string        `json:"looks_like" doc:"what such a difference may come from, the likeliest first"`
	Carbonate  string          `json:"carbonate" doc:"what a density cannot see"`
}

// lyeTables says what the figures of each alkali rest on.
var lyeTables = map[string][]string{
	lye.NaOH: {"Density of NaOH solutions: International Critical Tables as in Perry's handbook (from memory, high confidence); water by Laliberté & Cooper 2004.",
		"Heat of solution of NaOH at 25 °C: integral heats in Felder & Rousseau, from NBS Circular 500 (one row retrieved, the others from memory, high confidence); " +
			"heat capacity: Laliberté 2009 up to 30 %, beyond that a straight line (from memory, medium confidence)."},
	lye.KOH: {"Density of KOH solutions: Laliberté 2009, the model (coefficients retrieved from a copy)."},
}

func workSolution(in SolutionInput) (out SolutionOutput, err error) {
	defer finitely("by_mass", &err)
	var byMass, byDensity lye.Estimate
	peak := lye.Peak{}
	if in.ByMass != nil {
		if out.ByMass, byMass, err = in.ByMass.work(in.Alkali, &peak); err != nil {
			return SolutionOutput{}, err
		}
	}
	if in.ByDensity != nil {
		if out.ByDensity, byDensity, err = in.ByDensity.work(in.Alkali); err != nil {
			return SolutionOutput{}, err
		}
	}
	if in.ByMass != nil && in.ByDensity != nil {
		c, err := lye.Compare(byMass, byDensity)
		if err != nil {
			return SolutionOutput{}, refused("by_density", err)
		}
		out.Comparison = &Comparison{exact(c.Difference), statistic(c.U), statistic(c.Ratio), string(c.Verdict), c.Text, append([]string{}, c.LooksLike...), c.Carbonate}
	}
	sources := append([]string{"Uncertainty: JCGM 100:2008 (GUM), law of propagation, equation 10 (clause numbers from memory, high confidence)."}, lyeTables[in.Alkali]...)
	out.About = about("solution", sources, append([]string{lyeBurns}, lye.Cautions(peak)...)...)
	return out, nil
}

func (b LyeByMass) work(kind string, peak *lye.Peak) (*ByMassOut, lye.Estimate, error) {
	if b.Purity.U.GreaterThanOrEqual(measure.Rectangular(b.Purity.Value)) {
		return nil, lye.Estimate{}, amiss("by_mass.purity", "how far it may be off is not below the purity of %s; check the certificate", b.Purity.Value)
	}
	strength, err := lye.ByMass(b.AlkaliGrams, b.WaterGrams, b.Purity)
	if err != nil {
		return nil, strength, refused("by_mass", err)
	}
	asWeighed, err := lye.Concentration(b.AlkaliGrams.Value, b.WaterGrams.Value)
	if err != nil {
		return nil, strength, refused("by_mass", err)
	}
	out := &ByMassOut{Concentration: exact(asWeighed), Strength: strengthOut(strength)}
	if b.ExpectAtCelsius != nil {
		if out.Expected, err = expected(kind, strength.Share, *b.ExpectAtCelsius); err != nil {
			return nil, strength, refused("by_mass.expect_at_celsius", err)
		}
	}
	if b.Dissolve == nil {
		return out, strength, nil
	}
	*peak, err = b.peak(kind)
	switch {
	case errors.Is(err, lye.ErrNoFigure):
		out.NoPeak = oneLine(refused("peak", err).(*WrongInput).Faults[0].Text)
	case err != nil:
		return nil, strength, err
	default:
		out.Peak = peakOut(*peak)
	}
	return out, strength, nil
}

func strengthOut(e lye.Estimate) Figure { return Figure{exact(e.Share), statistic(e.U)} }

func expected(kind string, share, celsius decimal.Decimal) (*Expected, error) {
	density, err := lye.Density(kind, share, celsius)
	if err != nil {
		return nil, err
	}
	out := &Expected{Celsius: celsius}
	for _, s := range lye.Scales() {
		reading, err := s.Reading(density)
		if err != nil {
			return nil, err
		}
		out.Readings = append(out.Readings, Reading{string(s), exact(reading)})
	}
	return out, nil
}

// peak works out how hot the lye gets; ice is part of the water that was weighed.
func (b LyeByMass) peak(kind string) (lye.Peak, error) {
	ice := orZero(b.Dissolve.IceGrams)
	if ice.GreaterThan(b.WaterGrams.Value) {
		return lye.Peak{}, amiss("by_mass.dissolve.ice_grams", "%s g are more than all the water, %s g; give water_grams with the ice in it", ice, b.WaterGrams.Value)
	}
	peak, err := lye.PeakOf(lye.Dissolving{Kind: kind, Alkali: b.AlkaliGrams.Value, Purity: b.Purity.Value, Water: b.WaterGrams.Value.Sub(ice),
		WaterCelsius: b.Dissolve.WaterCelsius, Ice: ice})
	if err != nil && !errors.Is(err, lye.ErrNoFigure) {
		return peak, refused("by_mass.dissolve", err)
	}
	return peak, err
}

func peakOut(p lye.Peak) *PeakOut {
	level := string(p.Level)
	if p.Level == lye.Usual {
		level = "usual"
	}
	return &PeakOut{p.Celsius.Round(2), p.Rise.Round(2), p.HeatPerMole.Round(4), p.Bounded, level}
}

func (b LyeByDensity) work(kind string) (*ByDensityOut, lye.Estimate, error) {
	density, err := lye.Scale(b.Scale).Measured(b.Reading, b.Celsius.Value)
	if err != nil {
		return nil, lye.Estimate{}, refused("by_density.reading", err)
	}
	if _, err := lye.Density(kind, decimal.Zero, b.Celsius.Value); err != nil { // a temperature without a table
		return nil, lye.Estimate{}, refused("by_density.celsius", err)
	}
	strength, err := lye.ByDensity(kind, density, b.Celsius)
	if err != nil {
		return nil, strength, refused("by_density.reading", err)
	}
	return &ByDensityOut{Figure{exact(density.Value), exact(density.U)}, strengthOut(strength)}, strength, nil
}
