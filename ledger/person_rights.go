package ledger

import "slices"

// Role is what a person is in the shop.
type Role string

// The roles. A shop of one has one owner who may do everything.
const (
	Owner    Role = "owner"    // everything, people and settings included
	Maker    Role = "maker"    // records batches and stock
	Reviewer Role = "reviewer" // releases batches and passes gates against their word
	Seller   Role = "seller"   // sends, takes back, answers
	Visitor  Role = "visitor"  // reads only
)

// Roles lists every role, for forms and checks.
var Roles = []Role{Owner, Maker, Reviewer, Seller, Visitor}

// Right is a thing that a role may do.
type Right string

// The rights that entries ask for.
const (
	MayRead     Right = "read"
	MayMake     Right = "make"     // batches, weighings, lots, formulas
	MayRelease  Right = "release"  // release or reject a batch, decide a deviation
	MayOverride Right = "override" // pass a gate against its word
	MaySell     Right = "sell"     // dispatch, returns, buyers
	MayManage   Right = "manage"   // people and the shop's settings
)

var rights = map[Role][]Right{
	Owner:    {MayRead, MayMake, MayRelease, MayOverride, MaySell, MayManage},
	Maker:    {MayRead, MayMake, MaySell},
	Reviewer: {MayRead, MayMake, MayRelease, MayOverride, MaySell},
	Seller:   {MayRead, MaySell},
	Visitor:  {MayRead},
}

// Actor is the person on whose word something is recorded.
type Actor struct {
	ID    int64
	Login string
	Name  string
	Role  Role
}

// System records what no person did: the first owner at first start.
var System = Actor{ID: 0, Name: "ashbook itself", Role: Owner}

// May tells whether the actor's role has a right.
func (a Actor) May(r Right) bool { return slices.Contains(rights[a.Role], r) }
