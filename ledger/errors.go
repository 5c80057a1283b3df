package ledger

import (
	"errors"
	"fmt"
)

// Fault says what class of thing went wrong; the HTTP status and the exit code follow from it.
type Fault int

// The faults, from "the caller can mend it" to "nobody here can".
const (
	Internal  Fault = iota // ours; the text never leaves the server
	Invalid                // the input is wrong; Field names what
	NotFound               // no such thing
	Conflict               // it was already done, or something changed meanwhile
	Refused                // a gate says no; Findings say why
	Forbidden              // the person's role does not allow it
)

// Error is what every function of this package returns for a fault that the caller can act on.
type Error struct {
	Fault    Fault
	Field    string // the input field, as named in JSON; empty where no single field is to blame
	Message  string // what happened, to what, and what to do next
	Findings []Finding
}

func (e *Error) Error() string {
	if e.Field != "" {
		return e.Field + ": " + e.Message
	}
	return e.Message
}

// FaultOf tells the fault of an error; an error that is not ours is Internal.
func FaultOf(err error) Fault {
	if e, ok := errors.AsType[*Error](err); ok {
		return e.Fault
	}
	return Internal
}

func invalid(field, format string, args ...any) error {
	return &Error{Fault: Invalid, Field: field, Message: fmt.Sprintf(format, args...)}
}

func notFound(field, format string, args ...any) error {
	return &Error{Fault: NotFound, Field: field, Message: fmt.Sprintf(format, args...)}
}

func conflict(format string, args ...any) error {
	return &Error{Fault: Conflict, Message: fmt.Sprintf(format, args...)}
}

func forbidden(format string, args ...any) error {
	return &Error{Fault: Forbidden, Message: fmt.Sprintf(format, args...)}
}
