package ledger

import (
	"context"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"
)

// JournalEntry is an entry as it stands in the journal, with what it says.
type JournalEntry struct {
	ID          int64     `json:"id"`
	Kind        string    `json:"kind"`
	Person      string    `json:"person"`
	HappenedAt  time.Time `json:"happened_at"`
	RecordedAt  time.Time `json:"recorded_at"`
	Corrects    int64     `json:"corrects,omitempty"`
	CorrectedBy int64     `json:"corrected_by,omitempty"`
	Reason      string    `json:"reason,omitempty"`
	Body        Body      `json:"body"`
	Text        string    `json:"-"` // the body as it was kept
}

// Correctable tells whether the entry can be corrected or struck, and was not yet.
func (e JournalEntry) Correctable() bool {
	_, can := e.Body.(Correctable)
	return can && e.CorrectedBy == 0
}

// JournalQuery narrows the journal; zero fields do not.
type JournalQuery struct {
	Kind   string
	Before int64 // entries with a lower number
	Limit  int   // at most 500; 0: 100
	Oldest bool  // the oldest first, instead of the latest
}

const journalColumns = `select e.id, e.kind, e.format, coalesce(p.name, 'ashbook itself'), e.happened_at, e.recorded_at, coalesce(e.corrects, 0),
	coalesce((select c.id from entry c where c.corrects = e.id), 0), e.reason, e.body from entry e left join person p on p.id = e.person_id `

// Journal lists entries, the latest first unless asked otherwise.
func (l *Ledger) Journal(ctx context.Context, q JournalQuery) ([]JournalEntry, error) {
	if q.Limit <= 0 || q.Limit > 500 {
		q.Limit = 100
	}
	order := "desc"
	if q.Oldest {
		order = "asc"
	}
	rows, err := l.pool.Query(ctx, journalColumns+`where ($1 = '' or e.kind = $1) and ($2 = 0 or e.id < $2) order by e.id `+order+` limit $3`, q.Kind, q.Before, q.Limit)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, scanEntry)
}

// JournalEntry reads one entry.
func (l *Ledger) JournalEntry(ctx context.Context, id int64) (JournalEntry, error) {
	rows, err := l.pool.Query(ctx, journalColumns+`where e.id = $1`, id)
	if err != nil {
		return JournalEntry{}, err
	}
	e, err := pgx.CollectOneRow(rows, scanEntry)
	if errors.Is(err, pgx.ErrNoRows) {
		return e, notFound("entry", "there is no entry %d", id)
	}
	return e, err
}

func scanEntry(row pgx.CollectableRow) (JournalEntry, error) {
	var e JournalEntry
	var version int16
	err := row.Scan(&e.ID, &e.Kind, &version, &e.Person, &e.HappenedAt, &e.RecordedAt, &e.Corrects, &e.CorrectedBy, &e.Reason, &e.Text)
	if err != nil {
		return e, err
	}
	e.Body, err = decode(e.Kind, version, []byte(e.Text))
	return e, err
}

// struckWhy is the reason of the entry that struck a row of a table.
func struckWhy(table string) string {
	return `coalesce((select reason from entry x where x.id = ` + table + `.struck_by), '')`
}

// foundThen is what a gate had found when the entry e was recorded, as it stands in its body.
const foundThen = `coalesce(e.body::jsonb -> 'findings', '[]'::jsonb)`

// seenThen are the figures that a gate had looked at when the entry e was recorded.
const seenThen = `coalesce(e.body::jsonb -> 'seen', '[]'::jsonb)`
