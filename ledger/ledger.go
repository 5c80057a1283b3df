package ledger

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
)

// Schema is the PostgreSQL schema that holds everything of ours. Connections pin their search_path to it.
const Schema = "ashbook"

// Ledger is an open ledger. It is safe for use by many goroutines, and several processes may share a database.
type Ledger struct {
	pool  *pgxpool.Pool
	clock func() time.Time
}

// Open connects to a database that Migrate has prepared. clock stands for the server's clock; nil is time.Now.
func Open(ctx context.Context, url string, clock func() time.Time) (*Ledger, error) {
	cfg, err := poolConfig(url)
	if err != nil {
		return nil, err
	}
	pool, err := pgxpool.NewWithConfig(ctx, cfg)
	if err != nil {
		return nil, fmt.Errorf("cannot open the database: %w", err)
	}
	if err := pool.Ping(ctx); err != nil {
		pool.Close()
		return nil, fmt.Errorf("cannot reach the database: %w; see that the server runs and that the address and role are right", err)
	}
	if clock == nil {
		clock = time.Now
	}
	return &Ledger{pool: pool, clock: clock}, nil
}

func poolConfig(url string) (*pgxpool.Config, error) {
	cfg, err := pgxpool.ParseConfig(url)
	if err != nil {
		return nil, fmt.Errorf("cannot read the database address: %w", err)
	}
	settle(&cfg.ConnConfig.Config)
	return cfg, nil
}

// settle fixes what a connection must not inherit from a server's or a user's own settings: a loose search_path
// would let a table of another schema stand in for ours, and JIT makes short recursive queries slow.
func settle(cfg *pgconn.Config) {
	for name, value := range map[string]string{
		"search_path": Schema, "jit": "off", "timezone": "UTC", "application_name": "ashbook",
		// A session left idle in a transaction would hold locks on lots for ever.
		"idle_in_transaction_session_timeout": "60000",
	} {
		cfg.RuntimeParams[name] = value
	}
}

// Close ends all connections.
func (l *Ledger) Close() { l.pool.Close() }

// Pool gives the connections for what lives beside the ledger in the same database: the sessions of the pages.
func (l *Ledger) Pool() *pgxpool.Pool { return l.pool }

// Now is the ledger's clock, to the microsecond that the database keeps.
func (l *Ledger) Now() time.Time { return l.clock().UTC().Truncate(time.Microsecond) }

// querier is what reads need: the pool, or a transaction.
type querier interface {
	Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error)
	QueryRow(ctx context.Context, sql string, args ...any) pgx.Row
	SendBatch(ctx context.Context, b *pgx.Batch) pgx.BatchResults
}

// all reads every row of a query into values of T by column position.
func all[T any](ctx context.Context, q querier, sql string, args ...any) ([]T, error) {
	rows, err := q.Query(ctx, sql, args...)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[T])
}

// queue puts a query into a batch, whose rows will be read into list as all reads them.
func queue[T any](b *pgx.Batch, list *[]T, sql string, args ...any) {
	b.Queue(sql, args...).Query(func(rows pgx.Rows) (err error) {
		*list, err = pgx.CollectRows(rows, pgx.RowToStructByPos[T])
		return err
	})
}

// column reads every row of a one-column query.
func column[T any](ctx context.Context, q querier, sql string, args ...any) ([]T, error) {
	rows, err := q.Query(ctx, sql, args...)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[T])
}

// one reads the only row of a query; no row is pgx.ErrNoRows.
func one[T any](ctx context.Context, q querier, sql string, args ...any) (T, error) {
	rows, err := q.Query(ctx, sql, args...)
	if err != nil {
		var none T
		return none, err
	}
	return pgx.CollectOneRow(rows, pgx.RowToStructByPos[T])
}
