package pages

import (
	"github.com/shopspring/decimal"

	"ashbook/ledger"
)

// Composition shows what a lot, or the pot of a batch, is made of.
type Composition struct {
	Title   string
	Link    string         // the page of the lot; empty: this one
	Fault   string         // why it cannot be worked out
	Of      *ledger.MadeOf // nil then
	Planned bool           // of a plan, whose second mass is foreseen and not weighed
}

// Each is the mass that a column of grams is of.
func (c *Composition) Each() string {
	if c.Of.Pieces.IsPositive() {
		return "g in a bar"
	}
	return "g in all"
}

// Later heads the column of the second mass.
func (c *Composition) Later() string {
	if c.Planned {
		return "Dried"
	}
	return "Now"
}

// Grams are those of one bar, or of all that is not counted, to the hundredth.
func (c *Composition) Grams(all decimal.Decimal) string {
	if c.Of.Pieces.IsPositive() {
		all = all.Div(c.Of.Pieces)
	}
	return all.StringFixed(2)
}

// Dried tells whether there are two masses to show.
func (c *Composition) Dried() bool { return !c.Of.Now.Grams.Equal(c.Of.Poured.Grams) }
