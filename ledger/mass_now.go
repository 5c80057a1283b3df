package ledger

import (
	"context"
	"fmt"
	"time"

	"github.com/shopspring/decimal"

	"ashbook/ledger/made"
)

const asPoured = "as poured"

// massAt is the mass of all of a lot by the last weighing of its bars.
type massAt struct {
	Grams decimal.Decimal
	From  string // which weighing it stands on
	On    string // the day of it; empty: as poured
}

// massNow is the mass of all of a lot now, by the bars that were weighed on the last day on which any was. Bars are cut heavier
// or lighter than the mean, so each is held against its own mass at the cut, and what stays of it is taken of what all weighed then.
// A weighing that cannot be of such bars, heavier than they were poured or lighter than they would be without any water, is no help.
func massNow(ctx context.Context, q querier, lot Lot, c made.Composition) (massAt, error) {
	now := massAt{Grams: lot.PouredGrams, From: asPoured}
	if lot.What != "bars" {
		return now, nil
	}
	readings, err := readBarMasses(ctx, q, lot.ID)
	if err != nil || len(readings) == 0 {
		now.From += "; no bar was weighed yet"
		return now, err
	}
	shop, err := readShop(ctx, q)
	if err != nil {
		return now, err
	}
	cut, err := scalar[time.Time](ctx, q, `select cut_at from batch where id = $1`, *lot.BatchID)
	if err != nil {
		return now, err
	}
	last, day := lastWeighed(readings, shop.Zone())
	grams, from := lot.Grams.Mul(stays(last, atCut(readings, cut))).Round(6), "bars weighed on "+day+", each by its own mass at the cut"
	if grams.IsZero() {
		grams, from = mean(last).Mul(lot.Amount).Round(6), "mean of the bars weighed on "+day+"; none of them was weighed within a day of the cut, so that a bar cut heavier or lighter than the mean moves the water"
	}
	dry := lot.PouredGrams.Mul(decimal.NewFromInt(1).Sub(c.Share(made.AnyWater)))
	if grams.GreaterThan(lot.PouredGrams) || grams.LessThan(dry) {
		now.From = fmt.Sprintf("%s; the bars weighed on %s are not of the mean size, or one weighing of them is wrong", asPoured, day)
		return now, nil
	}
	if grams.Equal(lot.PouredGrams) {
		from = asPoured + "; the bars weighed on " + day + " have lost nothing since"
	}
	return massAt{grams, from, day}, nil
}

// lastWeighed are the bars that were weighed on the last day, by their marks. Readings come oldest first.
func lastWeighed(readings []Reading, zone *time.Location) (last map[string]decimal.Decimal, day string) {
	for _, r := range readings {
		if on := r.HappenedAt.In(zone).Format(dateLayout); on != day {
			last, day = map[string]decimal.Decimal{}, on
		}
		last[r.Sample] = r.Value
	}
	return last, day
}

// atCut are the first masses of the bars that were weighed within a day of the cut, by their marks.
func atCut(readings []Reading, cut time.Time) map[string]decimal.Decimal {
	first := map[string]decimal.Decimal{}
	for _, r := range readings {
		if _, known := first[r.Sample]; !known && r.HappenedAt.Sub(cut).Abs() <= 24*time.Hour {
			first[r.Sample] = r.Value
		}
	}
	return first
}

// stays is the share that is left of bars, the mean over their marks; zero when none of them was weighed at the cut.
func stays(last, first map[string]decimal.Decimal) decimal.Decimal {
	shares := map[string]decimal.Decimal{}
	for mark, grams := range last {
		if was, known := first[mark]; known {
			shares[mark] = grams.DivRound(was, 24)
		}
	}
	return mean(shares)
}

// mean is that of what marked bars have; zero of none.
func mean(of map[string]decimal.Decimal) decimal.Decimal {
	if len(of) == 0 {
		return decimal.Zero
	}
	sum := decimal.Zero
	for _, one := range of {
		sum = sum.Add(one)
	}
	return sum.DivRound(decimal.NewFromInt(int64(len(of))), 24)
}
