package compute

import "github.com/shopspring/decimal"

// CompositionInput is what compute composition reads: a family tree of lots.
type CompositionInput struct {
	Lots    []LotInput   `json:"lots" most:"1000" doc:"the lots that were bought, and what each is"`
	Batches []BatchInput `json:"batches" most:"1000" doc:"what was made of what: soap, premixes, stock lye; no more than 5000 uses in all"`
	Of      []LotAsked   `json:"of" most:"20" doc:"the lots that are asked about"`
}

// mostUses is how many uses all batches may have.
const mostUses = 5000

// LotInput is a lot that was bought.
type LotInput struct {
	Lot    string       `json:"lot" doc:"its code, used once"`
	Name   string       `json:"name,omitempty" doc:"what it is called in the answer; left out: its code"`
	Oil    *OilFacts    `json:"oil,omitempty" doc:"an oil, fat, wax or fatty acid"`
	Alkali *AlkaliFacts `json:"alkali,omitempty" doc:"sodium or potassium hydroxide"`
	Water  *WaterFacts  `json:"water,omitempty" doc:"water: an empty object"`
	Acid   *AcidFacts   `json:"acid,omitempty" doc:"an additive that takes up alkali"`
	Other  *OtherFacts  `json:"other,omitempty" doc:"what neither takes alkali nor gives it: scent, colour, salt, milk"`
}

// OilFacts are what is known of an oil.
type OilFacts struct {
	SAPRange
	NoGlycerol bool `json:"no_glycerol,omitempty" doc:"a wax or wool fat, whose alcohol is not glycerol; known of published ones"`
	FreeAcid   bool `json:"free_acid,omitempty" doc:"a fatty acid, as stearic acid: makes water and no glycerol; known of published ones"`
}

// AlkaliFacts are what is known of an alkali.
type AlkaliFacts struct {
	Kind   string          `json:"kind" of:"NaOH|KOH" doc:"sodium or potassium hydroxide"`
	Purity decimal.Decimal `json:"purity" is:"share above zero" doc:"mass fraction of hydroxide"`
}

// WaterFacts is empty: water is water.
type WaterFacts struct{}

// AcidFacts are what is known of an acid.
type AcidFacts struct {
	Name           string           `json:"name" doc:"citric acid, citric acid monohydrate, lactic acid and acetic acid are known; another needs its equivalent_mass"`
	EquivalentMass *decimal.Decimal `json:"equivalent_mass,omitempty" is:"above zero" doc:"g of the pure acid that take one mol of alkali"`
	Purity         decimal.Decimal  `json:"purity" is:"share above zero" doc:"mass fraction of the acid; the rest is water: vinegar at 5 % is 0.05"`
}

// OtherFacts are what is known of anything else.
type OtherFacts struct {
	WaterShare decimal.Decimal `json:"water_share" is:"share" doc:"mass fraction of water that can dry out: 0.87 of milk, 0 of salt"`
}

// BatchInput is any making.
type BatchInput struct {
	Batch    string         `json:"batch" doc:"its name"`
	Soap     bool           `json:"soap" doc:"true: its oils and alkali react; false: it only mixes, as a premix or a stock lye"`
	Uses     []UseInput     `json:"uses" most:"5000" doc:"what went in"`
	Portions []PortionInput `json:"portions,omitempty" most:"100" doc:"portions that share what is common to the batch"`
	Makes    []MakesInput   `json:"makes" most:"100" doc:"the lots that came out"`
}

// UseInput is what went into a batch.
type UseInput struct {
	Lot     string          `json:"lot" doc:"a lot that was bought or made"`
	Grams   decimal.Decimal `json:"grams" is:"zero or more" doc:"mass, g; of reworked soap, the mass as it was poured"`
	Portion string          `json:"portion,omitempty" doc:"the portion that it went into; left out: into what is common to all"`
	Leaves  bool            `json:"leaves,omitempty" doc:"it evaporates and is not part of the product"`
}

// PortionInput is a portion of a batch.
type PortionInput struct {
	Portion string          `json:"portion" doc:"its name, used once in the batch"`
	Share   decimal.Decimal `json:"share" is:"share" doc:"share of what is common to the batch; all sum to exactly 1"`
}

// MakesInput is a lot that came out of a batch.
type MakesInput struct {
	Lot     string `json:"lot" doc:"its code, used once"`
	Portion string `json:"portion,omitempty" doc:"the portion that it is from; left out: from the whole"`
}

// LotAsked is a lot that is asked about, and how dry it is.
type LotAsked struct {
	Lot         string           `json:"lot" doc:"a lot that was bought or made"`
	GramsPoured *decimal.Decimal `json:"grams_poured,omitempty" is:"above zero" doc:"mass of a bar as poured, g"`
	GramsNow    *decimal.Decimal `json:"grams_now,omitempty" is:"above zero" doc:"mass of the same bar now, g"`
	WaterShare  *decimal.Decimal `json:"water_share,omitempty" is:"share" doc:"mass fraction of water that it has dried to"`
}

// CompositionOutput is what compute composition answers.
type CompositionOutput struct {
	About
	Lots []LotOut `json:"lots" doc:"the lots that were asked about"`
}

// LotOut is what a lot is made of.
type LotOut struct {
	Lot      string      `json:"lot" doc:"its code"`
	AsAdded  []AddedPart `json:"as_added" doc:"by what was weighed in, the largest first"`
	AsPoured MadeOut     `json:"as_poured" doc:"once oils and alkali have met, before anything dries"`
	AsDried  *MadeOut    `json:"as_dried,omitempty" doc:"the same at the mass or water that was asked for"`
}

// AddedPart is a bought lot within another lot.
type AddedPart struct {
	Lot   string          `json:"lot" doc:"its code"`
	Name  string          `json:"name" doc:"its name"`
	Share decimal.Decimal `json:"share" doc:"mass fraction; all sum to exactly 1"`
}

// MadeOut is a composition after the reaction.
type MadeOut struct {
	MassLeft    decimal.Decimal `json:"mass_left" doc:"g left of each g as poured"`
	Water       decimal.Decimal `json:"water" doc:"mass fraction of water"`
	Glycerol    decimal.Decimal `json:"glycerol" doc:"mass fraction of glycerol"`
	FattyMatter decimal.Decimal `json:"total_fatty_matter" doc:"mass fraction"`
	FreeAlkali  decimal.Decimal `json:"free_alkali_as_naoh" doc:"mass fraction of free caustic alkali, as NaOH"`
	Parts       []MadePart      `json:"parts" doc:"the largest first"`
}

// MadePart is a part of a composition.
type MadePart struct {
	What        string          `json:"what" doc:"soap, glycerol, unreacted oil, fatty acid, water, free alkali, acid salt, unreacted acid, rest of alkali, or as added"`
	Words       string          `json:"words" doc:"the part in words"`
	Alkali      string          `json:"alkali,omitempty" doc:"of soap, acid salts and free alkali: NaOH or KOH"`
	Of          string          `json:"of,omitempty" doc:"code of the bought lot that it came from; left out: water that formed"`
	Share       decimal.Decimal `json:"share" doc:"mass fraction; all sum to exactly 1"`
	FattyMatter decimal.Decimal `json:"total_fatty_matter" doc:"total fatty matter in it, as a fraction of the whole"`
}
