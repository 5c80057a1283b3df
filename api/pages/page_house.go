package pages

import "ashbook/ledger"

// Shop shows and sets who the shop is.
type Shop struct {
	Base
	Form *Form // nil for those who may not
	Set  *ledger.Shop
}

// Template names the template.
func (*Shop) Template() string { return "shop" }

// PersonRow is a person with the forms that change the person.
type PersonRow struct {
	ledger.Person
	Change   *Form
	Password *Form
}

// People lists who works here.
type People struct {
	Base
	People []PersonRow
	Add    *Form
	// Once is a one-time password that was just made; it is shown this once and kept nowhere in clear.
	Once      string
	OnceLogin string
}

// Template names the template.
func (*People) Template() string { return "people" }

// Suppliers lists from whom is bought.
type Suppliers struct {
	Base
	Suppliers []ledger.Supplier
	Add       *Form
}

// Template names the template.
func (*Suppliers) Template() string { return "suppliers" }

// Buyers lists who buys.
type Buyers struct {
	Base
	Buyers []ledger.Buyer
	Add    *Form
}

// Template names the template.
func (*Buyers) Template() string { return "buyers" }
