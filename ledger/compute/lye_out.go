package compute

import (
	"ashbook/ledger/soap"

	"github.com/shopspring/decimal"
)

// LyeOutput is what compute lye answers.
type LyeOutput struct {
	About
	Exact              Pot              `json:"exact" doc:"the amounts as computed"`
	Weigh              Pot              `json:"weigh" doc:"the amounts in steps of the scale"`
	Superfat           Span             `json:"superfat" doc:"the superfat of what is to be weighed"`
	Budget             Budget           `json:"budget" doc:"how well that superfat is known, and why"`
	SuperfatShift      decimal.Decimal  `json:"superfat_shift" doc:"what the steps of the scale did to the superfat, fraction"`
	ConcentrationShift decimal.Decimal  `json:"concentration_shift" doc:"what the steps of the scale did to the concentration, fraction"`
	BatterML           *decimal.Decimal `json:"batter_ml,omitempty" doc:"volume of the fresh batter, mL, where it was made to fill a mould; scents, colours and other additives are not in it"`
	InPot              *PotOut          `json:"in_pot,omitempty" doc:"the pot as it is, and what would put it right"`
}

// Pot is amounts that go together.
type Pot struct {
	Oils          []OilOut        `json:"oils" doc:"the oils"`
	Alkalis       []AlkaliOut     `json:"alkalis" doc:"the alkalis"`
	WaterGrams    decimal.Decimal `json:"water_grams" doc:"mass of water, g"`
	Superfat      decimal.Decimal `json:"superfat" doc:"superfat at the middle of all ranges, fraction; below zero: free lye"`
	Concentration decimal.Decimal `json:"concentration" doc:"alkali as weighed over lye, fraction"`
}

// OilOut is an amount of an oil.
type OilOut struct {
	Name   string          `json:"name" doc:"the oil"`
	Grams  decimal.Decimal `json:"grams" doc:"mass, g"`
	GramsU decimal.Decimal `json:"grams_u" doc:"standard uncertainty of the mass, g; 0: taken as exact"`
	SAP    decimal.Decimal `json:"sap" doc:"saponification value that is computed with, mg KOH per g"`
	SAPMin decimal.Decimal `json:"sap_min" doc:"lower end of its range, mg KOH per g"`
	SAPMax decimal.Decimal `json:"sap_max" doc:"upper end of its range, mg KOH per g"`
}

// AlkaliOut is an amount of an alkali.
type AlkaliOut struct {
	Kind       string          `json:"kind" doc:"NaOH or KOH"`
	Grams      decimal.Decimal `json:"grams" doc:"mass as weighed, g"`
	GramsU     decimal.Decimal `json:"grams_u" doc:"standard uncertainty of the mass, g; 0: taken as exact"`
	Purity     decimal.Decimal `json:"purity" doc:"mass fraction of hydroxide"`
	PurityHalf decimal.Decimal `json:"purity_half" doc:"the purity lies within this to each side"`
}

// Span is a superfat with its hard bounds.
type Span struct {
	Value decimal.Decimal `json:"value" doc:"at the middle of every range, fraction"`
	Low   decimal.Decimal `json:"low" doc:"with every saponification value at its lower end, fraction"`
	High  decimal.Decimal `json:"high" doc:"with every saponification value at its upper end, fraction"`
}

// Budget is how well a superfat is known.
type Budget struct {
	U        decimal.Decimal `json:"u" doc:"standard uncertainty of the superfat, fraction"`
	Low      decimal.Decimal `json:"low_95" doc:"lower end of the 95 % interval, fraction"`
	High     decimal.Decimal `json:"high_95" doc:"upper end of the 95 % interval, fraction"`
	LyeHeavy decimal.Decimal `json:"lye_heavy_chance" doc:"chance that the superfat is below zero, 0 to 1"`
	Words    string          `json:"words" doc:"what counts most, and what would narrow it"`
	Inputs   []BudgetInput   `json:"inputs" doc:"what makes the spread, the largest first"`
}

// BudgetInput is the part of one quantity.
type BudgetInput struct {
	Name     string          `json:"name" doc:"of the oil or alkali"`
	Quantity string          `json:"quantity" doc:"saponification value, purity or mass"`
	U        decimal.Decimal `json:"u" doc:"its part of the standard uncertainty, fraction"`
	Share    decimal.Decimal `json:"share" doc:"its share of the variance, 0 to 1"`
}

// PotOut is a pot as it is.
type PotOut struct {
	WantedSuperfat decimal.Decimal `json:"wanted_superfat" doc:"the superfat that is wanted, fraction"`
	Superfat       Span            `json:"superfat" doc:"the superfat of what is in"`
	Budget         Budget          `json:"budget" doc:"how well that superfat is known, masses taken as exact"`
	Alkalis        []AlkaliMend    `json:"alkalis" doc:"what of one alkali alone puts it right"`
	Oils           []OilMend       `json:"oils" doc:"what of one oil alone puts it right; until it is mixed evenly the pot may hold free lye, and the bars have to pass their test like any other"`
}

// AlkaliMend is what of one alkali is right.
type AlkaliMend struct {
	Kind         string          `json:"kind" doc:"NaOH or KOH"`
	InAllGrams   decimal.Decimal `json:"in_all_grams" doc:"of this one, had none been weighed yet, g"`
	MoreGrams    decimal.Decimal `json:"more_grams" doc:"still to weigh, g"`
	TooMuchGrams decimal.Decimal `json:"too_much_grams" doc:"weighed beyond what is right, g of this one"`
}

// OilMend is what of one oil is right.
type OilMend struct {
	Name          string          `json:"name" doc:"the oil"`
	AddGrams      decimal.Decimal `json:"add_grams" doc:"to add, g"`
	InExcessGrams decimal.Decimal `json:"in_excess_grams" doc:"in beyond what is wanted, g of this one"`
}

func potOut(p soap.Pot) Pot {
	out := Pot{WaterGrams: exact(p.Water), Superfat: exact(p.Superfat), Concentration: exact(p.Concentration)}
	for _, o := range p.Oils {
		out.Oils = append(out.Oils, OilOut{o.Name, exact(o.Grams), exact(o.GramsU), o.SAP(), o.SAPMin, o.SAPMax})
	}
	for _, a := range p.Alkalis {
		out.Alkalis = append(out.Alkalis, AlkaliOut{a.Kind, exact(a.Grams), exact(a.GramsU), a.Purity, a.PurityHalf})
	}
	return out
}

func spanOut(r soap.Result) Span { return Span{exact(r.Superfat), exact(r.Low), exact(r.High)} }

func budgetOut(b soap.Budget) Budget {
	out := Budget{U: statistic(b.U), Low: statistic(b.Low), High: statistic(b.High), LyeHeavy: statistic(b.LyeHeavy), Words: b.Words(), Inputs: []BudgetInput{}}
	for _, i := range b.Inputs {
		out.Inputs = append(out.Inputs, BudgetInput{i.Name, i.Quantity, statistic(i.U), statistic(i.Share)})
	}
	return out
}
