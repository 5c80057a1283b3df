package bench

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// The floor of an answer: one round trip of SQL written by hand for the one kind of question, with a lateral look-up
// for each lot. It gives what ledger.Ask gives about the same words, which a test holds.

const (
	// An array hides how many lots the planner expects: it makes room for all that it thinks the recursion will find,
	// and for a supplier's lot number it expects so many that clearing the room takes longer than the query.
	lotsOfSupplierLot = `select unnest(array(select id from lot where lower(supplier_lot) = lower($1) and supplier_lot <> '')) id`
	lotsOfBatch       = `select l.id from batch b join lot l on l.batch_id = b.id where b.code = $1`

	floorDown = `with recursive down (lot_id, depth) as (
			select id, 0 from (%START%) s
			union
			select l.id, down.depth + 1 from down
				cross join lateral (select batch_id, portion from weighing where lot_id = down.lot_id and struck_by is null offset 0) u
				cross join lateral (select id, portion from lot where batch_id = u.batch_id offset 0) l
				where u.portion = '' or l.portion = '' or u.portion = l.portion
		), reached as (select lot_id, min(depth) depth from down group by lot_id) `

	reachedSQL = floorDown + `select l.id, l.code, l.what, l.name, l.unit, coalesce(b.code, ''), coalesce(b.id, 0), coalesce(b.stage, ''), coalesce(p.name, ''),
			l.supplier_lot, l.made_on, l.portion, r.depth, l.held, l.hold_reason, l.amount, s.on_hand, s.pots, s.sent, s.kept, s.gone, s.missing
		from reached r
		cross join lateral (select * from lot where id = r.lot_id offset 0) l
		left join lateral (select id, code, stage from batch where id = l.batch_id offset 0) b on true
		left join lateral (select name from supplier where id = l.supplier_id offset 0) p on true
		cross join lateral (select coalesce(sum(amount) filter (where place in ('shelf', 'rack', 'ready')), 0) on_hand,
			coalesce(sum(amount) filter (where place = 'pot'), 0) pots, coalesce(sum(amount) filter (where place = 'sent'), 0) sent,
			coalesce(sum(amount) filter (where place = 'kept'), 0) kept, coalesce(sum(amount) filter (where place in ('waste', 'air')), 0) gone,
			coalesce(sum(amount) filter (where place = 'count'), 0) missing from balance where lot_id = r.lot_id) s
		order by r.depth, l.id`

	sentSQL = floorDown + `select d.id, d.code, d.sent_on, d.channel, coalesce(c.name, ''), d.buyer_id, d.occasion, d.reference, r.lot_id, l.code,
			s.amount, coalesce(back.pieces, 0)
		from reached r
		cross join lateral (select code from lot where id = r.lot_id and what = 'bars' offset 0) l
		cross join lateral (select place_id, amount from balance where lot_id = r.lot_id and place = 'sent' offset 0) s
		cross join lateral (select * from dispatch where id = s.place_id offset 0) d
		left join lateral (select name from contact where subject_id = d.buyer_id offset 0) c on true
		left join lateral (select sum(pieces) pieces from dispatch_return where dispatch_id = d.id and lot_id = r.lot_id and struck_by is null) back on true
		order by d.sent_on desc, d.id desc, r.lot_id`

	sourcesSQL = `with recursive up (batch_id, portion, depth) as (
			select l.batch_id, l.portion, 1 from batch b join lot l on l.batch_id = b.id where b.code = $1
			union
			select l.batch_id, l.portion, up.depth + 1 from up
				cross join lateral (select lot_id, portion from weighing where batch_id = up.batch_id and struck_by is null offset 0) u
				cross join lateral (select batch_id, portion from lot where id = u.lot_id and batch_id is not null offset 0) l
				where u.portion = '' or up.portion = '' or u.portion = up.portion
		), made as (select batch_id, portion, min(depth) depth from up group by 1, 2)
		select l.id, l.code, l.what, l.name, coalesce(s.name, ''), l.supplier_lot, l.made_on, b.code, u.portion, u.grams, m.depth, l.held
		from made m
		cross join lateral (select lot_id, portion, sum(poured_grams) grams, min(entry_id) first from weighing
			where batch_id = m.batch_id and struck_by is null and (portion = '' or m.portion = '' or portion = m.portion) group by 1, 2) u
		cross join lateral (select * from lot where id = u.lot_id offset 0) l
		cross join lateral (select code from batch where id = m.batch_id offset 0) b
		left join lateral (select name from supplier where id = l.supplier_id offset 0) s on true
		order by m.depth, u.first`
)

// starting puts the lots that a question starts at into a query.
func starting(lots, sql string) string { return strings.Replace(sql, "%START%", lots, 1) }

var (
	reachedOfLot   = starting(lotsOfSupplierLot, reachedSQL)
	sentOfLot      = starting(lotsOfSupplierLot, sentSQL)
	reachedOfBatch = starting(lotsOfBatch, reachedSQL)
	sentOfBatch    = starting(lotsOfBatch, sentSQL)
)

// floor is an answer, in rows of the queries above.
type floor struct {
	Sources []floorSource
	Reached []floorReached
	Sent    []floorSent
}

