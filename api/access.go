package api

import (
	"fmt"

	"ashbook/ledger"
)

// notAllowed says that a role lacks a right.
func notAllowed(a ledger.Actor, right ledger.Right) *problem {
	return newProblem("forbidden", fmt.Sprintf("%s is a %s, and this needs the right to %s; ask an owner", a.Name, a.Role, right))
}
