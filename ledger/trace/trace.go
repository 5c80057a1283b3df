// Package trace computes over the family tree of lots: what a lot is made of, which lots are behind
// it and which came from it, and whether what was made is accounted for.
//
// The tree is plain data: a batch uses lots (Use), a lot comes from a batch or from one portion of
// it (Origin), and portions share what is common to their batch (Split). A batch here is any making,
// so a premix, a stock lye, a merged jug and a bag of scrap are lots with a batch behind them. A lot
// without an Origin was bought.
//
// A portion of a batch holds its share of all that went into the batch as a whole, and all that
// went into that portion. What went into another portion is not in it.
package trace

import (
	"errors"
	"fmt"
	"strings"

	"github.com/shopspring/decimal"
)

// ID identifies a lot or a batch. The two are numbered independently. 0 is no lot and no batch.
type ID = int64

// Use says that grams of a lot went into a batch: into a portion of it or, with an empty Portion,
// into what is common to all portions.
type Use struct {
	Batch, Lot ID
	Portion    string
	Grams      decimal.Decimal // zero or more; for reworked soap on the as-poured basis, since dried soap holds more per gram
	Leaves     bool            // evaporates and is not part of the product, as spirit sprayed on a surface
}

// Origin says that a lot was made by a batch, from all of it or, with a Portion, from that portion.
// A lot has at most one.
type Origin struct {
	Lot, Batch ID
	Portion    string
}

// Split is the share of what is common to a batch that went to a portion, from 0 to 1. The shares of
// a batch sum to 1.
type Split struct {
	Batch   ID
	Portion string
	Share   decimal.Decimal
}

// Family is a set of edges in any order. It needs to hold all that is behind, or all that is ahead of,
// the lots asked about; more does no harm.
type Family struct {
	Uses    []Use
	Origins []Origin
	Splits  []Split
}

// ErrFamily is wrapped by every error about edges that contradict one another.
var ErrFamily = errors.New("the family tree does not add up")

func broken(format string, args ...any) error {
	return fmt.Errorf("%w: "+format, append([]any{ErrFamily}, args...)...)
}

// CycleError says that a lot is among its own ancestors. It wraps ErrFamily.
type CycleError struct {
	Lots []ID // each made with the next, the last with the first
}

// Error names the lots.
func (e *CycleError) Error() string {
	names := make([]string, len(e.Lots))
	for i, lot := range e.Lots {
		names[i] = fmt.Sprint(lot)
	}
	return fmt.Sprintf("%v: lot %s would be made from itself (lots %s); correct the weighing that names the wrong lot", ErrFamily, names[0], strings.Join(names, ", "))
}

// Unwrap returns ErrFamily.
func (e *CycleError) Unwrap() error { return ErrFamily }

// index is a Family arranged for look-ups. Each list keeps the order of the Family.
type index struct {
	origins map[ID][]Origin // by lot
	made    map[ID][]Origin // by batch
	uses    map[ID][]Use    // by batch
	usedIn  map[ID][]Use    // by lot
	splits  map[ID][]Split  // by batch
}

func (f Family) index() index {
	return index{
		origins: group(f.Origins, func(o Origin) ID { return o.Lot }),
		made:    group(f.Origins, func(o Origin) ID { return o.Batch }),
		uses:    group(f.Uses, func(u Use) ID { return u.Batch }),
		usedIn:  group(f.Uses, func(u Use) ID { return u.Lot }),
		splits:  group(f.Splits, func(s Split) ID { return s.Batch }),
	}
}

func group[T any](list []T, key func(T) ID) map[ID][]T {
	out := map[ID][]T{}
	for _, item := range list {
		out[key(item)] = append(out[key(item)], item)
	}
	return out
}

// meets reports whether what went into one portion is in what came from another; "" is the whole batch.
func meets(into, from string) bool { return into == "" || from == "" || into == from }
