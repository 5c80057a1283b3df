package ledger

import (
	"github.com/shopspring/decimal"
)

// What a batch of stock lye lost in making is taken for steam, which is water that left it: the lye in the jug is stronger
// than what was weighed in, and erring towards too much lye is the safe side. What was weighed stays as it was weighed;
// its water is lowered where it is asked what the lye is made of.

// filling is what came out of a batch of stock lye, waste and all.
type filling struct {
	Batch int64
	Grams decimal.Decimal
}

// fillings are those of batches that were filled. Its waste is known to the entry alone.
const fillings = `select l.batch_id, sum(l.grams) + max(coalesce((e.body::jsonb #>> '{waste,grams}')::numeric, 0))
	from unnest($1::bigint[]) asked (id)
	cross join lateral (select id from batch where id = asked.id and purpose = '` + ForStockLye + `' offset 0) b
	cross join lateral (select batch_id, grams, entry_id from lot where batch_id = b.id and struck_by is null offset 0) l
	cross join lateral (select body from entry where id = l.entry_id offset 0) e
	group by l.batch_id order by l.batch_id`

// lower takes what went as steam out of masses of water, in their proportion and to the last digit. No more can leave than
// there is, and when more came out than went in, nothing left.
func lower(water []*decimal.Decimal, steam decimal.Decimal) {
	left := decimal.Zero
	for _, grams := range water {
		left = left.Add(*grams)
	}
	steam = decimal.Max(decimal.Zero, decimal.Min(steam, left))
	for _, grams := range water {
		if left.IsZero() {
			return
		}
		part := steam.Mul(*grams).DivRound(left, 12) // of the last all that is left
		left, steam = left.Sub(*grams), steam.Sub(part)
		*grams = grams.Sub(part)
	}
}

// steamOff lowers the water of stock lye that was filled.
func (f *family) steamOff(list []filling) {
	for _, filled := range list {
		steam, water := filled.Grams.Neg(), []*decimal.Decimal{}
		for i := range f.Uses {
			use := &f.Uses[i]
			if use.Batch != filled.Batch || use.Leaves {
				continue
			}
			steam = steam.Add(use.Grams)
			if f.materials[f.material(use.Lot)].Kind == "water" {
				water = append(water, &use.Grams)
			}
		}
		lower(water, steam)
	}
}

// inPot is what went into a batch and is still in it, as poured.
func (f *family) inPot(batch int64) decimal.Decimal {
	sum := decimal.Zero
	for _, use := range f.Uses {
		if use.Batch == batch && !use.Leaves {
			sum = sum.Add(use.Grams)
		}
	}
	return sum
}
