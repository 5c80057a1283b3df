package ledger_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// outside are the tables that do not follow from the journal.
var outside = []string{"entry", "attachment", "credential", "sessions", "contact", "schema_version"}

// everything fills every table of the ledger with something, and leaves an entry of every kind that no later one hides.
func (w *workshop) everything() {
	w.t.Helper()
	x := w.layered()
	w.cure(x.batch.ID, x.white)
	d := record(w, &ledger.DeviationOpened{Batch: x.batch.ID, What: "the room stood at 35 °C"})
	record(w, &ledger.DeviationDecided{Deviation: d.ID, Decision: "looked at the bars"})
	w.release(x.batch.ID)
	buyer := record(w, &ledger.BuyerAdded{Type: "shop"})
	sent := record(w, &ledger.DispatchSent{Channel: "shop", Buyer: buyer.ID, Reference: "INV-7", Lines: []ledger.DispatchLine{{Lot: x.white.ID, Pieces: 3}}})
	record(w, &ledger.DispatchReturned{Dispatch: sent.ID, Lot: x.white.ID, Pieces: 1, Decision: ledger.Scrap, Reason: "wet"})
	wrong := w.enter(&ledger.StockMoved{Lot: x.blue.ID, Way: ledger.Missing, Amount: dec("1"), Reason: "counted"})
	w.corrected(wrong.Entry, nil)
	record(w, &ledger.StockMoved{Lot: x.blue.ID, Way: ledger.KeptBack, Amount: dec("1"), Reason: "sample"})
	w.file(w.oliveLot, "an invented certificate")
	text := []byte("an invented label")
	digest := ledger.FileDocument(0, "", "", "", text).SHA256
	_, err := w.l.Record(w.t.Context(), w.owner, ledger.Request{Files: [][]byte{text}, Body: &ledger.LabelIssued{Lot: x.blue.ID, Style: "EU", Copies: 4, SHA256: digest, Inputs: digest}})
	require.NoError(w.t, err)
	record(w, &ledger.DrillRecorded{Subject: "MI-1", StartedAt: w.clock.Now().Add(-time.Hour), EndedAt: w.clock.Now(), Notes: "all found"})
	record(w, &ledger.LotHeld{Lot: x.blue.ID, Reason: "a complaint"})
	record(w, &ledger.LotFreed{Lot: x.blue.ID, Reason: "looked into"})
	record(w, &ledger.LotHeld{Lot: x.white.ID, Reason: "a complaint"})
	record(w, &ledger.PersonChanged{ID: w.maker.ID, Role: ledger.Reviewer, Active: true})
}

// tamperer changes rows as one who rules the server can: it sets the triggers aside.
type tamperer struct {
	w    *workshop
	conn *pgx.Conn
}

func newTamperer(t *testing.T) *tamperer {
	t.Helper()
	w := newWorkshop(t)
	w.everything()
	w.verify()
	x := &tamperer{w: w, conn: connect(t, w.db.Owner)}
	x.exec(`set session_replication_role = replica`)
	return x
}

func (x *tamperer) exec(sql string, args ...any) {
	x.w.t.Helper()
	tag, err := x.conn.Exec(x.w.t.Context(), sql, args...)
	require.NoError(x.w.t, err, sql)
	if verb, _, _ := strings.Cut(sql, " "); verb == "update" || verb == "delete" || verb == "insert" {
		require.Positive(x.w.t, tag.RowsAffected(), sql)
	}
}

// difference is what Verify finds; the test fails when it finds nothing.
func (x *tamperer) difference(after string) string {
	x.w.t.Helper()
	v, err := x.w.l.Verify(x.w.t.Context())
	require.NoError(x.w.t, err, after)
	require.NotEmpty(x.w.t, v.Difference, "not noticed: %s", after)
	return v.Difference
}

// keyOf are the columns that name a row, from the primary key.
func (x *tamperer) keyOf(table string) []string {
	return queryColumn[string](x.w.t, x.conn, `select a.attname::text from pg_constraint n join pg_attribute a on a.attrelid = n.conrelid and a.attnum = any(n.conkey)
		where n.conrelid = $1::regclass and n.contype = 'p' order by a.attnum`, ledger.Schema+"."+table)
}

// other is an expression of another value than a column has, by its type.
var other = map[string]string{
	"numeric": "%s + 1", "bigint": "%s + 1", "integer": "%s + 1", "smallint": "%s + 1", "text": "%s || 'x'", "boolean": "not %s",
	"date": "%s + 1", "timestamp with time zone": "%s + interval '1 second'", "bytea": `%s || '\x00'`, "ARRAY": "array_append(%s, 'x')",
}

