package host_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"ashbook/api/host"
	"ashbook/ledger"
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
