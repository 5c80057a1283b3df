package compute

import (
	"fmt"
	"slices"
	"strings"

	"ashbook/ledger/assay"
	"ashbook/ledger/measure"

	"github.com/shopspring/decimal"
)

// TitrationInput is what compute titration reads: the readings of one test.
type TitrationInput struct {
	Ethanol        *Titrated      `json:"caustic_by_ethanol,omitempty" doc:"free caustic alkali of a sodium soap: dissolved in neutral ethanol, titrated with acid"`
	Barium         *Titrated      `json:"caustic_by_barium,omitempty" doc:"free caustic alkali of a potassium soap: precipitated with barium chloride, titrated with acid"`
	FreeAlkali     *BackTitrated  `json:"free_alkali,omitempty" doc:"total free alkali: boiled in ethanol with an excess of acid, titrated back"`
	WholeAlkali    *BackTitrated  `json:"whole_alkali,omitempty" doc:"total alkali: split with an excess of acid, titrated back"`
	FattyMatter    *FattyInput    `json:"fatty_matter,omitempty" doc:"total fatty matter: fatty acids dried as potassium soap"`
	Chloride       *Titrated      `json:"chloride,omitempty" doc:"chloride: titrated with silver nitrate"`
	Moisture       *OvenInput     `json:"moisture,omitempty" doc:"moisture: dried at 105 °C to constant mass"`
	Saponification *SaponInput    `json:"saponification_value,omitempty" doc:"saponification value of a fat: boiled with alkali, titrated back beside a blank"`
	TwoIndicators  *TwoIndicators `json:"two_indicators,omitempty" doc:"hydroxide and carbonate of an alkali or a lye: phenolphthalein, then methyl orange"`
	HoldAgainst    []HoldInput    `json:"hold_against,omitempty" most:"20" doc:"limits to hold the result against, beside the published ones of the same test"`
}

// Titrated is a sample titrated straight to its end point.
type Titrated struct {
	TitrantML    measure.Measured `json:"titrant_ml" is:"volume" doc:"titrant used, mL"`
	TitrantMolar measure.Measured `json:"titrant_mol_per_l" is:"molar" doc:"its concentration, mol/L of what it neutralises: 1 N sulphuric acid counts as 1"`
	SampleGrams  measure.Measured `json:"sample_grams" is:"above zero" doc:"sample, g"`
}

// BackTitrated is a sample that met an excess of acid.
type BackTitrated struct {
	AcidML      measure.Measured `json:"acid_ml" is:"volume" doc:"acid added, mL"`
	AcidMolar   measure.Measured `json:"acid_mol_per_l" is:"molar" doc:"its concentration, mol/L of what it neutralises"`
	AlkaliML    measure.Measured `json:"alkali_ml" is:"volume" doc:"alkali used for what was left, mL"`
	AlkaliMolar measure.Measured `json:"alkali_mol_per_l" is:"molar" doc:"its concentration, mol/L"`
	SampleGrams measure.Measured `json:"sample_grams" is:"above zero" doc:"sample, g"`
	As          string           `json:"as" of:"NaOH|KOH" doc:"what the result is stated as"`
}

// FattyInput is the second half of a determination of total fatty matter.
type FattyInput struct {
	DriedGrams  measure.Measured `json:"dried_grams" is:"above zero" doc:"dried potassium soap, g"`
	AlkaliML    measure.Measured `json:"alkali_ml" is:"volume" doc:"potassium hydroxide that neutralised the acids, mL"`
	AlkaliMolar measure.Measured `json:"alkali_mol_per_l" is:"molar" doc:"its concentration, mol/L"`
	SampleGrams measure.Measured `json:"sample_grams" is:"above zero" doc:"sample, g"`
}

// OvenInput is a sample before and after drying.
type OvenInput struct {
	BeforeGrams measure.Measured `json:"before_grams" is:"above zero" doc:"sample before, g, the dish taken off"`
	AfterGrams  measure.Measured `json:"after_grams" is:"above zero" doc:"sample after, g, the dish taken off"`
}

// SaponInput is a fat boiled with alkali, beside a blank.
type SaponInput struct {
	BlankML   measure.Measured `json:"blank_ml" is:"volume" doc:"acid that the blank took, mL"`
	SampleML  measure.Measured `json:"sample_ml" is:"volume" doc:"acid that the sample took, mL"`
	AcidMolar measure.Measured `json:"acid_mol_per_l" is:"molar" doc:"concentration of the acid, mol/L of what it neutralises"`
	FatGrams  measure.Measured `json:"fat_grams" is:"above zero" doc:"fat, g"`
}

