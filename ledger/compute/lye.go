package compute

import (
	"errors"
	"fmt"
	"slices"

	"ashbook/ledger/lye"
	"ashbook/ledger/soap"

	"github.com/shopspring/decimal"
)

func workLye(in LyeInput) (out LyeOutput, err error) {
	defer finitely("oils", &err)
	wish, sources, err := in.wish()
	if err != nil {
		return LyeOutput{}, err
	}
	if wish, err = in.resized(wish); err != nil {
		return LyeOutput{}, err
	}
	amounts, err := wish.Work()
	if err != nil {
		return LyeOutput{}, in.refused(err)
	}
	out = LyeOutput{Exact: potOut(amounts.Exact), Weigh: potOut(amounts.Weigh), Superfat: spanOut(amounts.Result), Budget: budgetOut(amounts.Budget),
		SuperfatShift: exact(amounts.SuperfatShift), ConcentrationShift: exact(amounts.ConcentrationShift)}
	if in.Resize != nil && in.Resize.MouldML != nil {
		ml, err := wish.Volume(in.Resize.batter())
		if err != nil {
			return LyeOutput{}, in.refused(err)
		}
		out.BatterML = &ml
		*out.BatterML = ml.Round(3)
	}
	if in.InPot != nil {
		if out.InPot, err = in.InPot.mend(amounts.Exact, wish); err != nil {
			return LyeOutput{}, err
		}
	}
	cautions := lyeCautions(amounts)
	if out.InPot != nil && out.InPot.Superfat.Value.IsNegative() {
		cautions = append([]string{potBurns}, cautions...)
	}
	out.About = about("lye", append(sources, lyeSources...), cautions...)
	return out, nil
}

var lyeSources = []string{
	"Uncertainty: JCGM 100:2008 (GUM), law of propagation, equation 10 (clause numbers from memory, high confidence); the interval and the chance of free lye are those of the sum of the inputs' own distributions.",
	"Molar masses NaOH 39.997, KOH 56.1056 g/mol: standard atomic weights (from memory, high confidence).",
	"A purity counts hydroxide alone, since carbonate does not saponify fat: Simmons & Appleton, The Handbook of Soap Manufacture, 1908 (retrieved).",
}

const potBurns = "What was weighed has more alkali than its oils can take: mixed, it burns. Do not touch it bare-handed until it is put right, mixed evenly and tested."

// badly is from when on the chance of free lye is said aloud: one batch in a thousand.
const badly = 0.001

func lyeCautions(a soap.Amounts) []string {
	var first []string
	switch chance := a.Budget.LyeHeavy; {
	case a.Weigh.Superfat.IsNegative():
		first = append(first, "There is more alkali than the oils can take: this makes lye-heavy soap, which burns. Take less alkali.")
	case chance > badly:
		first = append(first, fmt.Sprintf("The chance that some lye is left free is %.1f %%: raise the superfat, or narrow what counts most in the budget.", 100*chance))
	}
	return append(append(first, lyeBurns), lye.Cautions(lye.Peak{})...)
}

// wish turns the input into what the kernel works out, and says what the figures of the oils rest on.
func (in LyeInput) wish() (soap.Wish, []string, error) {
	var w WrongInput
	var sources []string
	wish := soap.Wish{OilGrams: orZero(in.OilGrams), KOHShare: in.KOHShare, Superfat: in.Superfat, AlkaliGrams: in.AlkaliGrams,
		Concentration: in.Conc, WaterRatio: in.WaterRatio, WaterGrams: in.WaterGrams, Scale: in.Scale.scale()}
	if in.KOHShareBy == "mass" {
		wish.Basis = soap.ByMass
	}
	if in.AlkaliScale != nil {
		scale := in.AlkaliScale.scale()
		wish.AlkaliScale = &scale
	}
	names := map[string]bool{}
	for i, o := range in.Oils {
		path := fmt.Sprintf("oils[%d]", i)
		if names[o.Name] {
			w.add(path+".name", "%s is used twice; add up what comes from one lot, and name two lots apart", quoted(o.Name))
		}
		names[o.Name] = true
		oil, source := o.wish(&w, path)
		wish.Oils, sources = append(wish.Oils, oil), append(sources, source)
	}
	for i, a := range in.Alkalis {
		if a.PurityHalf != nil && a.PurityHalf.GreaterThanOrEqual(a.Purity) {
			w.add(fmt.Sprintf("alkalis[%d].purity_half", i), "%s is not below the purity of %s; check the certificate", a.PurityHalf, a.Purity)
		}
		wish.Alkalis = append(wish.Alkalis, soap.Alkali{Kind: a.Kind, Purity: a.Purity, PurityHalf: orZero(a.PurityHalf)})
	}
	wish.Acids = acids(&w, "acids", in.Acids)
	in.checkShares(&w)
	return wish, sources, w.failed()
}

