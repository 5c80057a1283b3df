package host_test

import (
	"context"
	"os"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"ashbook/api/host"
	"ashbook/ledger"
	"ashbook/ledger/localpg"
)

// folder is a data folder that the server's user can enter.
func folder(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "ashbook-host-")
	require.NoError(t, err)
	require.NoError(t, os.Chmod(dir, 0o755))
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	return dir
}

func TestPrivateServerKeepsRecordsBetweenStarts(t *testing.T) {
	dir := folder(t)
	_, err := host.Open(t.Context(), host.Options{Data: dir, Look: true})
	require.ErrorContains(t, err, "there are no records in "+dir)
	first, err := host.Open(t.Context(), host.Options{Data: dir})
	require.NoError(t, err)
	_, err = first.Ledger.Record(t.Context(), ledger.System, ledger.Request{Body: &ledger.SupplierAdded{Name: "Invented Oils"}})
	require.NoError(t, err)

	// While it runs, a second one is refused, and a command that only looks gets in beside it.
	_, err = host.Open(t.Context(), host.Options{Data: dir})
	require.ErrorContains(t, err, "another ashbook is using the data folder")
	look, err := host.Open(t.Context(), host.Options{Data: dir, Look: true})
	require.NoError(t, err)
	suppliers, err := look.Ledger.Suppliers(t.Context())
	require.NoError(t, err)
	require.Len(t, suppliers, 1)
	require.Empty(t, look.Warning)
	require.NoError(t, look.Close())

	require.NoError(t, first.Close())
	again, err := host.Open(t.Context(), host.Options{Data: dir})
	require.NoError(t, err)
	suppliers, err = again.Ledger.Suppliers(t.Context())
	require.NoError(t, err)
	require.Len(t, suppliers, 1)
	require.NoError(t, again.Close())
}

// On a server of the user's own the owner's address prepares the schema, and serve uses a role that may do less. With
// one address for both it works too, and says what is missing.
func TestServerOfOnesOwn(t *testing.T) {
	server, err := localpg.Start(t.Context(), localpg.Options{Dir: folder(t), Throwaway: true})
	require.NoError(t, err)
	t.Cleanup(func() { _ = server.Stop(context.Background()) })
	owner := server.URL(localpg.Owner, "postgres")
	// A role that may not make the schema, as a service's role is before the owner has migrated.
	execute(t, owner, `create role soap_service login`, `revoke create on database postgres from public`)
	service := server.URL("soap_service", "postgres")

	_, err = host.Open(t.Context(), host.Options{Database: service})
	require.ErrorContains(t, err, "run \"ashbook migrate\" with the owner's address first")

	require.NoError(t, ledger.Migrate(t.Context(), owner, "soap_service"))
	h, err := host.Open(t.Context(), host.Options{Database: service})
	require.NoError(t, err)
	require.Empty(t, h.Warning)
	_, err = h.Ledger.Record(t.Context(), ledger.System, ledger.Request{Body: &ledger.SupplierAdded{Name: "Invented Oils"}})
	require.NoError(t, err)
	require.NoError(t, h.Close())

	one, err := host.Open(t.Context(), host.Options{Database: owner})
	require.NoError(t, err)
	require.Equal(t, ledger.OwnerWarning, one.Warning)
	suppliers, err := one.Ledger.Suppliers(t.Context())
	require.NoError(t, err)
	require.Len(t, suppliers, 1)
	require.NoError(t, one.Close())
}

func execute(t *testing.T, url string, statements ...string) {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	require.NoError(t, err)
	defer func() { _ = conn.Close(context.Background()) }()
	for _, sql := range statements {
		_, err := conn.Exec(t.Context(), sql)
		require.NoError(t, err)
	}
}
