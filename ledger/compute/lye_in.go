package compute

import (
	"slices"

	"ashbook/ledger/soap"

	"github.com/shopspring/decimal"
)

// LyeInput is what compute lye reads.
type LyeInput struct {
	Oils        []LyeOil         `json:"oils" most:"200" doc:"the oils, fats, waxes and fatty acids; what comes from one lot is listed once"`
	OilGrams    *decimal.Decimal `json:"oil_grams,omitempty" is:"above zero" doc:"mass of all oils, g, where they are given by share"`
	Alkalis     []AlkaliInput    `json:"alkalis" most:"2" doc:"one or two alkalis; their masses are worked out"`
	KOHShare    *decimal.Decimal `json:"koh_share,omitempty" is:"share" doc:"for two alkalis: the share of potassium hydroxide"`
	KOHShareBy  string           `json:"koh_share_by,omitempty" of:"equivalents|mass" doc:"what koh_share is a share of: the mol of alkali, or the grams of pure alkali"`
	Superfat    *decimal.Decimal `json:"superfat,omitempty" is:"share below one" doc:"the share of the oils that is to find no alkali"`
	AlkaliGrams *decimal.Decimal `json:"alkali_grams,omitempty" is:"above zero" doc:"mass of all alkali as weighed, g; the superfat follows"`
	Conc        *decimal.Decimal `json:"concentration,omitempty" is:"share above zero" doc:"alkali as weighed over lye"`
	WaterRatio  *decimal.Decimal `json:"water_ratio,omitempty" is:"zero or more" doc:"mass of water over mass of alkali as weighed"`
	WaterGrams  *decimal.Decimal `json:"water_grams,omitempty" is:"zero or more" doc:"mass of water, g"`
	Acids       []AcidInput      `json:"acids,omitempty" most:"20" doc:"additives that take up alkali before the oils do"`
	Scale       *ScaleInput      `json:"scale,omitempty" doc:"the scale for oils, water and, without one of its own, alkali; left out: amounts are not rounded and masses are exact"`
	AlkaliScale *ScaleInput      `json:"alkali_scale,omitempty" doc:"the scale for alkali"`
	Resize      *Resize          `json:"resize,omitempty" doc:"make it another size, everything in proportion"`
	InPot       *InPot           `json:"in_pot,omitempty" doc:"what was really weighed so far, and what would put it right"`
}

// SAPRange is how a saponification value is given.
type SAPRange struct {
	SAPMin    *decimal.Decimal `json:"sap_min,omitempty" is:"saponification value" doc:"lower end of the range of the saponification value, mg KOH per g"`
	SAPMax    *decimal.Decimal `json:"sap_max,omitempty" is:"saponification value" doc:"upper end of that range, mg KOH per g"`
	Published string           `json:"published,omitempty" of:"published" doc:"name of a row in the table of published ranges"`
	SAP       *decimal.Decimal `json:"sap,omitempty" is:"saponification value" doc:"saponification value of a certificate, mg KOH per g"`
	SAPHalf   *decimal.Decimal `json:"sap_half,omitempty" is:"saponification half" doc:"how far the certificate may be off to each side, mg KOH per g"`
}

// LyeOil is an oil of the formula.
type LyeOil struct {
	Name  string           `json:"name" doc:"the maker's name of it, used once"`
	Grams *decimal.Decimal `json:"grams,omitempty" is:"zero or more" doc:"mass, g"`
	Share *decimal.Decimal `json:"share,omitempty" is:"share" doc:"share of oil_grams; all shares sum to exactly 1"`
	SAPRange
	Iodine  *decimal.Decimal `json:"iodine,omitempty" is:"zero or more" doc:"iodine value, g per 100 g, to estimate a density; left out: the middle of the published range, if that is used"`
	Density *decimal.Decimal `json:"density_15c,omitempty" is:"above zero" doc:"density at 15 °C, g/mL; goes before the estimate"`
}

// AlkaliInput is an alkali of the formula.
type AlkaliInput struct {
	Kind       string           `json:"kind" of:"NaOH|KOH" doc:"sodium or potassium hydroxide"`
	Purity     decimal.Decimal  `json:"purity" is:"share above zero" doc:"mass fraction of hydroxide, without carbonate"`
	PurityHalf *decimal.Decimal `json:"purity_half,omitempty" is:"share below one" doc:"the purity lies within this to each side; left out: exact"`
}

