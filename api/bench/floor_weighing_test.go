package bench

import (
	"context"
	"crypto/sha256"
	"errors"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// floorWeighing records a weighing that nothing speaks against, by the same locks, reads and writes as the ledger's own
// door, but written by hand: one round trip to read, one to write, and the commit.
func floorWeighing(ctx context.Context, pool *pgxpool.Pool, person int64, w *ledger.WeighingTaken) error {
	tx, err := pool.Begin(ctx)
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback(ctx) }()
	kept := *w
	if err := floorReads(ctx, tx, person, &kept); err != nil {
		return err
	}
	if err := floorWrites(ctx, tx, person, &kept); err != nil {
		return err
	}
	return tx.Commit(ctx)
}

func floorReads(ctx context.Context, tx pgx.Tx, person int64, w *ledger.WeighingTaken) error {
	var (
		stage, kind   string
		held, used    bool
		expires       *time.Time
		planned       decimal.Decimal
		tolerance     decimal.Decimal
		weighed, left decimal.Decimal
	)
	batch := &pgx.Batch{}
	batch.Queue(`select pg_advisory_xact_lock(least($1::bigint, $2::bigint)), pg_advisory_xact_lock(greatest($1::bigint, $2::bigint)), pg_advisory_xact_lock(hashtext($3))`, w.Batch, w.Lot, keyOf(w))
	one := func(sql string, args []any, to ...any) {
		batch.Queue(sql, args...).QueryRow(func(row pgx.Row) error { return row.Scan(to...) })
	}
	one(`select exists (select 1 from entry where person_id = $1 and key = $2)`, []any{person, keyOf(w)}, &used)
	one(`select stage from batch where id = $1`, []any{w.Batch}, &stage)
	one(`select m.kind, l.held, l.best_before from lot l join material m on m.id = l.material_id where l.id = $1`, []any{w.Lot}, &kind, &held, &expires)
	one(`select bl.planned, bl.tolerance, coalesce((select sum(grams) from weighing where batch_id = $1 and line = $2 and struck_by is null), 0)
		from batch_line bl where bl.batch_id = $1 and bl.line = $2`, []any{w.Batch, w.Line}, &planned, &tolerance, &weighed)
	one(`select amount from balance where lot_id = $1 and place = 'shelf' and place_id = 0`, []any{w.Lot}, &left)
	if err := tx.SendBatch(ctx, batch).Close(); err != nil {
		return err
	}
	var err error
	if w.Mass.Grams, err = decimal.NewFromString(w.Mass.Typed); err != nil {
		return err
	}
	off := weighed.Add(w.Mass.Grams).Sub(planned).Abs()
	if used || held || expires != nil || kind == "spirit" || stage != ledger.Weighing || off.GreaterThan(tolerance) || left.LessThan(w.Mass.Grams) {
		return errors.New("the floor records only what nothing speaks against")
	}
	w.Planned, w.Tolerance, w.Amount, w.PouredGrams = &planned, &tolerance, w.Mass.Grams, w.Mass.Grams
	return nil
}

func floorWrites(ctx context.Context, tx pgx.Tx, person int64, w *ledger.WeighingTaken) error {
	body, err := encode(w)
	if err != nil {
		return err
	}
	digest, now := sha256.Sum256(body), time.Now()
	batch := &pgx.Batch{}
	batch.Queue(`insert into entry (id, kind, format, happened_at, recorded_at, person_id, key, key_digest, body) values (nextval('entry_seq'),$1,$2,$3,$3,$4,$5,$6,$7)`,
		w.Kind(), format, now, person, keyOf(w), digest[:], string(body))
	batch.Queue(`insert into weighing (entry_id, batch_id, line, lot_id, portion, planned, tolerance, amount, grams, poured_grams, leaves, typed, unit, scale,
		second_check, person_id, happened_at) values (currval('entry_seq'),$1,$2,$3,$4,$5,$6,$7,$8,$9,false,$10,$11,$12,$13,$14,$15)`, w.Batch, w.Line, w.Lot, w.Portion,
		w.Planned, w.Tolerance, w.Amount, w.Mass.Grams, w.PouredGrams, w.Mass.Typed, w.Mass.Unit, w.Scale, w.SecondCheck, person, now)
	batch.Queue(`insert into posting (entry_id, line, lot_id, place, place_id, amount) values
		(currval('entry_seq'),1,$1,'shelf',0,-$3::numeric), (currval('entry_seq'),2,$1,'pot',$2,$3::numeric)`, w.Lot, w.Batch, w.Amount)
	batch.Queue(`update balance set amount = amount - $2 where lot_id = $1 and place = 'shelf' and place_id = 0`, w.Lot, w.Amount)
	batch.Queue(`insert into balance (lot_id, place, place_id, amount) values ($1,'pot',$2,$3)`, w.Lot, w.Batch, w.Amount)
	return tx.SendBatch(ctx, batch).Close()
}

// What the floor records is what the ledger would have recorded.
func TestFloorRecordsWhatTheJournalCouldHold(t *testing.T) {
	l, m, _ := filled(t, 10)
	g := &ground{l, m.by, 10}
	m.now = m.now.AddDate(2, 0, 0)
	for _, w := range g.weighings(t, 12) {
		require.NoError(t, floorWeighing(t.Context(), l.Pool(), m.by.ID, w))
	}
	v, err := l.Verify(t.Context())
	require.NoError(t, err)
	require.Empty(t, v.Difference)
}
