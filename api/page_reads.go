package api

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"ashbook/ledger"
)

// These are reads that pages need and the ledger does not offer yet; they change nothing.

// parts are what a prepared material is made of, as planned.
func (s *Server) parts(ctx context.Context, material int64) ([]ledger.MaterialPart, error) {
	rows, err := s.ledger.Pool().Query(ctx, `select part_id, share from material_part where material_id = $1 order by part_id`, material)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[ledger.MaterialPart])
}

// journalRow is an entry as it stands in the journal.
type journalRow struct {
	ID          int64
	Kind        string
	Person      string
	HappenedAt  time.Time
	RecordedAt  time.Time
	Corrects    int64
	CorrectedBy int64
	Reason      string
	Body        string
}

const journalColumns = `select e.id, e.kind, coalesce(p.name, 'ashbook itself'), e.happened_at, e.recorded_at, coalesce(e.corrects, 0),
	coalesce((select c.id from entry c where c.corrects = e.id), 0), e.reason, e.body from entry e left join person p on p.id = e.person_id `

// entries are the latest hundred entries below a number; 0: the latest of all.
func (s *Server) entries(ctx context.Context, before int64) ([]journalRow, error) {
	rows, err := s.ledger.Pool().Query(ctx, journalColumns+`where $1 = 0 or e.id < $1 order by e.id desc limit 100`, before)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[journalRow])
}

// entry is one entry.
func (s *Server) entry(ctx context.Context, id int64) (journalRow, error) {
	rows, err := s.ledger.Pool().Query(ctx, journalColumns+`where e.id = $1`, id)
	if err != nil {
		return journalRow{}, err
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[journalRow])
	if err == nil && len(list) == 0 {
		return journalRow{}, newProblem("not-found", "there is no entry "+digits(id))
	}
	if err != nil {
		return journalRow{}, err
	}
	return list[0], nil
}
