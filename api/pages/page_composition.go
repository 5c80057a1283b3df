package pages

import (
	"time"

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
	Today   time.Time
}

// Each is the mass that a column of grams is of.
func (c *Composition) Each() string {
	if c.Of.Pieces.IsPositive() {
		return "g in a bar"
	}
	return "g in all"
}

// Later heads the column of the second mass, which is that of now when bars were weighed in the week.
func (c *Composition) Later() string {
	if c.Planned {
		return "Dried"
	}
	if on, err := time.Parse(time.DateOnly, c.Of.On); err == nil && c.Today.Sub(on) > longAgo {
		if on.Year() != c.Today.Year() {
			return "By the weighing of " + on.Format("2 January 2006")
		}
		return "By the weighing of " + on.Format("2 January")
	}
	return "Now"
}

// longAgo is when a mass is no longer told as that of now: bars are weighed every week.
const longAgo = 7 * 24 * time.Hour

// Grams are those of one bar, or of all that is not counted, to the hundredth.
func (c *Composition) Grams(all decimal.Decimal) string {
	if c.Of.Pieces.IsPositive() {
		all = all.Div(c.Of.Pieces)
	}
	return all.StringFixed(2)
}

// Dried tells whether there are two masses to show.
func (c *Composition) Dried() bool { return !c.Of.Now.Grams.Equal(c.Of.Poured.Grams) }