func acids(w *WrongInput, path string, in []AcidInput) (out []soap.Acid) {
	for i, a := range in {
		out = append(out, a.acid(w, fmt.Sprintf("%s[%d]", path, i)))
	}
	return out
}

// checkShares notes where some oils have a mass and others a share, and shares that do not sum.
func (in LyeInput) checkShares(w *WrongInput) {
	sum, shares := decimal.Zero, 0
	for i, o := range in.Oils {
		if o.Share != nil {
			sum, shares = sum.Add(*o.Share), shares+1
		}
		if o.Share != nil && in.OilGrams == nil {
			w.add(fmt.Sprintf("oils[%d].share", i), "it needs the mass of all oils; give oil_grams, or grams for each oil")
		}
		if o.Grams != nil && in.OilGrams != nil {
			w.add(fmt.Sprintf("oils[%d].grams", i), "oil_grams is given, so each oil has a share; give its share, or leave oil_grams out")
		}
	}
	if shares == len(in.Oils) && !sum.Equal(one) {
		w.add("oils", "the shares sum to %s, not to 1; correct them", sum)
	}
}

// wish returns the oil, and where its range is from.
func (o LyeOil) wish(w *WrongInput, path string) (soap.OilWish, string) {
	low, high, row := o.ends(w, path)
	out := soap.OilWish{Oil: soap.Oil{Name: o.Name, Grams: orZero(o.Grams), SAPMin: low, SAPMax: high, NoGlycerol: row.NoGlycerol},
		Share: orZero(o.Share), Iodine: o.Iodine, Density: o.Density}
	if out.Iodine == nil && row.IodineMin != nil && row.IodineMax != nil {
		middle := decimal.Avg(*row.IodineMin, *row.IodineMax)
		out.Iodine = &middle
	}
	return out, o.source(o.Name, row)
}

// source says what the range of an oil rests on.
func (r SAPRange) source(name string, row soap.PublishedOil) string {
	switch {
	case r.Published != "":
		return fmt.Sprintf("Saponification value of %s: published range of %s, %s (%s).", name, row.Name, row.Source, row.Mark)
	case r.SAP != nil:
		return fmt.Sprintf("Saponification value of %s: a certificate, as given.", name)
	}
	return fmt.Sprintf("Saponification value of %s: a range, as given.", name)
}

// batter is what the estimate of volume needs.
func (r Resize) batter() soap.Batter {
	return soap.Batter{Celsius: orZero(r.BatterCelsius), Density: orZero(r.BatterDensity)}
}

// resized returns the wish at the size that is asked for.
func (in LyeInput) resized(wish soap.Wish) (soap.Wish, error) {
	r := in.Resize
	if r == nil {
		return wish, nil
	}
	if r.OilGrams != nil {
		out, err := wish.ForOils(*r.OilGrams)
		return out, in.refused(err)
	}
	if r.BatterDensity == nil {
		for i, o := range wish.Oils {
			if o.Density == nil && o.Iodine == nil {
				return wish, amiss(fmt.Sprintf("oils[%d].iodine", i), "missing; a volume needs the density of the oil: give density_15c, or iodine to estimate it, or batter_density in resize")
			}
		}
	}
	out, err := wish.ForMould(*r.MouldML, r.batter())
	return out, in.refused(err)
}

// refused names the field of a kernel's refusal as the input names it.
func (in LyeInput) refused(err error) error {
	if err == nil {
		return nil
	}
	f, ok := errors.AsType[*soap.FieldError](err)
	if !ok {
		return refused("input", err)
	}
	field := f.Field
	switch f.Field {
	case soap.FieldMould:
		field = "resize"
	case soap.FieldWater:
		field = "concentration"
	}
	return refused(field, err)
}

