package ledger_test

import (
	"context"
	"encoding/json"
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// connect opens a connection of its own, beside the ledger's.
func connect(t *testing.T, url string) *pgx.Conn {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close(context.Background()) })
	_, err = conn.Exec(t.Context(), `set search_path = `+ledger.Schema)
	require.NoError(t, err)
	return conn
}

func queryColumn[T any](t *testing.T, conn *pgx.Conn, sql string, args ...any) []T {
	t.Helper()
	rows, err := conn.Query(t.Context(), sql, args...)
	require.NoError(t, err, sql)
	list, err := pgx.CollectRows(rows, pgx.RowTo[T])
	require.NoError(t, err, sql)
	return list
}

// census counts the rows of every table.
func census(t *testing.T, conn *pgx.Conn) map[string]int64 {
	t.Helper()
	counts := map[string]int64{}
	for _, table := range queryColumn[string](t, conn, `select table_name from information_schema.tables where table_schema = $1`, ledger.Schema) {
		counts[table] = queryColumn[int64](t, conn, `select count(*) from `+table)[0]
	}
	require.Greater(t, len(counts), 30)
	return counts
}

// refused runs a statement that must fail for want of a right: SQLSTATE 42501 (PostgreSQL 15 manual, appendix A).
func refused(t *testing.T, conn *pgx.Conn, sql string) {
	t.Helper()
	_, err := conn.Exec(t.Context(), sql)
	var pg *pgconn.PgError
	require.ErrorAs(t, err, &pg, sql)
	require.Equal(t, "42501", pg.Code, "%s: %s", sql, pg.Message)
}

func fault(t *testing.T, err error, want ledger.Fault) {
	t.Helper()
	require.Error(t, err)
	require.Equal(t, want, ledger.FaultOf(err), err.Error())
}

func (w *workshop) file(lot int64, text string) {
	w.t.Helper()
	doc := ledger.FileDocument(lot, "certificate", "Invented certificate", "", []byte(text))
	_, err := w.l.Record(w.t.Context(), w.owner, ledger.Request{Body: doc, Files: [][]byte{[]byte(text)}})
	require.NoError(w.t, err)
}

func TestServiceRoleCannotChangeTheJournal(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	w.file(w.oliveLot, "an invented certificate")
	service := connect(t, w.db.Service)
	before := census(t, service)
	for table, column := range map[string]string{"entry": "reason", "posting": "place", "attachment": "bytes"} {
		for _, sql := range []string{
			"update %[1]s set %[2]s = %[2]s", "delete from %[1]s", "truncate %[1]s", "truncate %[1]s cascade", "drop table %[1]s",
			"alter table %[1]s add column more text", "alter table %[1]s disable trigger all",
			"alter table %[1]s disable trigger %[1]s_append_only", "drop trigger %[1]s_append_only on %[1]s",
			"create index on %[1]s (%[2]s)", "create rule quiet as on insert to %[1]s do instead nothing",
		} {
			refused(t, service, fmt.Sprintf(sql, table, column))
		}
	}
	for _, sql := range []string{
		"create table more (id int)", "create function refuse_change() returns trigger language plpgsql as 'begin return new; end'",
		"create or replace function refuse_change() returns trigger language plpgsql as 'begin return new; end'",
		"drop schema ashbook cascade", "set session_replication_role = replica", "select setval('entry_seq', 1)",
		"truncate lot", "alter table lot add column more text", "drop table balance", "update schema_version set version = 0",
	} {
		refused(t, service, sql)
	}
	require.Equal(t, before, census(t, service))
	w.verify()
}

func TestTriggerRefusesTheOwnerToo(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	w.file(w.oliveLot, "an invented certificate")
	owner := connect(t, w.db.Owner)
	before := census(t, owner)
	for table, column := range map[string]string{"entry": "reason", "posting": "place", "attachment": "bytes"} {
		require.Positive(t, before[table])
		for _, sql := range []string{"update %[1]s set %[2]s = %[2]s", "delete from %[1]s", "truncate %[1]s cascade"} {
			_, err := owner.Exec(t.Context(), fmt.Sprintf(sql, table, column))
			require.ErrorContains(t, err, "append-only", sql)
		}
	}
	require.Equal(t, before, census(t, owner))
	w.verify()
}

