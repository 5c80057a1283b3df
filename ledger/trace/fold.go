package trace

import (
	"slices"

	"github.com/shopspring/decimal"
)

// In is something that went into a batch or a portion of one: grams of a lot, and what was worked out for it.
type In[T any] struct {
	Lot   ID
	Grams decimal.Decimal // above zero; of what is common to the batch, the share of the portion
	Value T
}

// Fold works out a value for lots from what is in them, through premixes, stock lye and reworked soap at any depth.
// bought gives the value of a lot that was bought. mix gives the value of what came out of a batch, or
// of a portion of one, from what went in: at least one In, in the order of the uses; uses that leave are not among
// them. Each bought lot, and each batch or portion, is worked out once, so values are shared and must not be changed.
//
// It fails as Composition does, and with what bought and mix return.
func Fold[T any](f Family, bought func(lot ID) (T, error), mix func(batch ID, portion string, in []In[T]) (T, error), lots ...ID) (map[ID]T, error) {
	d := folder[T]{index: f.index(), bought: bought, mix: mix, raw: map[ID]T{}, done: map[origin]T{}, open: map[origin]bool{}}
	out := make(map[ID]T, len(lots))
	for _, lot := range lots {
		value, err := d.ofLot(lot)
		if err != nil {
			return nil, err
		}
		out[lot] = value
	}
	return out, nil
}

// origin is a batch or a portion of one: the thing that has a value.
type origin struct {
	batch   ID
	portion string
}

// folder works out values, each once.
type folder[T any] struct {
	index
	bought func(ID) (T, error)
	mix    func(ID, string, []In[T]) (T, error)
	raw    map[ID]T // of bought lots
	done   map[origin]T
	open   map[origin]bool // being worked out: meeting one again is a cycle
	path   []ID            // the lots that are being looked into, outermost first
}

var whole = decimal.NewFromInt(1)

func (d *folder[T]) ofLot(lot ID) (none T, err error) {
	from := d.origins[lot]
	switch len(from) {
	case 0:
		return d.ofBought(lot)
	case 1:
	default:
		return none, broken("lot %d has %d origins; a lot comes from one batch or one portion", lot, len(from))
	}
	key := origin{from[0].Batch, from[0].Portion}
	if value, found := d.done[key]; found {
		return value, nil
	}
	d.path = append(d.path, lot)
	if d.open[key] {
		return none, d.cycle(key)
	}
	d.open[key] = true
	value, err := d.ofOrigin(key)
	if err != nil {
		return none, err
	}
	d.open[key] = false
	d.path = d.path[:len(d.path)-1]
	d.done[key] = value
	return value, nil
}

func (d *folder[T]) ofBought(lot ID) (T, error) {
	if value, found := d.raw[lot]; found {
		return value, nil
	}
	value, err := d.bought(lot)
	if err == nil {
		d.raw[lot] = value
	}
	return value, err
}

// cycle names the lots from the first that came out of key to the one before key was met again.
func (d *folder[T]) cycle(key origin) error {
	start := slices.IndexFunc(d.path, func(lot ID) bool {
		o := d.origins[lot][0]
		return origin{o.Batch, o.Portion} == key
	})
	return &CycleError{Lots: slices.Clone(d.path[start:max(start+1, len(d.path)-1)])}
}

// ofOrigin gathers what went into a batch or a portion and has it mixed.
func (d *folder[T]) ofOrigin(key origin) (none T, err error) {
	common, err := d.shareOfCommon(key)
	if err != nil {
		return none, err
	}
	var in []In[T]
	for _, u := range d.uses[key.batch] {
		grams, err := inPortion(u, key, common)
		if err != nil {
			return none, err
		}
		if grams.IsZero() {
			continue
		}
		value, err := d.ofLot(u.Lot)
		if err != nil {
			return none, err
		}
		in = append(in, In[T]{u.Lot, grams, value})
	}
	if len(in) == 0 {
		return none, broken("batch %d%s has no mass; record what went into it", key.batch, inWords(key.portion))
	}
	return d.mix(key.batch, key.portion, in)
}

// inPortion returns the grams of a use that are in the product of a batch or portion.
func inPortion(u Use, key origin, common decimal.Decimal) (decimal.Decimal, error) {
	if u.Grams.IsNegative() {
		return decimal.Zero, broken("%s g of lot %d in batch %d is negative; correct that weighing", u.Grams, u.Lot, u.Batch)
	}
	switch {
	case u.Leaves || !meets(u.Portion, key.portion):
		return decimal.Zero, nil
	case u.Portion == "":
		return u.Grams.Mul(common), nil
	}
	return u.Grams, nil
}

// shareOfCommon returns which share of what is common to the batch is in a portion; 1 for the whole batch.
func (d *folder[T]) shareOfCommon(key origin) (decimal.Decimal, error) {
	if key.portion == "" {
		return whole, nil
	}
	sum, share, named := decimal.Zero, decimal.Zero, 0
	for _, s := range d.splits[key.batch] {
		if s.Share.IsNegative() {
			return decimal.Zero, broken("portion %q of batch %d has a negative share of %s", s.Portion, s.Batch, s.Share)
		}
		sum = sum.Add(s.Share)
		if s.Portion == key.portion {
			share, named = s.Share, named+1
		}
	}
	if named != 1 {
		return decimal.Zero, broken("batch %d has %d shares for portion %q; record one", key.batch, named, key.portion)
	}
	if !sum.Equal(whole) {
		return decimal.Zero, broken("the shares of the portions of batch %d sum to %s; they must sum to 1", key.batch, sum)
	}
	return share, nil
}

func inWords(portion string) string {
	if portion == "" {
		return ""
	}
	return " portion " + portion
}