type floorSource struct {
	Lot                                     int64
	Code, What, Name, Supplier, SupplierLot string
	MadeOn                                  time.Time
	Into, Portion                           string
	Grams                                   decimal.Decimal
	Depth                                   int
	Held                                    bool
}

type floorReached struct {
	Lot                                           int64
	Code, What, Name, Unit, Batch                 string
	BatchID                                       int64
	Stage, Supplier, SupplierLot                  string
	MadeOn                                        time.Time
	Portion                                       string
	Depth                                         int
	Held                                          bool
	HoldReason                                    string
	Made, OnHand, InPots, Sent, Kept, Gone, Count decimal.Decimal
}

type floorSent struct {
	Dispatch            int64
	Code                string
	SentOn              time.Time
	Channel, Buyer      string
	BuyerID             *int64
	Occasion, Reference string
	Lot                 int64
	LotCode             string
	Pieces, Returned    decimal.Decimal
}

// floorPool connects as the ledger does, and has each statement planned once and for all.
func floorPool(ctx context.Context, l *ledger.Ledger) (*pgxpool.Pool, error) {
	cfg := l.Pool().Config()
	cfg.ConnConfig.RuntimeParams["plan_cache_mode"] = "force_generic_plan"
	return pgxpool.NewWithConfig(ctx, cfg)
}

// floorForward answers about a supplier's lot.
func floorForward(ctx context.Context, pool *pgxpool.Pool, words string) (a floor, err error) {
	batch := &pgx.Batch{}
	into(batch, &a.Reached, reachedOfLot, words)
	into(batch, &a.Sent, sentOfLot, words)
	return a, pool.SendBatch(ctx, batch).Close()
}

// floorBack answers about the code of a batch.
func floorBack(ctx context.Context, pool *pgxpool.Pool, words string) (a floor, err error) {
	batch := &pgx.Batch{}
	into(batch, &a.Sources, sourcesSQL, words)
	into(batch, &a.Reached, reachedOfBatch, words)
	into(batch, &a.Sent, sentOfBatch, words)
	return a, pool.SendBatch(ctx, batch).Close()
}

func into[T any](batch *pgx.Batch, list *[]T, sql string, args ...any) {
	batch.Queue(sql, args...).Query(func(rows pgx.Rows) (err error) {
		*list, err = pgx.CollectRows(rows, pgx.RowToStructByPos[T])
		return err
	})
}

// The floor finds all that the ledger finds, but for batches under way, which it does not look for.
func TestFloorGivesTheLedgersOwnAnswer(t *testing.T) {
	l, _, _ := filled(t, 200)
	column := func(sql string) []string {
		rows, err := l.Pool().Query(t.Context(), sql)
		require.NoError(t, err)
		list, err := pgx.CollectRows(rows, pgx.RowTo[string])
		require.NoError(t, err)
		return list
	}
	for _, words := range column(`select supplier_lot from lot where supplier_lot like 'few-%' or supplier_lot like 'typical-0-%' or supplier_lot = 'big'`) {
		answer, err := floorForward(t.Context(), l.Pool(), words)
		require.NoError(t, err)
		same(t, l, words, answer)
	}
	for _, words := range column(`select code from batch order by (select count(*) from weighing w where w.batch_id = batch.id) desc, id limit 40`) {
		answer, err := floorBack(t.Context(), l.Pool(), words)
		require.NoError(t, err)
		require.NotEmpty(t, answer.Sources)
		same(t, l, words, answer)
	}
}

// same compares what the two found, and every amount.
func same(t *testing.T, l *ledger.Ledger, words string, have floor) {
	t.Helper()
	own, err := l.Ask(t.Context(), words)
	require.NoError(t, err)
	require.NotEmpty(t, have.Reached)
	require.NotEmpty(t, have.Sent)
	require.ElementsMatch(t, lines(own.Sources, func(s ledger.Source) string { return fmt.Sprint(s.Code, s.Into, s.Portion, s.Grams, s.Depth) }),
		lines(have.Sources, func(s floorSource) string { return fmt.Sprint(s.Code, s.Into, s.Portion, s.Grams, s.Depth) }))
	require.ElementsMatch(t, lines(own.Reached, func(r ledger.Reached) string {
		return fmt.Sprint(r.Code, r.Depth, r.Made, r.OnHand, r.InPots, r.Sent, r.Kept, r.Gone, r.Unaccounted)
	}), lines(have.Reached, func(r floorReached) string {
		return fmt.Sprint(r.Code, r.Depth, r.Made, r.OnHand, r.InPots, r.Sent, r.Kept, r.Gone, r.Count)
	}))
	require.ElementsMatch(t, lines(own.Sent, func(s ledger.Sent) string { return fmt.Sprint(s.Code, s.LotCode, s.Buyer, s.Pieces, s.Returned) }),
		lines(have.Sent, func(s floorSent) string { return fmt.Sprint(s.Code, s.LotCode, s.Buyer, s.Pieces, s.Returned) }))
}

func lines[T any](list []T, line func(T) string) (out []string) {
	for _, v := range list {
		out = append(out, line(v))
	}
	return out
}
