package pages

import (
	"github.com/shopspring/decimal"

	"ashbook/ledger"
)

// MaterialRow is a material with what is there of it.
type MaterialRow struct {
	ledger.Material
	OnHand decimal.Decimal
	Lots   int
	Held   int
}

// MaterialGroup are the materials of one kind.
type MaterialGroup struct {
	Kind string
	Rows []MaterialRow
}

// Materials lists what can be bought or made.
type Materials struct {
	Base
	Groups []MaterialGroup
}

// Template names the template.
func (*Materials) Template() string { return "materials" }

// Material shows one material and its lots.
type Material struct {
	Base
	Material ledger.Material
	Parts    []Part
	Lots     []LotRow
}

// Density says by which density the material is measured in spoons and cups, and what it is when warm where that follows;
// nothing where it is not known.
func (p *Material) Density() string {
	m := p.Material
	density, known := m.DensityAt(m.DensityAtC)
	if !known {
		return ""
	}
	text := density.String() + " g/mL at " + m.DensityAtC.String() + " °C"
	if warm, known := m.DensityAt(warmCelsius); known && !m.DensityAtC.Equal(warmCelsius) {
		text += ", " + warm.Round(3).String() + " at " + warmCelsius.String() + " °C"
	}
	return text
}

// warmCelsius is about where oils are melted for soap.
var warmCelsius = decimal.NewFromInt(40)

// Part is one ingredient of a prepared material, as planned.
type Part struct {
	Name  string
	Share decimal.Decimal
}

// Template names the template.
func (*Material) Template() string { return "material" }

// Define describes a material, new or anew.
type Define struct {
	Base
	Known  *ledger.Material // nil: a new one
	Kinds  []Option         // to choose from, while there is no form
	Kind   string
	Action string
	Start  []Field // published and usual values to start from
	Form   *Form
}

// Template names the template.
func (*Define) Template() string { return "define" }

// Receive takes a delivery in.
type Receive struct {
	Base
	Form *Form
	// Suppliers tells whether there is anyone to buy from yet.
	Suppliers bool
}

// Template names the template.
func (*Receive) Template() string { return "receive" }

// LotRow is a lot with what can be said of it today.
type LotRow struct {
	ledger.Lot
	State string // in words: usable, on hold, past its date, used up
}

// Stock lists the lots of one sort.
type Stock struct {
	Base
	What  string
	Sorts []Option
	Lots  []LotRow
	Next  int64 // more lots follow after this number
}

// Template names the template.
func (*Stock) Template() string { return "stock" }

// Lot shows one lot: what it is, where all of it is, its papers, and what can be done with it.
type Lot struct {
	Base
	Lot       LotRow
	Material  *ledger.Material
	Supplier  string
	BatchCode string
	Batch     *ledger.Batch
	Holdings  []Holding
	Strength  *ledger.LyeStrength // of stock lye; nil for what is none
	Density   *Form
	Papers    []ledger.Document
	Made      *Composition // nil for what was bought
	Labels    []ledger.Label
	Hold      *Form
	Free      *Form
	Move      *Form
	Right     *Form
	File      *Form
	Label     *Form
	Proof     bool // a label drawn now would be a proof
}

// Holding is an amount of the lot at a place, in words, with the page of that place.
type Holding struct {
	Where  string
	Link   string
	Amount decimal.Decimal
}

// Template names the template.
func (*Lot) Template() string { return "lot" }
