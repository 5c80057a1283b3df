package ledger

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/shopspring/decimal"
)

// Tx is one transaction on the ledger. It has one "now", and numbers the postings of the entry that it records.
type Tx struct {
	pgx.Tx
	now  time.Time
	zone *time.Location
	line int16
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
	if err := tx.post(ctx, e, lot, from, amount.Neg()); err != nil {
		return err
	}
	return tx.post(ctx, e, lot, to, amount)
}

func (tx *Tx) post(ctx context.Context, e *Entry, lot int64, p Place, amount decimal.Decimal) error {
	tx.line++
	_, err := tx.Exec(ctx, `insert into posting (entry_id, line, lot_id, place, place_id, amount) values ($1,$2,$3,$4,$5,$6)`,
		e.ID, tx.line, lot, p.Name, p.ID, amount)
	if err != nil {
		return fmt.Errorf("post: %w", err)
	}
	// The row is changed first and made only where it is missing: an upsert would hold the CHECK against the amount
	// that is to be added, not against the sum.
	tag, err := tx.Exec(ctx, `update balance set amount = amount + $4 where lot_id = $1 and place = $2 and place_id = $3`,
		lot, p.Name, p.ID, amount)
	if err == nil && tag.RowsAffected() == 0 {
		_, err = tx.Exec(ctx, `insert into balance (lot_id, place, place_id, amount) values ($1,$2,$3,$4)`, lot, p.Name, p.ID, amount)
	}
	if constraintOf(err) == "balance_not_below_zero" {
		return &shortError{lot: lot, place: p, wanted: amount.Neg()}
	}
	return err
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

// reverse undoes the movements of an earlier entry with postings of this one.
func (tx *Tx) reverse(ctx context.Context, old, by *Entry) error {
	type row struct {
		Lot     int64
		Place   string
		PlaceID int64
		Amount  decimal.Decimal
	}
	// Amounts that come back are posted before amounts that go, so that a place is not below zero in between.
	rows, err := all[row](ctx, tx, `select lot_id, place, place_id, amount from posting where entry_id = $1 order by amount, line`, old.ID)
	if err != nil {
		return err
	}
	for _, r := range rows {
		if err := tx.post(ctx, by, r.Lot, Place{r.Place, r.PlaceID}, r.Amount.Neg()); err != nil {
			return err
		}
	}
	return nil
}
