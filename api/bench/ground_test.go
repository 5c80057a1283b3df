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
	batchesVariable = "ASHBOOK_BENCH_BATCHES" // how many batches the ledger has
	freshVariable   = "ASHBOOK_BENCH_FRESH"   // not empty: fill the ledger anew
)

// ground is the large ledger that the benchmarks run on, on a server that keeps every promise about crashes.
type ground struct {
	l  *ledger.Ledger
	by ledger.Actor
}

// large opens the large ledger, filled by this run or an earlier one, until the benchmark ends.
func large(b *testing.B) *ground {
	b.Helper()
	if os.Getenv(dataVariable) == "" {
		b.Skip("the large ledger is missing; start the benchmarks by deploy/bench")
	}
	n, err := strconv.Atoi(os.Getenv(batchesVariable))
	require.NoError(b, err, batchesVariable+" is a number of batches")
	ctx := context.Background() // that of the benchmark has ended when the server is stopped
	cluster, err := localpg.Start(ctx, localpg.Options{Dir: os.Getenv(dataVariable)})
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, cluster.Stop(ctx)) })
	require.NoError(b, fillOnce(ctx, cluster, n))
	l, err := ledger.Open(ctx, cluster.URL(ledger.ServiceRole, database(n)), nil)
	require.NoError(b, err)
	b.Cleanup(l.Close)
	by, err := l.ActorByLogin(ctx, "owner")
	require.NoError(b, err)
	return &ground{l, by}
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

// timed runs op once for every turn and reports the median and the 99th percentile. What comes before, up to warm
// turns, is not counted: statements are prepared and pages read then.
func timed(b *testing.B, warm int, op func(i int) error) {
	b.Helper()
	for i := range warm {
		require.NoError(b, op(i))
	}
	var times []time.Duration
	for i := range b.N {
		began := time.Now()
		err := op(warm + i)
		times = append(times, time.Since(began))
		if err != nil {
			b.Fatal(err)
		}
	}
	slices.Sort(times)
	b.ReportMetric(float64(times[len(times)/2].Nanoseconds()), "median-ns")
	b.ReportMetric(float64(times[len(times)*99/100].Nanoseconds()), "p99-ns")
}