// TwoIndicators is an alkali titrated with acid to two end points.
type TwoIndicators struct {
	Alkali      string           `json:"alkali" of:"NaOH|KOH" doc:"sodium or potassium hydroxide"`
	TotalML     measure.Measured `json:"total_ml" is:"volume" doc:"acid to the change of methyl orange, mL"`
	AfterML     measure.Measured `json:"after_ml" is:"volume" doc:"acid of it after phenolphthalein had lost its colour, mL"`
	AcidMolar   measure.Measured `json:"acid_mol_per_l" is:"molar" doc:"concentration of the acid, mol/L of what it neutralises"`
	SampleGrams measure.Measured `json:"sample_grams" is:"above zero" doc:"sample of lye or alkali, g"`
}

// HoldInput is a limit.
type HoldInput struct {
	Name    string           `json:"name" doc:"whose limit it is"`
	Test    string           `json:"test" of:"free caustic alkali|total free alkali|total alkali|total fatty matter|chloride|moisture|total alkali of lye|hydroxide of lye|carbonate of lye" doc:"the test that it is for"`
	AtMost  *decimal.Decimal `json:"at_most,omitempty" is:"share" doc:"the result may be no higher, fraction by mass"`
	AtLeast *decimal.Decimal `json:"at_least,omitempty" is:"share" doc:"the result has to be this high, fraction by mass"`
	As      string           `json:"as,omitempty" of:"NaOH|KOH|Na2O|K2O|NaCl|Na2CO3|K2CO3" doc:"the substance that the limit is stated as, where the result is one"`
}

// TitrationOutput is what compute titration answers.
type TitrationOutput struct {
	About
	Results []TestResult `json:"results" doc:"what the test found"`
	Held    []Judged     `json:"held_against" doc:"the results held against limits, those of the input first; the law of the place goes before all"`
}

// TestResult is what a test found.
type TestResult struct {
	Test   string          `json:"test" doc:"what was determined"`
	Method string          `json:"method" doc:"how"`
	Value  decimal.Decimal `json:"value" doc:"in unit"`
	U      decimal.Decimal `json:"u" doc:"standard uncertainty, in unit; 0: no reading stated one"`
	Low    decimal.Decimal `json:"low_95" doc:"lower end of the 95 % interval, in unit"`
	High   decimal.Decimal `json:"high_95" doc:"upper end of the 95 % interval, in unit"`
	Unit   string          `json:"unit" doc:"g/g (a fraction by mass) or mg KOH/g"`
	As     string          `json:"as,omitempty" doc:"the substance that it is stated as"`
}

// Judged is a result held against a limit.
type Judged struct {
	Name    string          `json:"name" doc:"whose limit it is"`
	Test    string          `json:"test" doc:"the test that it is for"`
	As      string          `json:"as,omitempty" doc:"the substance that the limit is stated as"`
	Limit   decimal.Decimal `json:"limit" doc:"fraction by mass"`
	AtLeast bool            `json:"at_least" doc:"the result has to be this high; otherwise it may be no higher"`
	Source  string          `json:"source" doc:"where the limit is from"`
	Mark    string          `json:"mark" doc:"how well it is known"`
	Verdict string          `json:"verdict" doc:"pass, fail or too close to call"`
	Words   string          `json:"words" doc:"the same in words, in per cent"`
}

func workTitration(in TitrationInput) (out TitrationOutput, err error) {
	defer finitely("input", &err)
	results, err := in.results()
	if err != nil {
		return TitrationOutput{}, err
	}
	out.Held = []Judged{}
	for _, r := range results {
		out.Results = append(out.Results, resultOut(r))
	}
	if err := out.hold(in.HoldAgainst, results); err != nil {
		return TitrationOutput{}, err
	}
	methods := assay.Methods()
	m := methods[slices.IndexFunc(methods, func(m assay.About) bool { return m.Method == results[0].Method })]
	out.About = about("titration", []string{fmt.Sprintf("%s: %s (%s).", m.Standard, m.Formula, m.Mark), titrationSource}, m.Note, titrantsBurn)
	return out, nil
}

const (
	titrationSource = "Uncertainty: JCGM 100:2008 (GUM), law of propagation, equation 10 (clause numbers from memory, high confidence); the 95 % interval is two standard uncertainties to each side."
	titrantsBurn    = "Titrants burn and sting: goggles and gloves on, and the supplier's safety data sheet goes before this."
)

func resultOut(r assay.Result) TestResult {
	places, unit := int32(0), r.Unit
	if unit == assay.Percent {
		places, unit = -2, "g/g"
	}
	u := statistic(r.U).Shift(places)
	two := u.Mul(decimal.NewFromInt(2))
	value := r.Value.Shift(places)
	return TestResult{string(r.Test), string(r.Method), exact(value), u, exact(value.Sub(two)), exact(value.Add(two)), unit, r.As}
}

