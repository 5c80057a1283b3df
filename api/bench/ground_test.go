package bench

import (
	"context"
	"fmt"
	"hash/crc32"
	"io/fs"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
	"ashbook/ledger/localpg"
	"ashbook/migrations"
)

// What deploy/bench tells the benchmarks.
const (
	dataVariable    = "ASHBOOK_BENCH_DATA"    // folder of the cluster that keeps the filled ledgers
	batchesVariable = "ASHBOOK_BENCH_BATCHES" // how many batches the larger of the two ledgers has
	freshVariable   = "ASHBOOK_BENCH_FRESH"   // not empty: fill the ledgers anew
)

// ground is a filled ledger that the benchmarks run on, on a server that keeps every promise about crashes.
type ground struct {
	l       *ledger.Ledger
	by      ledger.Actor
	batches int
}

// grounds opens two ledgers on one server, the second with ten times the batches of the first, until the benchmark ends.
// This run fills them unless an earlier one has.
func grounds(b *testing.B) []*ground {
	b.Helper()
	if os.Getenv(dataVariable) == "" {
		b.Skip("the large ledgers are missing; start the benchmarks by deploy/bench")
	}
	n, err := strconv.Atoi(os.Getenv(batchesVariable))
	require.NoError(b, err, batchesVariable+" is a number of batches")
	ctx := context.Background() // that of the benchmark has ended when the server is stopped
	cluster, err := localpg.Start(ctx, localpg.Options{Dir: os.Getenv(dataVariable)})
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, cluster.Stop(ctx)) })
	return []*ground{filledGround(b, cluster, n/10), filledGround(b, cluster, n)}
}

func filledGround(b *testing.B, cluster *localpg.Cluster, n int) *ground {
	b.Helper()
	ctx := context.Background()
	require.NoError(b, fillOnce(ctx, cluster, n))
	l, err := ledger.Open(ctx, cluster.URL(ledger.ServiceRole, database(n)), nil)
	require.NoError(b, err)
	b.Cleanup(l.Close)
	by, err := l.ActorByLogin(ctx, "owner")
	require.NoError(b, err)
	return &ground{l, by, n}
}

// database names the ledger of n batches, and the schema that it was filled under.
func database(n int) string {
	schema := crc32.NewIEEE()
	names, _ := fs.Glob(migrations.Files, "*.sql") // the pattern is right, and there is no other error
	for _, name := range names {
		text, _ := migrations.Files.ReadFile(name)
		schema.Write(text)
	}
	return fmt.Sprintf("batches_%d_%08x", n, schema.Sum32())
}

// fillOnce makes the database of n batches unless it is there, and drops one of another schema. It gets its name when
// it is full, so that one that was left half full is not taken for it.
func fillOnce(ctx context.Context, cluster *localpg.Cluster, n int) error {
	conn, err := pgx.Connect(ctx, cluster.URL(localpg.Owner, "postgres"))
	if err != nil {
		return err
	}
	defer conn.Close(ctx)
	rows, err := conn.Query(ctx, `select datname from pg_database where datname like $1`, fmt.Sprintf(`batches\_%d\_%%`, n))
	if err != nil {
		return err
	}
	old, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return err
	}
	for _, name := range old {
		if name == database(n) && os.Getenv(freshVariable) == "" {
			return nil
		}
		if _, err := conn.Exec(ctx, `drop database `+name); err != nil {
			return err
		}
	}
	for _, sql := range []string{`drop database if exists filling with (force)`, `create database filling`} {
		if _, err := conn.Exec(ctx, sql); err != nil {
			return err
		}
	}
	began := time.Now()
	if err := fillNew(ctx, cluster, n); err != nil {
		return err
	}
	fmt.Fprintf(os.Stderr, "filled a ledger of %d batches in %.0f s\n", n, time.Since(began).Seconds())
	_, err = conn.Exec(ctx, `alter database filling rename to `+database(n))
	return err
}

func fillNew(ctx context.Context, cluster *localpg.Cluster, n int) error {
	owner := cluster.URL(localpg.Owner, "filling")
	if err := ledger.Migrate(ctx, owner, ledger.ServiceRole); err != nil {
		return err
	}
	m := &model{}
	l, err := ledger.Open(ctx, cluster.URL(ledger.ServiceRole, "filling"), m.clock)
	if err != nil {
		return err
	}
	defer l.Close()
	if err := m.make(ctx, l); err != nil {
		return err
	}
	return fill(ctx, owner, m, n)
}

// texts reads a column of words from the large ledger.
func (g *ground) texts(b *testing.B, sql string) []string {
	b.Helper()
	rows, err := g.l.Pool().Query(b.Context(), sql)
	require.NoError(b, err)
	list, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(b, err)
	require.NotEmpty(b, list)
	return list
}

// side is one of the things that are timed in turn with each other: our own work or its floor, on one of the ledgers.
type side struct {
	name string
	op   func(turn int) error
}

// timed runs each side once in every turn and reports their medians and 95th percentiles. Taking turns makes what else
// the machine does fall on all of them alike, and another goes first every time. What comes before, warm turns, is not
// counted: statements are prepared and pages read then.
func timed(b *testing.B, warm int, sides []side) {
	b.Helper()
	times := make([][]time.Duration, len(sides))
	for turn := range warm + b.N {
		for i := range sides {
			s := (turn + i) % len(sides)
			began := time.Now()
			err := sides[s].op(turn)
			took := time.Since(began)
			require.NoError(b, err, sides[s].name)
			if turn >= warm {
				times[s] = append(times[s], took)
			}
		}
	}
	for i, s := range sides {
		slices.Sort(times[i])
		b.ReportMetric(float64(times[i][len(times[i])/2].Nanoseconds()), s.name+"/median-ns")
		b.ReportMetric(float64(times[i][len(times[i])*95/100].Nanoseconds()), s.name+"/p95-ns")
	}
}
