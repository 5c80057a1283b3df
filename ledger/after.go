package ledger

import (
	"context"

	"github.com/shopspring/decimal"
)

// What a correction changes in things that were made later: how their pour divides, and whether a release still holds.

// after are the lots that a batch gave, all lots that these went into, and the batches that used them: what is locked
// when the batch is put right.
func after(ctx context.Context, q querier, batch int64) ([]int64, error) {
	lots, err := column[int64](ctx, q, `select id from lot where batch_id = $1`, batch)
	if err != nil {
		return nil, err
	}
	return afterLots(ctx, q, lots)
}

func afterLots(ctx context.Context, q querier, lots []int64) ([]int64, error) {
	if len(lots) == 0 {
		return nil, nil
	}
	all, err := column[int64](ctx, q, descendants, lots)
	if err != nil {
		return nil, err
	}
	batches, err := column[int64](ctx, q, `select distinct batch_id from weighing where lot_id = any($1) and struck_by is null order by 1`, all)
	return append(all, batches...), err
}

// pourAnew divides a pour whose mass was corrected over what was cut from it, in the shares of the cut, and carries the
// change on to what that soap went into.
func (tx *Tx) pourAnew(ctx context.Context, batch int64) error {
	type poured struct {
		Lot int64
		Was decimal.Decimal
		Now decimal.Decimal
	}
	lots, err := all[poured](ctx, tx, divideAnew, batch)
	if err != nil {
		return err
	}
	for _, l := range lots {
		// Bars count by the piece; of a bag of trimmings each weighing keeps its part, whatever had dried by then.
		batches, err := column[int64](ctx, tx, `with u as (update weighing w set poured_grams = case when l.unit = 'piece' or $2::numeric = 0
				then round($3::numeric * w.amount / l.amount, 6) else round(w.poured_grams * $3::numeric / $2::numeric, 6) end
			from lot l where l.id = $1 and w.lot_id = $1 and w.struck_by is null returning w.batch_id)
			select distinct batch_id from u order by 1`, l.Lot, l.Was, l.Now)
		if err != nil {
			return err
		}
		for _, b := range batches {
			if err := tx.pourAnew(ctx, b); err != nil {
				return err
			}
		}
	}
	return nil
}

// divideAnew gives each lot of a batch whose part of the pour has changed.
const divideAnew = `with was as (select id, poured_grams from lot where batch_id = $1 and pour_share > 0),
	pot as (` + poured + `),
	now as (update lot set poured_grams = round(pour_share * (select * from pot), 6) where batch_id = $1 and pour_share > 0 returning id, poured_grams)
	select was.id, was.poured_grams, now.poured_grams from was join now using (id) where was.poured_grams <> now.poured_grams order by was.id`

// reopenAll reopens a batch whose composition has changed, and the batches that what it gave went into.
func (tx *Tx) reopenAll(ctx context.Context, batch int64, by *Entry) error {
	lots, err := column[int64](ctx, tx, `select id from lot where batch_id = $1`, batch)
	if err != nil {
		return err
	}
	return tx.reopenLots(ctx, lots, by)
}

// reopenLots reopens the batches that lots came from or went into.
func (tx *Tx) reopenLots(ctx context.Context, lots []int64, by *Entry) error {
	reached, err := afterLots(ctx, tx, lots)
	if err != nil {
		return err
	}
	batches, err := column[int64](ctx, tx, `select distinct batch_id from lot where id = any($1) and batch_id is not null order by 1`, reached)
	if err != nil {
		return err
	}
	return tx.reopen(ctx, batches, by)
}

// reopen takes back the releases of batches that stood on figures which have just changed: the bars go back to the rack until
// somebody decides again.
func (tx *Tx) reopen(ctx context.Context, batches []int64, by *Entry) error {
	for _, b := range batches {
		if err := tx.reopenOne(ctx, b, by); err != nil {
			return err
		}
	}
	return nil
}

func (tx *Tx) reopenOne(ctx context.Context, batch int64, by *Entry) error {
	tag, err := tx.Exec(ctx, `update release set reopened_by = $2 where batch_id = $1 and reopened_by is null`, batch, by.ID)
	if err != nil || tag.RowsAffected() == 0 {
		return err
	}
	if err := tx.setStage(ctx, batch, Curing); err != nil {
		return err
	}
	tx.aside = true
	defer func() { tx.aside = false }()
	return tx.moveBars(ctx, by, batch, ready, onRack)
}

// moveBars takes all bars of a batch from one place to another.
func (tx *Tx) moveBars(ctx context.Context, e *Entry, batch int64, from, to Place) error {
	type row struct {
		Lot    int64
		Amount decimal.Decimal
	}
	rows, err := all[row](ctx, tx, `select b.lot_id, b.amount from lot l join balance b on b.lot_id = l.id and b.place = $2 and b.amount > 0
		where l.batch_id = $1 and l.what = 'bars' order by l.id`, batch, from.Name)
	if err != nil {
		return err
	}
	for _, r := range rows {
		if err := tx.move(ctx, e, r.Lot, r.Amount, from, to); err != nil {
			return err
		}
	}
	return nil
}