// results works the readings out. A refusal names the section that holds them.
func (in TitrationInput) results() ([]assay.Result, error) {
	one := func(section string, r assay.Result, err error) ([]assay.Result, error) {
		if err != nil {
			return nil, refused(section, err)
		}
		return []assay.Result{r}, nil
	}
	var r assay.Result
	var err error
	switch {
	case in.Ethanol != nil:
		r, err = assay.CausticByEthanol(in.Ethanol.titration())
		return one("caustic_by_ethanol", r, err)
	case in.Barium != nil:
		r, err = assay.CausticByBarium(in.Barium.titration())
		return one("caustic_by_barium", r, err)
	case in.FreeAlkali != nil:
		r, err = assay.FreeAlkali(in.FreeAlkali.titration(), in.FreeAlkali.As)
		return one("free_alkali", r, err)
	case in.WholeAlkali != nil:
		r, err = assay.WholeAlkali(in.WholeAlkali.titration(), in.WholeAlkali.As)
		return one("whole_alkali", r, err)
	case in.FattyMatter != nil:
		f := in.FattyMatter
		r, err = assay.TotalFattyMatter(assay.Fatty{Dried: f.DriedGrams, Alkali: f.AlkaliML, Concentration: f.AlkaliMolar, Sample: f.SampleGrams})
		return one("fatty_matter", r, err)
	case in.Chloride != nil:
		r, err = assay.ChlorideAsNaCl(in.Chloride.titration())
		return one("chloride", r, err)
	case in.Moisture != nil:
		r, err = assay.MoistureByOven(in.Moisture.BeforeGrams, in.Moisture.AfterGrams)
		return one("moisture", r, err)
	case in.Saponification != nil:
		s := in.Saponification
		r, err = assay.SaponificationValue(assay.Saponified{Blank: s.BlankML, Sample: s.SampleML, Concentration: s.AcidMolar, Fat: s.FatGrams})
		return one("saponification_value", r, err)
	}
	t := in.TwoIndicators
	c, err := assay.TwoIndicators{Kind: t.Alkali, Total: t.TotalML, After: t.AfterML, Concentration: t.AcidMolar, Sample: t.SampleGrams}.Assay()
	if err != nil {
		return nil, refused("two_indicators", err)
	}
	return []assay.Result{c.TotalAlkali, c.Carbonate, c.Hydroxide}, nil
}

func (t Titrated) titration() assay.Titration {
	return assay.Titration{Volume: t.TitrantML, Concentration: t.TitrantMolar, Sample: t.SampleGrams}
}

func (b BackTitrated) titration() assay.BackTitration {
	return assay.BackTitration{Acid: b.AcidML, AcidConcentration: b.AcidMolar, Alkali: b.AlkaliML,
		AlkaliConcentration: b.AlkaliMolar, Sample: b.SampleGrams}
}

// hold sets the results against the limits of the input and the published ones of the same test.
func (out *TitrationOutput) hold(limits []HoldInput, results []assay.Result) error {
	for i, h := range limits {
		at := slices.IndexFunc(results, func(r assay.Result) bool { return string(r.Test) == h.Test })
		if at < 0 {
			return amiss(fmt.Sprintf("hold_against[%d].test", i), "%s was not tested for here; give a limit for %s", h.Test, results[0].Test)
		}
		j, err := assay.Judge(results[at], h.limit())
		if err != nil {
			return refused(fmt.Sprintf("hold_against[%d].as", i), err)
		}
		out.Held = append(out.Held, judged(j))
	}
	for _, l := range assay.Limits() {
		for _, r := range results {
			if strings.HasSuffix(string(l.Test), "of lye") && l.As != r.As {
				continue // soda is not held against the limits of potash
			}
			if j, err := assay.Judge(r, l); err == nil { // others are for another test or substance
				out.Held = append(out.Held, judged(j))
			}
		}
	}
	return nil
}

func (h HoldInput) limit() assay.Limit {
	l := assay.Limit{Name: h.Name, Test: assay.Test(h.Test), As: h.As, Source: h.Name, Mark: "as given"}
	if h.AtLeast != nil {
		l.AtLeast, l.Percent = true, h.AtLeast.Shift(2)
	} else {
		l.Percent = h.AtMost.Shift(2)
	}
	return l
}

func judged(j assay.Judgement) Judged {
	l := j.Limit
	return Judged{l.Name, string(l.Test), l.As, l.Percent.Shift(-2), l.AtLeast, l.Source, l.Mark, string(j.Verdict), j.Text}
}