// AcidInput is an acid additive.
type AcidInput struct {
	Name           string           `json:"name" doc:"citric acid, citric acid monohydrate, lactic acid and acetic acid are known; another needs its equivalent_mass"`
	Grams          decimal.Decimal  `json:"grams" is:"zero or more" doc:"mass of the pure acid, g: 100 g of vinegar at 5 % hold 5 g"`
	EquivalentMass *decimal.Decimal `json:"equivalent_mass,omitempty" is:"above zero" doc:"g that neutralise one mol of alkali: molar mass over acid groups; left out: that of the known acid"`
}

// ScaleInput is what is known of a scale.
type ScaleInput struct {
	StepGrams  decimal.Decimal  `json:"step_grams" is:"above zero" doc:"the step that it shows, g"`
	LimitGrams *decimal.Decimal `json:"limit_grams,omitempty" is:"zero or more" doc:"how far off it may be, g; left out or 0: one step"`
}

// Resize is another size of the same formula.
type Resize struct {
	OilGrams      *decimal.Decimal `json:"oil_grams,omitempty" is:"above zero" doc:"the mass of all oils that is wanted, g"`
	MouldML       *decimal.Decimal `json:"mould_ml,omitempty" is:"above zero" doc:"the volume of the mould, mL"`
	BatterCelsius *decimal.Decimal `json:"batter_celsius,omitempty" is:"number" doc:"temperature of the batter in the mould, °C; its density is estimated from it"`
	BatterDensity *decimal.Decimal `json:"batter_density,omitempty" is:"above zero" doc:"density of such a batter as measured, g/mL; goes before an estimate"`
}

// InPot is what was weighed so far.
type InPot struct {
	Oils     []PotOil         `json:"oils" most:"200" doc:"oils that are in, by their names in the formula"`
	Alkalis  []PotAlkali      `json:"alkalis,omitempty" most:"2" doc:"alkali that was weighed; its purity is that of the formula"`
	Acids    []AcidInput      `json:"acids,omitempty" most:"20" doc:"acids that are in; those of the formula do not count by themselves"`
	Superfat *decimal.Decimal `json:"superfat,omitempty" is:"share below one" doc:"the superfat that is wanted; left out: that of the formula"`
}

// PotOil is an oil that is in the pot.
type PotOil struct {
	Name  string          `json:"name" doc:"its name in the formula"`
	Grams decimal.Decimal `json:"grams" is:"zero or more" doc:"mass as weighed on scale, g"`
}

// PotAlkali is alkali that was weighed.
type PotAlkali struct {
	Kind  string          `json:"kind" of:"NaOH|KOH" doc:"one of the formula"`
	Grams decimal.Decimal `json:"grams" is:"zero or more" doc:"mass as weighed on alkali_scale, or scale where there is none, g"`
}

// ends returns the range, what is published of the oil, and notes what is wrong.
func (r SAPRange) ends(w *WrongInput, path string) (low, high decimal.Decimal, row soap.PublishedOil) {
	switch {
	case r.Published != "":
		all := soap.Published()
		row = all[slices.IndexFunc(all, func(p soap.PublishedOil) bool { return p.Name == r.Published })]
		return row.SAPMin, row.SAPMax, row
	case r.SAP != nil:
		return r.SAP.Sub(*r.SAPHalf), r.SAP.Add(*r.SAPHalf), row
	}
	if r.SAPMax.LessThan(*r.SAPMin) {
		w.add(path+".sap_max", "%s is below sap_min, %s; give the lower end as sap_min", r.SAPMax, r.SAPMin)
	}
	return *r.SAPMin, *r.SAPMax, row
}

// acid returns the acid, and notes one that is not known.
func (a AcidInput) acid(w *WrongInput, path string) soap.Acid {
	known := map[string]func(decimal.Decimal) soap.Acid{"citric acid": soap.CitricAcid, "citric acid monohydrate": soap.CitricAcidMonohydrate,
		"lactic acid": soap.LacticAcid, "acetic acid": soap.AceticAcid}
	of, found := known[a.Name]
	switch {
	case a.EquivalentMass != nil:
		return soap.Acid{Name: a.Name, Grams: a.Grams, EquivalentMass: *a.EquivalentMass}
	case !found:
		w.add(path+".equivalent_mass", "missing; %s is not one of the known acids: give its molar mass over its acid groups, g/mol", quoted(a.Name))
		return soap.Acid{}
	}
	return of(a.Grams)
}

func (s *ScaleInput) scale() soap.Scale {
	if s == nil {
		return soap.Scale{}
	}
	return soap.Scale{Step: s.StepGrams, Limit: orZero(s.LimitGrams)}
}

func orZero(d *decimal.Decimal) decimal.Decimal {
	if d == nil {
		return decimal.Zero
	}
	return *d
}