// mend says what would put the pot right.
func (p InPot) mend(formula soap.Pot, wish soap.Wish) (*PotOut, error) {
	var w WrongInput
	scale, alkaliScale := wish.Scales()
	oils := p.oils(&w, formula, scale.U())
	weighed := p.alkalis(&w, formula, alkaliScale.U())
	acids := acids(&w, "in_pot.acids", p.Acids)
	wanted := formula.Superfat
	if p.Superfat != nil {
		wanted = *p.Superfat
	}
	if wanted.IsNegative() {
		w.add("in_pot.superfat", "missing; the formula's own is below zero, %s: give the superfat that is wanted", wanted.Round(4))
	}
	if err := w.failed(); err != nil {
		return nil, err
	}
	out := &PotOut{WantedSuperfat: exact(wanted)}
	for _, a := range formula.Alkalis {
		m, err := soap.AlkaliFor(oils, wanted, a, weighed, acids...)
		if err != nil {
			return nil, refused("in_pot.oils", err)
		}
		out.Alkalis = append(out.Alkalis, AlkaliMend{a.Kind, exact(m.InAll), exact(m.More), exact(m.TooMuch)})
	}
	for _, o := range formula.Oils {
		m, err := soap.OilFor(oils, wanted, o, weighed, acids...)
		if err != nil {
			return nil, refused("in_pot.oils", err)
		}
		out.Oils = append(out.Oils, OilMend{o.Name, exact(m.Add), exact(m.InExcess)})
	}
	result, err := soap.Superfat(oils, weighed, acids...)
	if err != nil {
		return nil, refused("in_pot.oils", err)
	}
	budget, err := soap.Uncertainty(oils, weighed, acids...)
	if err != nil {
		return nil, refused("in_pot.alkalis", err)
	}
	out.Superfat, out.Budget = spanOut(result), budgetOut(budget)
	return out, nil
}

// oils are those in the pot, with the ranges of the formula and the uncertainty of one weighing.
func (p InPot) oils(w *WrongInput, formula soap.Pot, u decimal.Decimal) (oils []soap.Oil) {
	seen := map[string]bool{}
	for i, o := range p.Oils {
		path := fmt.Sprintf("in_pot.oils[%d].name", i)
		at := slices.IndexFunc(formula.Oils, func(f soap.Oil) bool { return f.Name == o.Name })
		switch {
		case at < 0:
			w.add(path, "%s is not an oil of the formula; name it as in oils", quoted(o.Name))
			continue
		case seen[o.Name]:
			w.add(path, "%s is given twice; add up what was weighed", quoted(o.Name))
		}
		seen[o.Name] = true
		oil := formula.Oils[at]
		oil.Grams, oil.GramsU = o.Grams, u
		oils = append(oils, oil)
	}
	if !slices.ContainsFunc(oils, func(o soap.Oil) bool { return o.Grams.IsPositive() }) {
		w.add("in_pot.oils", "no oil with a mass is in; list what was weighed")
	}
	return oils
}

// alkalis are those weighed, with the purities of the formula and the uncertainty of one weighing.
func (p InPot) alkalis(w *WrongInput, formula soap.Pot, u decimal.Decimal) (alkalis []soap.Alkali) {
	seen := map[string]bool{}
	for i, a := range p.Alkalis {
		path := fmt.Sprintf("in_pot.alkalis[%d].kind", i)
		at := slices.IndexFunc(formula.Alkalis, func(f soap.Alkali) bool { return f.Kind == a.Kind })
		switch {
		case at < 0:
			w.add(path, "%s is not an alkali of the formula; name it in alkalis, with its purity", a.Kind)
			continue
		case seen[a.Kind]:
			w.add(path, "%s is given twice; add up what was weighed", a.Kind)
		}
		seen[a.Kind] = true
		alkali := formula.Alkalis[at]
		alkali.Grams, alkali.GramsU = a.Grams, u
		alkalis = append(alkalis, alkali)
	}
	return alkalis
}