func asJSON(t *testing.T, v any) string {
	t.Helper()
	b, err := json.Marshal(v)
	require.NoError(t, err)
	return string(b)
}

func TestSameKeyGivesTheSameReceipt(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	req := ledger.Request{Key: "k-1", HappenedAt: w.clock.Now().Add(-time.Hour + 123456789), Body: &ledger.LotReceived{Material: w.olive,
		Supplier: w.supplier, SupplierLot: " OL-2 ", Mass: grams("100.50")}}
	first, err := w.l.Record(t.Context(), w.owner, req)
	require.NoError(t, err)
	before := census(t, connect(t, w.db.Owner))
	w.clock.Add(time.Hour)
	again, err := w.l.Record(t.Context(), w.owner, req)
	require.NoError(t, err)
	require.Equal(t, asJSON(t, first), asJSON(t, again))

	other := req
	other.Body = &ledger.LotReceived{Material: w.olive, Supplier: w.supplier, SupplierLot: "OL-2", Mass: grams("100.51")}
	_, err = w.l.Record(t.Context(), w.owner, other)
	fault(t, err, ledger.Conflict)
	other = req
	other.HappenedAt = req.HappenedAt.Add(time.Second)
	_, err = w.l.Record(t.Context(), w.owner, other)
	fault(t, err, ledger.Conflict)
	require.Equal(t, before, census(t, connect(t, w.db.Owner)))

	_, err = w.l.Record(t.Context(), w.maker, req) // a key is one person's own
	require.NoError(t, err)
	w.verify()
}

func TestSameKeyAtOnce(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	req := ledger.Request{Key: "tapped twice", Body: &ledger.StockMoved{Lot: w.oliveLot, Way: ledger.Discarded, Amount: dec("10"), Reason: "spilt"}}
	receipts := make([]string, 20)
	var wait sync.WaitGroup
	for i := range receipts {
		wait.Go(func() {
			r, err := w.l.Record(t.Context(), w.owner, req)
			if err == nil {
				receipts[i] = asJSON(t, r)
			}
		})
	}
	wait.Wait()
	require.NotEmpty(t, receipts[0])
	for _, r := range receipts {
		require.Equal(t, receipts[0], r)
	}
	require.Equal(t, "4990", w.lot(w.oliveLot).OnHand.String())
	w.verify()
}

func TestWhatIsRefusedLeavesNothing(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: w.formula.ID})
	owner := connect(t, w.db.Owner)
	before := census(t, owner)
	try := func(want ledger.Fault, by ledger.Actor, req ledger.Request) {
		t.Helper()
		_, err := w.l.Record(t.Context(), by, req)
		fault(t, err, want)
		require.Equal(t, before, census(t, owner))
	}
	bytes := []byte("bytes that are not kept")
	try(ledger.Invalid, w.owner, ledger.Request{Files: [][]byte{bytes}, Body: &ledger.StockMoved{Lot: w.oliveLot, Way: "lent", Amount: dec("1"), Reason: "?"}})
	try(ledger.NotFound, w.owner, ledger.Request{Body: &ledger.LotHeld{Lot: 9, Reason: "no such lot"}})
	try(ledger.Conflict, w.owner, ledger.Request{Body: &ledger.WeighingTaken{Batch: b.ID, Line: 1, Lot: w.lyeLot, Mass: grams("1")}}) // not started
	try(ledger.Conflict, w.owner, ledger.Request{Body: &ledger.StockMoved{Lot: w.oliveLot, Way: ledger.Discarded, Amount: dec("5000.000001"), Reason: "all and more"}})
	try(ledger.Invalid, w.owner, ledger.Request{Body: &ledger.BuyerAdded{Type: "shop"}, Contact: &ledger.Contact{Name: " "}})
	try(ledger.Invalid, w.owner, ledger.Request{HappenedAt: w.clock.Now().Add(6 * time.Minute), Body: &ledger.LotHeld{Lot: w.oliveLot, Reason: "from the future"}})
	try(ledger.Invalid, w.owner, ledger.Request{})
	try(ledger.Invalid, w.owner, ledger.Request{Body: &ledger.GatePassed{Gate: "start", Reason: "by the window"}})
	try(ledger.Invalid, w.owner, ledger.Request{Body: &ledger.EntryStruck{}})
	try(ledger.Invalid, w.owner, ledger.Request{Body: ledger.FileDocument(w.oliveLot, "photo", "Not sent along", "", bytes)})
	record(w, &ledger.LotHeld{Lot: w.oliveLot, Reason: "smells odd"})
	before = census(t, owner)
	try(ledger.Refused, w.owner, ledger.Request{Body: &ledger.StepTaken{Batch: b.ID, Step: ledger.StepStart}})
	w.verify()
}