// lastRow gives the name of a row of a table, and the condition that finds it.
func (x *tamperer) lastRow(table string) (row, where string) {
	x.w.t.Helper()
	var keys []string
	for _, k := range x.keyOf(table) {
		keys = append(keys, k+"::text")
	}
	expr := "concat_ws('/', " + strings.Join(keys, ", ") + ")"
	rows := queryColumn[string](x.w.t, x.conn, `select `+expr+` from `+table+` order by ctid desc limit 1`)
	require.Len(x.w.t, rows, 1, "the table %s is empty; fill it", table)
	return rows[0], expr + " = $1"
}

// Whatever a derived table holds: a column of its last row gets another value, and that is named.
func TestVerifyFindsAChangedRow(t *testing.T) {
	t.Parallel()
	x := newTamperer(t)
	tables := queryColumn[string](t, x.conn, `select table_name::text from information_schema.tables where table_schema = $1 order by 1`, ledger.Schema)
	looked := 0
	for _, table := range tables {
		if slices.Contains(outside, table) {
			continue
		}
		looked++
		key, where := x.lastRow(table)
		saved := queryColumn[string](t, x.conn, `select to_jsonb(x)::text from `+table+` x where `+where, key)[0]
		x.names(x.changed(table, where, key), table, key)
		x.exec(`delete from `+table+` where `+where, key)
		if looked%10 == 0 { // a row that is missing is found in the same way in all of them
			x.names(x.difference("delete from "+table), table, key)
		}
		x.exec(`insert into `+table+` select * from jsonb_populate_record(null::`+table+`, $1::jsonb)`, saved)
	}
	require.GreaterOrEqual(t, looked, 31)
	x.w.verify()
	x.exec(`insert into step values (1000000, 1, 'note', 'never recorded', 1, now())`)
	require.Contains(t, x.difference("a row too many"), "in the database but not in the journal")
}

// changed changes a column of a row and gives what Verify then finds.
func (x *tamperer) changed(table, where, key string) string {
	x.w.t.Helper()
	column, kind := x.columnToChange(table, where, key)
	change := fmt.Sprintf(`update %s set %s = `+other[kind]+` where %s`, table, column, column, where)
	x.exec(change, key)
	return x.difference(change)
}

// columnToChange is the last column of a row that holds a value and is neither its name nor held by a CHECK.
func (x *tamperer) columnToChange(table, where, key string) (name, kind string) {
	x.w.t.Helper()
	rows, err := x.conn.Query(x.w.t.Context(), `select column_name::text, data_type::text from information_schema.columns c
		where table_schema = $1 and table_name = $2 and not exists (select 1 from pg_constraint n join pg_attribute a on a.attrelid = n.conrelid and a.attnum = any(n.conkey)
			where n.conrelid = format('%I.%I', $1::text, $2::text)::regclass and n.contype in ('c', 'p') and a.attname = c.column_name and a.attname <> 'amount')
		order by ordinal_position desc`, ledger.Schema, table)
	require.NoError(x.w.t, err)
	columns, err := pgx.CollectRows(rows, pgx.RowToStructByPos[struct{ Name, Type string }])
	require.NoError(x.w.t, err)
	for _, c := range columns {
		if queryColumn[bool](x.w.t, x.conn, `select `+c.Name+` is not null from `+table+` where `+where, key)[0] {
			return c.Name, c.Type
		}
	}
	require.Fail(x.w.t, "no column to change", table)
	return "", ""
}

// names fails unless a difference names the table and the row, or for sums the lot.
func (x *tamperer) names(difference, table, key string) {
	x.w.t.Helper()
	row := strings.Split(key, "/")[0]
	if table == "posting" { // named by its sum
		row = queryColumn[string](x.w.t, connect(x.w.t, x.w.db.Service), `select lot_id::text from posting where concat_ws('/', entry_id, line) = $1
			union all select '' limit 1`, key)[0]
		require.Contains(x.w.t, difference, "postings sum to")
	} else if table != "balance" && !strings.HasPrefix(difference, table+" ") {
		require.Contains(x.w.t, difference, "table "+table+":")
	}
	require.Contains(x.w.t, difference, row)
}

// Of each kind the last entry, whose trace nothing later has overwritten: taken out of the journal, it is missed.
func TestVerifyMissesEveryKindOfEntry(t *testing.T) {
	t.Parallel()
	x := newTamperer(t)
	kinds := queryColumn[string](t, x.conn, `select kind from entry where kind <> 'lot.freed' group by kind order by 1`)
	require.Len(t, kinds, 26)
	for _, kind := range kinds {
		x.exec(`create temp table saved as select * from entry where id = (select max(id) from entry where kind = $1)`, kind)
		x.exec(`delete from entry where id in (select id from saved)`)
		x.difference(kind + " is deleted")
		x.exec(`insert into entry select * from saved`)
		x.exec(`drop table saved`)
	}
	x.w.verify()
}

