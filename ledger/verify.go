package ledger

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
)

// derived are the tables that follow from the journal, each with the columns that name a row.
var derived = []struct{ name, key string }{
	{"posting", "entry_id, line"}, {"balance", "lot_id, place, place_id"}, {"shop", "id"}, {"person", "id"}, {"serial", "kind, day"},
	{"supplier", "id"}, {"material", "id"}, {"material_part", "material_id, part_id"}, {"formula", "id"}, {"formula_version", "id"},
	{"formula_portion", "version_id, portion"}, {"formula_line", "version_id, line"}, {"formula_plan", "version_id, line"}, {"batch", "id"},
	{"batch_portion", "batch_id, portion"}, {"batch_line", "batch_id, line"}, {"lot", "id"}, {"document", "id"}, {"weighing", "entry_id"},
	{"reading", "entry_id"}, {"step", "entry_id"}, {"gate_pass", "entry_id"}, {"deviation", "id"}, {"release", "entry_id"}, {"buyer", "id"},
	{"dispatch", "id"}, {"dispatch_line", "dispatch_id, line"}, {"dispatch_return", "entry_id"}, {"stock_move", "entry_id"}, {"label", "id"},
	{"drill", "id"},
}

func derivedTables() (names []string) {
	for _, t := range derived {
		names = append(names, t.name)
	}
	return names
}

func journalTables() []string { return []string{"entry", "posting"} }

// Verdict is what Verify found.
type Verdict struct {
	Entries    int64   `json:"entries"`
	Rows       int64   `json:"rows" doc:"rows of derived tables that were compared"`
	Difference string  `json:"difference,omitempty" doc:"the first difference; empty when there is none"`
	Seconds    float64 `json:"seconds"`
}

// Text is the verdict in words.
func (v *Verdict) Text() string {
	if v.Difference != "" {
		return "the tables do not follow from the journal: " + v.Difference + "\n"
	}
	return fmt.Sprintf("verified: %d entries replayed, %d rows compared, no difference (%.1f s)\n", v.Entries, v.Rows, v.Seconds)
}

// Verify replays the whole journal into empty tables and compares every derived table with them, row for row. It also
// sums the postings and looks at the kept files by rules of its own, which share nothing with the replay. All of it
// sees one moment of the database; writers go on meanwhile.
//
// The empty tables are temporary ones of this connection, so that the service's own role can verify.
func (l *Ledger) Verify(ctx context.Context) (*Verdict, error) {
	start := time.Now()
	conn, err := l.pool.Acquire(ctx)
	if err != nil {
		return nil, err
	}
	defer conn.Release()
	tx, err := conn.BeginTx(ctx, pgx.TxOptions{IsoLevel: pgx.RepeatableRead})
	if err != nil {
		return nil, err
	}
	defer func() { // nothing is kept: rolling back drops the temporary tables
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
		defer cancel()
		_ = tx.Rollback(ctx)
	}()
	if _, err := tx.Exec(ctx, `set local idle_in_transaction_session_timeout = 0`); err != nil {
		return nil, err
	}
	v := &Verdict{}
	if v.Difference, err = firstFault(ctx, tx); err != nil || v.Difference != "" {
		return v, err
	}
	if err := replay(ctx, tx, v); err != nil {
		return nil, err
	}
	if v.Difference == "" {
		err = compare(ctx, tx, v)
	}
	v.Seconds = time.Since(start).Seconds()
	return v, err
}

// invariants are queries that give a row, in words, where something cannot be.
var invariants = []string{
	`select format('the triggers that refuse changes: %s of 6 stand guard on entry, posting and attachment', count(*)) from pg_trigger g join pg_class c on c.oid = g.tgrelid
		join pg_namespace n on n.oid = c.relnamespace where n.nspname = '` + Schema + `' and c.relname in ('entry', 'posting', 'attachment')
		and g.tgenabled in ('O', 'A') and not g.tgisinternal having count(*) <> 6`,
	`select format('entry %s corrects entry %s, which is not there', e.id, e.corrects) from entry e left join entry o on o.id = e.corrects
		where e.corrects is not null and o.id is null order by e.id limit 1`,
	`select format('lot %s: its postings sum to %s, not to zero', lot_id, sum(amount)) from posting group by lot_id having sum(amount) <> 0 order by lot_id limit 1`,
	`select format('lot %s at %s/%s: the balance is %s, the postings sum to %s', lot_id, place, place_id, b.amount, p.amount)
		from balance b full join (select lot_id, place, place_id, sum(amount) amount from posting group by 1, 2, 3) p using (lot_id, place, place_id)
		where coalesce(b.amount, 0) <> coalesce(p.amount, 0) order by lot_id, place, place_id limit 1`,
	`select format('entry %s: posting to lot %s without an entry', p.entry_id, p.lot_id) from posting p left join entry e on e.id = p.entry_id where e.id is null limit 1`,
	`select format('file %s: its bytes have another digest', encode(digest, 'hex')) from attachment where sha256(bytes) <> digest limit 1`,
	`select format('document %s: its file is not kept', d.id) from document d left join attachment a on a.digest = d.digest where a.digest is null limit 1`,
	`select format('label %s: its file is not kept', x.id) from label x where not exists (select 1 from attachment where digest = x.digest)
		or not exists (select 1 from attachment where digest = x.inputs) limit 1`,
}

