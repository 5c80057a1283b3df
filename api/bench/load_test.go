package bench

import (
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
	"ashbook/ledger/ledgertest"
)

func TestMain(m *testing.M) { ledgertest.Main(m) }

// filled is a ledger of n batches on the cluster of the tests.
func filled(t *testing.T, n int) (*ledger.Ledger, *model, ledgertest.Database) {
	t.Helper()
	db := ledgertest.NewDatabase(t, true)
	m := &model{}
	l, err := ledger.Open(t.Context(), db.Service, m.clock)
	require.NoError(t, err)
	t.Cleanup(l.Close)
	require.NoError(t, m.make(t.Context(), l))
	require.NoError(t, fill(t.Context(), db.Owner, m, n))
	return l, m, db
}

// The ledger that is measured is one that the journal could have written: replaying its entries through the ledger's
// own code gives every row of it.
func TestFilledLedgerFollowsFromItsJournal(t *testing.T) {
	const n = 200
	l, _, db := filled(t, n)
	v, err := l.Verify(t.Context())
	require.NoError(t, err)
	require.Empty(t, v.Difference)

	conn, err := pgx.Connect(t.Context(), db.Owner)
	require.NoError(t, err)
	defer conn.Close(t.Context())
	count := func(sql string) (rows int) {
		require.NoError(t, conn.QueryRow(t.Context(), sql).Scan(&rows))
		return rows
	}
	require.Equal(t, n+1, count(`select count(*) from ashbook.batch`))
	require.Equal(t, 5*(n+1), count(`select count(*) from ashbook.dispatch_line`))
	require.Equal(t, 12*(n+1), count(`select count(*) from ashbook.weighing where line is not null`))
	require.Positive(t, count(`select count(*) from ashbook.weighing where line is null`), "no batch was reworked")
	require.Equal(t, n/5, count(`select count(*) from ashbook.weighing w join ashbook.lot l on l.id = w.lot_id where l.supplier_lot = 'big'`))
}

// The filler writes bodies as the ledger writes them, to the byte.
func TestBodiesAreEncodedAsTheLedgerEncodesThem(t *testing.T) {
	_, m, db := filled(t, 1)
	conn, err := pgx.Connect(t.Context(), db.Owner)
	require.NoError(t, err)
	defer conn.Close(t.Context())
	for _, moment := range m.life {
		var kept string
		require.NoError(t, conn.QueryRow(t.Context(), `select body from ashbook.entry where id = $1 and format = $2`, moment.entry, format).Scan(&kept))
		text, err := encode(moment.body)
		require.NoError(t, err)
		require.Equal(t, kept, string(text))
	}
}