func TestVerifyFindsAnAlteredBody(t *testing.T) {
	t.Parallel()
	x := newTamperer(t)
	for _, c := range []struct{ kind, old, new, says string }{
		{"lot.received", `"supplier_lot":"OL-1"`, `"supplier_lot":"OL-7"`, "table lot:"},
		{"lot.received", `"grams":"3000"`, `"grams":"3001"`, "table posting:"},
		{"weighing.taken", `"typed":"700"`, `"typed":"701"`, "table weighing:"},
		{"weighing.taken", `"batch":`, `"bitch":`, "cannot be replayed"},
		{"release.decided", "looked at weights", "looked at nothing", "table release:"},
		{"reading.taken", `"passed":true`, `"passed":false`, "table reading:"},
		{"person.changed", `"role":"reviewer"`, `"role":"owner"`, "table person:"},
		{"dispatch.sent", `"reference":"INV-7"`, `"reference":"INV-8"`, "table dispatch:"},
		{"drill.recorded", "all found", "not found", "table drill:"},
		{"gate.passed", "round figures", "no reason", "table gate_pass:"},
		{"entry.struck", `{}`, `{"x":1}`, "cannot be replayed"},
	} {
		where := ` where id = (select max(id) from entry where kind = $1 and body like '%' || $2 || '%')`
		id := queryColumn[int64](t, x.conn, `select id from entry`+where, c.kind, c.old)
		require.Len(t, id, 1, c.kind)
		x.exec(`update entry set body = replace(body, $2, $3) where id = $1`, id[0], c.old, c.new)
		found := x.difference(c.kind)
		require.Contains(t, found, c.says, c.kind)
		if c.says == "cannot be replayed" {
			require.Contains(t, found, fmt.Sprint(id[0]))
		}
		x.exec(`update entry set body = replace(body, $2, $3) where id = $1`, id[0], c.new, c.old)
	}
	x.exec(`update entry set kind = 'lot.lent' where id = (select max(id) from entry where kind = 'lot.held')`)
	require.Contains(t, x.difference("a kind"), `"lot.lent"`)
	x.exec(`update entry set kind = 'lot.held' where kind = 'lot.lent'`)
	x.exec(`alter table entry drop constraint entry_check`)
	x.exec(`update entry set corrects = 1000000 where id = (select max(id) from entry where corrects is not null)`)
	require.Contains(t, x.difference("corrects"), "which is not there")
}

// A posting that is changed together with its counterpart and the balances still sums to zero, but not to the journal.
func TestVerifyFindsFalsePostingsAndFiles(t *testing.T) {
	t.Parallel()
	x := newTamperer(t)
	x.alterFiles()
	x.exec(`update posting set amount = amount * 2 where entry_id = (select min(entry_id) from posting where lot_id = $1)`, x.w.oliveLot)
	x.exec(`update balance b set amount = p.amount from (select lot_id, place, place_id, sum(amount) amount from posting group by 1, 2, 3) p
		where (b.lot_id, b.place, b.place_id) = (p.lot_id, p.place, p.place_id) and b.lot_id = $1 and b.amount <> p.amount`, x.w.oliveLot)
	found := x.difference("a pair of postings")
	require.Contains(t, found, "table posting:")
	require.Contains(t, found, fmt.Sprint(x.w.oliveLot))
}

func (x *tamperer) alterFiles() {
	t := x.w.t
	t.Helper()
	document := queryColumn[[]byte](t, x.conn, `select digest from document`)[0]
	label := queryColumn[[]byte](t, x.conn, `select digest from label`)[0]
	x.exec(`update attachment set bytes = bytes || 'x' where digest = $1`, document)
	require.Contains(t, x.difference("bytes"), fmt.Sprintf("file %x: its bytes have another digest", document))
	_, err := x.w.l.File(t.Context(), document)
	fault(t, err, ledger.Conflict)
	x.exec(`delete from attachment where digest = $1`, document)
	require.Contains(t, x.difference("a document"), "its file is not kept")
	x.exec(`insert into attachment values ($1, 'an invented certificate')`, document)
	x.w.verify()
	x.exec(`delete from attachment where digest = $1`, label)
	require.Contains(t, x.difference("a label"), "its file is not kept")
	x.exec(`insert into attachment values ($1, 'an invented label')`, label)
	x.w.verify()
}

func TestNoTableIsForgotten(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	names, err := w.l.Unlisted(t.Context())
	require.NoError(t, err)
	require.Empty(t, names)
	_, err = connect(t, w.db.Owner).Exec(t.Context(), `create table forgotten (id int)`)
	require.NoError(t, err)
	// The service's role sees only tables that it has a right to: ask as the owner.
	l, err := ledger.Open(t.Context(), w.db.Owner, nil)
	require.NoError(t, err)
	defer l.Close()
	names, err = l.Unlisted(t.Context())
	require.NoError(t, err)
	require.Equal(t, []string{"forgotten"}, names)
}
