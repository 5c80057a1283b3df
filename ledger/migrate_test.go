package ledger_test

import (
	"fmt"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
	"ashbook/ledger/ledgertest"
)

// atOnce runs functions at the same time and gives their errors.
func atOnce(fns ...func() error) (errs []error) {
	results := make(chan error)
	for _, fn := range fns {
		go func() { results <- fn() }()
	}
	for range fns {
		errs = append(errs, <-results)
	}
	return errs
}

func TestMigrateByManyAtOnceAndAgain(t *testing.T) {
	t.Parallel()
	one, two := ledgertest.NewDatabase(t, false), ledgertest.NewDatabase(t, false)
	migrate := func(db ledgertest.Database) func() error {
		return func() error { return ledger.Migrate(t.Context(), db.Owner, "invented_twin") }
	}
	for _, err := range atOnce(migrate(one), migrate(one), migrate(one), migrate(one), migrate(one), migrate(two), migrate(two)) {
		require.NoError(t, err)
	}
	for i := range 5 { // roles belong to the server, not to a database
		twins := func(db ledgertest.Database) func() error {
			return func() error { return ledger.Migrate(t.Context(), db.Owner, fmt.Sprintf("invented_twin_%d", i)) }
		}
		for _, err := range atOnce(twins(one), twins(two)) {
			require.NoError(t, err)
		}
	}
	conn := connect(t, one.Owner)
	before := census(t, conn)
	version := queryColumn[int](t, conn, `select version from schema_version`)
	require.Len(t, version, 1)
	require.NoError(t, migrate(one)())
	require.Equal(t, before, census(t, conn))
	require.Equal(t, version, queryColumn[int](t, conn, `select version from schema_version`))
}

// as is an address under another role.
func as(t *testing.T, address, role string) string {
	t.Helper()
	u, err := url.Parse(address)
	require.NoError(t, err)
	q := u.Query()
	q.Set("user", role)
	u.RawQuery = strings.ReplaceAll(q.Encode(), "+", "%20") // a plus is no space to pgx
	return u.String()
}

func TestServiceRoleOfAnotherName(t *testing.T) {
	t.Parallel()
	db := ledgertest.NewDatabase(t, false)
	const role = `invented "clerk"`
	require.NoError(t, ledger.Migrate(t.Context(), db.Owner, role))
	l, err := ledger.Open(t.Context(), as(t, db.Owner, role), nil)
	require.NoError(t, err)
	defer l.Close()
	_, err = l.Record(t.Context(), ledger.System, ledger.Request{Body: &ledger.PersonAdded{Login: "olga", Name: "Olga", Role: ledger.Owner}})
	require.NoError(t, err)
	v, err := l.Verify(t.Context())
	require.NoError(t, err)
	require.Empty(t, v.Difference)
	require.Equal(t, int64(1), v.Entries)
	clerk := connect(t, as(t, db.Owner, role))
	for _, sql := range []string{`update entry set reason = 'x'`, `delete from posting`, `truncate attachment`, `create table more (id int)`} {
		refused(t, clerk, sql)
	}
}

func TestNewerDatabaseIsRefused(t *testing.T) {
	t.Parallel()
	db := ledgertest.NewDatabase(t, true)
	_, err := connect(t, db.Owner).Exec(t.Context(), `update schema_version set version = 99`)
	require.NoError(t, err)
	err = ledger.Migrate(t.Context(), db.Owner, ledger.ServiceRole)
	fault(t, err, ledger.Conflict)
	require.ErrorContains(t, err, "schema version 99")
	require.ErrorContains(t, err, "newer ashbook")
}

func TestMigrateNeedsTheOwner(t *testing.T) {
	t.Parallel()
	db := ledgertest.NewDatabase(t, false)
	require.ErrorContains(t, ledger.Migrate(t.Context(), db.Service, ""), "migrate with the address of the role that owns the database")
	require.ErrorContains(t, ledger.Migrate(t.Context(), "postgres://nowhere.invalid/x?connect_timeout=1", ""), "cannot reach the database")
}

// The service's role is no owner; the role that migrates is, and what it cannot protect is said by OwnerWarning.
func TestInspect(t *testing.T) {
	t.Parallel()
	look := func(address string) ledger.State {
		s, err := ledger.Inspect(t.Context(), address)
		require.NoError(t, err)
		return s
	}
	db := ledgertest.NewDatabase(t, true)
	service, owner := look(db.Service), look(db.Owner)
	require.False(t, service.Owner)
	require.True(t, owner.Owner)
	require.Positive(t, owner.Have)
	require.Equal(t, owner.Want, owner.Have)
	require.Equal(t, owner.Have, service.Have)
	require.Contains(t, ledger.OwnerWarning, "take the triggers away")

	empty := ledgertest.NewDatabase(t, false)
	require.Equal(t, ledger.State{Owner: true, Want: owner.Want}, look(empty.Owner))
	require.False(t, look(empty.Service).Owner)
}

// A version that cannot be read is an error, never a fresh database.
func TestInspectSaysWhatItCannotRead(t *testing.T) {
	t.Parallel()
	db := ledgertest.NewDatabase(t, true)
	_, err := connect(t, db.Owner).Exec(t.Context(), `drop table schema_version`)
	require.NoError(t, err)
	_, err = ledger.Inspect(t.Context(), db.Owner)
	require.ErrorContains(t, err, "schema_version")
}

func TestOpenSaysWhatIsWrong(t *testing.T) {
	t.Parallel()
	_, err := ledger.Open(t.Context(), "not an address", nil)
	require.ErrorContains(t, err, "cannot read the database address")
	_, err = ledger.Open(t.Context(), as(t, ledgertest.NewDatabase(t, true).Owner, "nobody_of_that_name"), nil)
	require.ErrorContains(t, err, "see that the server runs")
}
