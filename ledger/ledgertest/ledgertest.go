// Package ledgertest gives tests a ledger of their own on a real PostgreSQL: a private throwaway cluster per test
// process, and for each test a database copied from a migrated template and opened under the service's role.
package ledgertest

import (
	"context"
	"fmt"
	"os"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
	"ashbook/ledger/localpg"
)

var (
	cluster *localpg.Cluster
	number  atomic.Int64
	copying sync.Mutex // a template cannot be copied twice at the same moment
)

// Main runs a package's tests with a cluster for them: func TestMain(m *testing.M) { ledgertest.Main(m) }.
func Main(m *testing.M) { os.Exit(run(m)) }

func run(m *testing.M) int {
	dir, err := os.MkdirTemp("", "ashbook-test-")
	if err != nil {
		return fail(err)
	}
	defer os.RemoveAll(dir)
	if err := os.Chmod(dir, 0o755); err != nil { // the server may run as another user, who has to enter
		return fail(err)
	}
	ctx := context.Background()
	if cluster, err = localpg.Start(ctx, localpg.Options{Dir: dir, Throwaway: true}); err != nil {
		return fail(err)
	}
	defer cluster.Stop(ctx)
	if err := makeTemplate(ctx); err != nil {
		return fail(err)
	}
	return m.Run()
}

func fail(err error) int {
	fmt.Fprintln(os.Stderr, "no PostgreSQL for the tests:", err)
	return 1
}

func makeTemplate(ctx context.Context) error {
	if err := execute(ctx, "create database template_ashbook"); err != nil {
		return err
	}
	return ledger.Migrate(ctx, cluster.URL(localpg.Owner, "template_ashbook"), ledger.ServiceRole)
}

func execute(ctx context.Context, sql string) error {
	conn, err := pgx.Connect(ctx, cluster.URL(localpg.Owner, "postgres"))
	if err != nil {
		return err
	}
	defer conn.Close(ctx)
	_, err = conn.Exec(ctx, sql)
	return err
}

// Database is one test's own database.
type Database struct {
	Service string // address under the service's role
	Owner   string // address under the role that owns the schema
}

// NewDatabase copies the template; an empty database when migrated is false. It is dropped at the end of a test that
// passes and left, with its address printed, by one that fails.
func NewDatabase(t testing.TB, migrated bool) Database {
	t.Helper()
	require.NotNil(t, cluster, "the package has no TestMain that calls ledgertest.Main")
	name := fmt.Sprintf("test_%d", number.Add(1))
	template := "template0"
	if migrated {
		template = "template_ashbook"
	}
	copying.Lock()
	err := execute(t.Context(), "create database "+name+" template "+template)
	copying.Unlock()
	require.NoError(t, err)
	t.Cleanup(func() {
		if t.Failed() {
			t.Logf("the database of this test was %s", name)
			return
		}
		_ = execute(context.Background(), "drop database if exists "+name+" with (force)")
	})
	return Database{Service: cluster.URL(ledger.ServiceRole, name), Owner: cluster.URL(localpg.Owner, name)}
}

// Clock is a clock that a test moves.
type Clock struct{ now atomic.Pointer[time.Time] }

// NewClock starts at a moment.
func NewClock(at time.Time) *Clock {
	c := &Clock{}
	c.Set(at)
	return c
}

// Set moves the clock to a moment.
func (c *Clock) Set(at time.Time) { c.now.Store(&at) }

// Add moves the clock on.
func (c *Clock) Add(d time.Duration) { c.Set(c.Now().Add(d)) }

// Now is the time on the clock.
func (c *Clock) Now() time.Time { return *c.now.Load() }

// Open gives an empty ledger under the service's role, and its clock, which stands at the morning of 4 May 2026.
func Open(t testing.TB) (*ledger.Ledger, *Clock) {
	l, clock, _ := OpenDatabase(t)
	return l, clock
}

// OpenDatabase is Open for a test that also wants to reach the database around the ledger.
func OpenDatabase(t testing.TB) (*ledger.Ledger, *Clock, Database) {
	t.Helper()
	db := NewDatabase(t, true)
	clock := NewClock(time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC))
	l, err := ledger.Open(t.Context(), db.Service, clock.Now)
	require.NoError(t, err)
	t.Cleanup(l.Close)
	return l, clock, db
}
