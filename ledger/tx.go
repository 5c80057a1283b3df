package ledger

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/shopspring/decimal"
)

// Tx is one transaction on the ledger. It has one "now", and numbers the postings of the entry that it records: what the
// entry itself moves from 1 up, what it takes back of another entry from -1 down. Correcting it later reverses the
// first and leaves the second: what it took back was wrong and stays taken back.
type Tx struct {
	pgx.Tx
	now  time.Time
	zone *time.Location
	line int16
	back int16
	// corrects: the entry puts an older one right.
	corrects bool
	// aside is set while bars are moved because of the entry and not by it: that too stays when the entry is corrected.
	aside bool
	owed  map[spot]decimal.Decimal // what a reversal takes away, until settle
}

// spot is a lot at a place.
type spot struct {
	lot   int64
	place Place
}

const attempts = 6

// inTx runs fn in one READ COMMITTED transaction. The locks that Record takes make conflicting writers wait for each
// other, so the weaker level is enough; a deadlock or serialization failure is tried again from the start.
func (l *Ledger) inTx(ctx context.Context, fn func(*Tx) error) error {
	for try := 1; ; try++ {
		err := l.tryTx(ctx, fn)
		if err == nil || !passing(err) || try == attempts {
			return err
		}
		select {
		case <-time.After(time.Duration(try*try) * 5 * time.Millisecond):
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

func (l *Ledger) tryTx(ctx context.Context, fn func(*Tx) error) (err error) {
	tx, err := l.pool.BeginTx(ctx, pgx.TxOptions{IsoLevel: pgx.ReadCommitted})
	if err != nil {
		return fmt.Errorf("begin: %w", err)
	}
	done := false
	defer func() { // on an error or a panic: roll back even when the caller's context has ended
		if done {
			return
		}
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
		defer cancel()
		if e := tx.Rollback(ctx); e != nil && !errors.Is(e, pgx.ErrTxClosed) && err == nil {
			err = e
		}
	}()
	if err := fn(&Tx{Tx: tx, zone: time.UTC}); err != nil {
		return err
	}
	done = true
	return tx.Commit(ctx)
}

func passing(err error) bool {
	if pg, ok := errors.AsType[*pgconn.PgError](err); ok {
		return pg.Code == "40001" || pg.Code == "40P01"
	}
	return false
}

func constraintOf(err error) string {
	if pg, ok := errors.AsType[*pgconn.PgError](err); ok {
		return pg.ConstraintName
	}
	return ""
}

// lock makes this transaction the only one to write about the given subjects until it ends. Locks are taken in one
// order, so that two writers never wait for each other in a circle.
func (tx *Tx) lock(ctx context.Context, subjects []int64) error {
	subjects = slices.Compact(slices.Sorted(slices.Values(subjects)))
	batch := &pgx.Batch{}
	for _, s := range subjects {
		if s == 0 { // a body that names one of two things leaves the other at zero
			continue
		}
		batch.Queue(`select pg_advisory_xact_lock($1)`, s)
	}
	if batch.Len() == 0 {
		return nil
	}
	return tx.SendBatch(ctx, batch).Close()
}

// newID gives a number to a thing that an entry is about to name.
func (tx *Tx) newID(ctx context.Context) (int64, error) {
	return scalar[int64](ctx, tx, `select nextval('subject_seq')`)
}

func scalar[T any](ctx context.Context, q querier, sql string, args ...any) (T, error) {
	var v T
	err := q.QueryRow(ctx, sql, args...).Scan(&v)
	return v, err
}

// exists tells whether a query gives a row.
func exists(ctx context.Context, q querier, sql string, args ...any) (bool, error) {
	return scalar[bool](ctx, q, `select exists (`+sql+`)`, args...)
}

// day is the calendar day of a moment in the shop's own time zone.
func (tx *Tx) day(t time.Time) time.Time {
	y, m, d := t.In(tx.zone).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// move takes an amount of a lot from one place to another: two postings that sum to zero, and the balances with them.
func (tx *Tx) move(ctx context.Context, e *Entry, lot int64, amount decimal.Decimal, from, to Place) error {
	if amount.IsZero() {
		return nil
	}
	var w writing
	for _, s := range []struct {
		place  Place
		amount decimal.Decimal
	}{{from, amount.Neg()}, {to, amount}} {
		w.post(e, tx.nextLine(tx.aside), lot, s.place, s.amount)
		w.change(tx, lot, s.place, s.amount)
	}
	return w.send(ctx, tx)
}

// nextLine numbers a posting: aside ones from -1 down, the entry's own from 1 up.
func (tx *Tx) nextLine(aside bool) int16 {
	if aside {
		tx.back--
		return tx.back
	}
	tx.line++
	return tx.line
}

// writing gathers postings and changes of balances, so that they go to the database together.
type writing struct {
	batch  pgx.Batch
	shorts []*shortError // for each statement: what it says when it takes more than there is; nil for a posting
}

func (w *writing) post(e *Entry, line int16, lot int64, p Place, amount decimal.Decimal) {
	w.batch.Queue(`insert into posting (entry_id, line, lot_id, place, place_id, amount) values ($1,$2,$3,$4,$5,$6)`, e.ID, line, lot, p.Name, p.ID, amount)
	w.shorts = append(w.shorts, nil)
}

// change adds to a balance, together with what a reversal owes there.
func (w *writing) change(tx *Tx, lot int64, p Place, amount decimal.Decimal) {
	amount = amount.Add(tx.owed[spot{lot, p}])
	delete(tx.owed, spot{lot, p})
	if amount.IsZero() {
		return
	}
	// The row is changed first and made only where it is missing: an upsert would hold the CHECK against the amount
	// that is to be added, not against the sum.
	w.batch.Queue(`with changed as (update balance set amount = amount + $4 where lot_id = $1 and place = $2 and place_id = $3 returning 1)
		insert into balance (lot_id, place, place_id, amount) select $1, $2, $3, $4 where not exists (select from changed)`, lot, p.Name, p.ID, amount)
	w.shorts = append(w.shorts, &shortError{lot: lot, place: p, wanted: amount.Neg()})
}

func (w *writing) send(ctx context.Context, tx *Tx) error {
	results := tx.SendBatch(ctx, &w.batch)
	for _, short := range w.shorts {
		_, err := results.Exec()
		if err == nil {
			continue
		}
		_ = results.Close() // it would say the same again
		if constraintOf(err) == "balance_not_below_zero" {
			return short
		}
		return fmt.Errorf("post: %w", err)
	}
	return results.Close()
}

// shortError says that a place holds less of a lot than was to be taken. Record turns it into words.
type shortError struct {
	lot    int64
	place  Place
	wanted decimal.Decimal
}

func (e *shortError) Error() string {
	return fmt.Sprintf("lot %d at %s holds less than %s", e.lot, e.place, e.wanted)
}

// reverse undoes the movements of an earlier entry with postings of this one. What comes back is there at once; what
// goes away is owed until settle, so that a receipt of which something was used can be corrected: in between, its shelf
// would be below zero.
func (tx *Tx) reverse(ctx context.Context, old, by *Entry, body Body) error {
	type row struct {
		Lot     int64
		Place   string
		PlaceID int64
		Amount  decimal.Decimal
	}
	rows, err := all[row](ctx, tx, `select lot_id, place, place_id, amount from posting where entry_id = $1 and line > 0 order by line`, old.ID)
	if err != nil {
		return err
	}
	_, release := body.(*ReleaseDecided)
	for _, r := range rows {
		p, amount := Place{r.Place, r.PlaceID}, r.Amount.Neg()
		// Bars that lay on the rack then may be ready by now, or the other way round: they come back to where the bars
		// of their batch lie today. A release is what moves them between the two, and is undone as it was.
		if !release && (p == onRack || p == ready) {
			if p, err = tx.whereUsed(ctx, r.Lot); err != nil {
				return err
			}
		}
		if err := tx.takeBack(ctx, by, r.Lot, p, amount); err != nil {
			return err
		}
	}
	return nil
}

func (tx *Tx) takeBack(ctx context.Context, by *Entry, lot int64, p Place, amount decimal.Decimal) error {
	var w writing
	w.post(by, tx.nextLine(true), lot, p, amount)
	if amount.IsPositive() {
		w.change(tx, lot, p, amount)
		return w.send(ctx, tx)
	}
	if tx.owed == nil {
		tx.owed = map[spot]decimal.Decimal{}
	}
	tx.owed[spot{lot, p}] = tx.owed[spot{lot, p}].Add(amount)
	return w.send(ctx, tx)
}

// settle takes away what reversals still owe. It fails where that is not there any more.
func (tx *Tx) settle(ctx context.Context) error {
	if len(tx.owed) == 0 {
		return nil
	}
	var w writing
	for _, s := range slices.SortedFunc(maps.Keys(tx.owed), spot.compare) {
		w.change(tx, s.lot, s.place, decimal.Zero)
	}
	return w.send(ctx, tx)
}

func (s spot) compare(o spot) int {
	return cmp.Or(cmp.Compare(s.lot, o.lot), cmp.Compare(s.place.Name, o.place.Name), cmp.Compare(s.place.ID, o.place.ID))
}