func TestClockOfATabletMayDiffer(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	_, err := w.l.Record(t.Context(), w.owner, ledger.Request{HappenedAt: w.clock.Now().Add(5 * time.Minute), Body: &ledger.LotHeld{Lot: w.oliveLot, Reason: "a little ahead"}})
	require.NoError(t, err)
}

// Each kind of entry is refused to a role without its right, before anything else is looked at.
func TestRights(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	reviewer, seller, visitor := w.maker, w.maker, w.maker
	reviewer.Role, seller.Role, visitor.Role = ledger.Reviewer, ledger.Seller, ledger.Visitor
	may := func(by ledger.Actor, b ledger.Body) bool {
		_, err := w.l.Record(t.Context(), by, ledger.Request{Body: b})
		return ledger.FaultOf(err) != ledger.Forbidden
	}
	for _, c := range []struct {
		body                                    ledger.Body
		owner, reviewer, maker, seller, visitor bool
	}{
		{&ledger.ShopSet{}, true, false, false, false, false},
		{&ledger.PersonAdded{}, true, false, false, false, false},
		{&ledger.ReleaseDecided{}, true, true, false, false, false},
		{&ledger.DeviationDecided{}, true, true, false, false, false},
		{&ledger.LotFreed{}, true, true, false, false, false},
		{&ledger.WeighingTaken{}, true, true, true, false, false},
		{&ledger.BatchPlanned{}, true, true, true, false, false},
		{&ledger.DispatchSent{}, true, true, true, true, false},
		{&ledger.LotHeld{}, true, true, true, true, false},
		{&ledger.EntryStruck{}, true, true, true, true, false},
	} {
		got := []bool{may(w.owner, c.body), may(reviewer, c.body), may(w.maker, c.body), may(seller, c.body), may(visitor, c.body)}
		require.Equal(t, []bool{c.owner, c.reviewer, c.maker, c.seller, c.visitor}, got, c.body.Kind())
	}
}

// Whoever may not record a kind may not strike it either.
func TestStrikingAsksForTheRightOfWhatIsStruck(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	r, err := w.l.Record(t.Context(), w.owner, ledger.Request{Body: &ledger.StockMoved{Lot: w.oliveLot, Way: ledger.Discarded, Amount: dec("10"), Reason: "spilt"}})
	require.NoError(t, err)
	seller := w.maker
	seller.Role = ledger.Seller
	strike := ledger.Request{Corrects: r.Entry, Reason: "it was another jug", Body: &ledger.EntryStruck{}}
	_, err = w.l.Record(t.Context(), seller, strike)
	fault(t, err, ledger.Forbidden)
	_, err = w.l.Record(t.Context(), w.maker, strike)
	require.NoError(t, err)
	require.Equal(t, "5000", w.lot(w.oliveLot).OnHand.String())
	w.verify()
}

func TestPersonalDataStaysOutsideTheJournal(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	contact := ledger.Contact{Name: "Quilla Nonesuch", Address: "7 Nowhere Street", Email: "quilla@example.org", Phone: "+00 555 0123"}
	_, err := w.l.Record(t.Context(), w.owner, ledger.Request{Key: "buyer", Body: &ledger.BuyerAdded{Type: "person"}, Contact: &contact})
	require.NoError(t, err)
	buyers, err := w.l.Buyers(t.Context())
	require.NoError(t, err)
	require.Equal(t, "Quilla Nonesuch", buyers[0].Name)
	owner := connect(t, w.db.Owner)
	for _, word := range []string{"Quilla", "Nowhere Street", "quilla@", "555 0123"} {
		found := queryColumn[int64](t, owner, `select count(*) from entry e where e::text ilike '%' || $1 || '%'`, word)[0]
		require.Zero(t, found, word)
	}
	_, err = connect(t, w.db.Service).Exec(t.Context(), `delete from contact`) // erasing leaves the journal whole
	require.NoError(t, err)
	w.verify()
}