func firstFault(ctx context.Context, tx pgx.Tx) (string, error) {
	for _, sql := range invariants {
		faults, err := column[string](ctx, tx, sql)
		if err != nil {
			return "", err
		}
		if len(faults) > 0 {
			return faults[0], nil
		}
	}
	return "", nil
}

// replay applies every entry, in the order of numbers, to empty tables that stand before the real ones on the path.
func replay(ctx context.Context, tx pgx.Tx, v *Verdict) error {
	for _, t := range derivedTables() {
		if _, err := tx.Exec(ctx, fmt.Sprintf(`create temp table %s (like %s.%s including defaults including constraints including indexes) on commit drop`, t, Schema, t)); err != nil {
			return fmt.Errorf("make an empty %s: %w; the role needs the TEMPORARY right on the database", t, err)
		}
	}
	// From here an unqualified name can only be an empty table of ours: a stray write cannot reach the real ones.
	if _, err := tx.Exec(ctx, `set local search_path = pg_temp`); err != nil {
		return err
	}
	defer func() { _, _ = tx.Exec(ctx, `set local search_path = `+Schema) }()
	for last := int64(0); ; {
		entries, err := readEntries(ctx, tx, last, 500)
		if err != nil || len(entries) == 0 {
			return err
		}
		for _, e := range entries {
			if err := applyAgain(ctx, &Tx{Tx: tx, zone: time.UTC}, e); err != nil {
				v.Difference = fmt.Sprintf("entry %d (%s) cannot be replayed: %s", e.ID, e.Kind, err)
				return nil
			}
			v.Entries++
			last = e.ID
		}
	}
}

type journalRow struct {
	ID         int64
	Kind       string
	Format     int16
	HappenedAt time.Time
	RecordedAt time.Time
	PersonID   int64
	Corrects   int64
	Reason     string
	Body       string
	OldKind    string
	OldFormat  int16
	OldBody    string
}

func readEntries(ctx context.Context, q querier, after int64, limit int) ([]journalRow, error) {
	return all[journalRow](ctx, q, `select e.id, e.kind, e.format, e.happened_at, e.recorded_at, e.person_id, coalesce(e.corrects, 0), e.reason, e.body,
		coalesce(o.kind, ''), coalesce(o.format, 0), coalesce(o.body, '') from `+Schema+`.entry e left join `+Schema+`.entry o on o.id = e.corrects
		where e.id > $1 order by e.id limit $2`, after, limit)
}

func applyAgain(ctx context.Context, tx *Tx, r journalRow) error {
	body, err := decode(r.Kind, r.Format, []byte(r.Body))
	if err != nil {
		return err
	}
	e := &Entry{ID: r.ID, HappenedAt: r.HappenedAt, RecordedAt: r.RecordedAt, PersonID: r.PersonID, Corrects: r.Corrects, Reason: r.Reason}
	_, e.strikes = body.(*EntryStruck)
	if r.Corrects != 0 {
		old, err := decode(r.OldKind, r.OldFormat, []byte(r.OldBody))
		if err != nil {
			return err
		}
		fixable, ok := old.(Correctable)
		if !ok {
			return fmt.Errorf("it corrects entry %d, whose kind cannot be corrected", r.Corrects)
		}
		if err := tx.strike(ctx, &Entry{ID: r.Corrects}, e, fixable); err != nil {
			return err
		}
	}
	if err := body.Apply(ctx, tx, e); err != nil {
		return err
	}
	return tx.settle(ctx)
}

// compare names the first row, in the order of tables and keys, that differs between the real and the replayed tables.
func compare(ctx context.Context, tx pgx.Tx, v *Verdict) error {
	for _, t := range derived {
		n, err := scalar[int64](ctx, tx, fmt.Sprintf(`select count(*) from %s.%s`, Schema, t.name))
		if err != nil {
			return err
		}
		v.Rows += n
		diff, err := column[string](ctx, tx, fmt.Sprintf(`select which || row from (
			(select 'in the database but not in the journal: ' which, to_jsonb(x)::text as row, %[3]s from (select * from %[1]s.%[2]s except select * from pg_temp.%[2]s) x order by %[3]s limit 1)
			union all
			(select 'in the journal but not in the database: ', to_jsonb(x)::text, %[3]s from (select * from pg_temp.%[2]s except select * from %[1]s.%[2]s) x order by %[3]s limit 1)) d
			order by %[3]s limit 2`, Schema, t.name, t.key))
		if err != nil {
			return fmt.Errorf("compare %s: %w", t.name, err)
		}
		if len(diff) > 0 {
			v.Difference = "table " + t.name + ": " + strings.Join(diff, "; ")
			return nil
		}
	}
	return nil
}
