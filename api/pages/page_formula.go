package pages

import (
	"github.com/shopspring/decimal"

	"ashbook/ledger"
)

// Formulas lists the formulas with their versions.
type Formulas struct {
	Base
	Latest []ledger.FormulaVersion
	Older  map[int64][]ledger.FormulaVersion
}

// Template names the template.
func (*Formulas) Template() string { return "formulas" }

// PlanRow is one thing to weigh, by name.
type PlanRow struct {
	Name      string
	Kind      string
	Portion   string
	Grams     decimal.Decimal
	Tolerance decimal.Decimal
}

// FormulaRow is one line of a formula as it was typed.
type FormulaRow struct {
	Name    string
	Portion string
	Typed   string
	Grams   decimal.Decimal
}

// Formula shows one version with its plan.
type Formula struct {
	Base
	Formula  *ledger.FormulaDefined
	Latest   bool
	Versions []ledger.FormulaVersion
	Lines    []FormulaRow
	Plan     []PlanRow
	Total    decimal.Decimal
	Alkali   string
	Second   string // the other alkali of a mixture
	Water    string
	StockLye string
	Made     *Composition
}

// Template names the template.
func (*Formula) Template() string { return "formula" }

// FormulaEdit defines a formula, or the next version of one.
type FormulaEdit struct {
	Base
	Known *ledger.FormulaDefined // nil: a new one
	Form  *Form
}

// Template names the template.
func (*FormulaEdit) Template() string { return "formula_edit" }
