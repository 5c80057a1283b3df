package ledger

import (
	"context"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"
)

// DeviationOpened notes that something in a batch was not as it should be. It keeps the batch from release until
// somebody has decided.
type DeviationOpened struct {
	ID    int64  `json:"id" readOnly:"true"`
	Batch int64  `json:"batch"`
	What  string `json:"what" maxLength:"2000"`
}

// Kind names the entry.
func (*DeviationOpened) Kind() string { return "deviation.opened" }

// Right is what it asks for.
func (*DeviationOpened) Right() Right { return MayMake }

// Subjects is the batch.
func (d *DeviationOpened) Subjects() []int64 { return []int64{d.Batch} }

// Check wants a batch and words.
func (d *DeviationOpened) Check(ctx context.Context, tx *Tx, _ *Entry) error {
	if err := words("what", &d.What, 2000); err != nil {
		return err
	}
	if _, err := readBatch(ctx, tx, d.Batch); err != nil {
		return err
	}
	var err error
	d.ID, err = tx.newID(ctx)
	return err
}

// Apply opens the deviation.
func (d *DeviationOpened) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	_, err := tx.Exec(ctx, `insert into deviation (id, batch_id, what, decision, opened_by) values ($1,$2,$3,'',$4)`, d.ID, d.Batch, d.What, e.ID)
	return err
}

// DeviationDecided closes a deviation with a decision.
type DeviationDecided struct {
	Deviation int64  `json:"deviation"`
	Decision  string `json:"decision" maxLength:"2000" doc:"what was found, what was done, and why the batch may go on or not"`
}

// Kind names the entry.
func (*DeviationDecided) Kind() string { return "deviation.decided" }

// Right is what it asks for.
func (*DeviationDecided) Right() Right { return MayRelease }

// Subjects is the deviation.
func (d *DeviationDecided) Subjects() []int64 { return []int64{d.Deviation} }

// Check wants an open deviation and words.
func (d *DeviationDecided) Check(ctx context.Context, tx *Tx, _ *Entry) error {
	if err := words("decision", &d.Decision, 2000); err != nil {
		return err
	}
	closed, err := scalar[bool](ctx, tx, `select closed_by is not null from deviation where id = $1`, d.Deviation)
	if errors.Is(err, pgx.ErrNoRows) {
		return notFound("deviation", "there is no deviation %d", d.Deviation)
	}
	if err == nil && closed {
		return conflict("deviation %d is decided already", d.Deviation)
	}
	return err
}

// Apply closes the deviation.
func (d *DeviationDecided) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	_, err := tx.Exec(ctx, `update deviation set decision = $2, closed_by = $3 where id = $1`, d.Deviation, d.Decision, e.ID)
	return err
}

// Deviation is a deviation as it stands; an open one has no ClosedBy.
type Deviation struct {
	ID         int64      `json:"id"`
	Batch      int64      `json:"batch"`
	What       string     `json:"what"`
	Person     string     `json:"person" doc:"who noted it"`
	HappenedAt time.Time  `json:"happened_at"`
	OpenedBy   int64      `json:"opened_by" doc:"the entry that opened it"`
	Decision   string     `json:"decision,omitempty"`
	Decider    string     `json:"decider,omitempty" doc:"who decided"`
	DecidedAt  *time.Time `json:"decided_at,omitempty"`
	ClosedBy   *int64     `json:"closed_by,omitempty" doc:"the entry that decided it"`
}

// Deviations lists those of a batch, or with batch 0 all that are open.
func (l *Ledger) Deviations(ctx context.Context, batch int64) ([]Deviation, error) {
	return all[Deviation](ctx, l.pool, `select d.id, d.batch_id, d.what, coalesce(p.name, 'ashbook itself'), o.happened_at, d.opened_by, d.decision,
		coalesce(q.name, ''), c.happened_at, d.closed_by
		from deviation d join entry o on o.id = d.opened_by left join person p on p.id = o.person_id
		left join entry c on c.id = d.closed_by left join person q on q.id = c.person_id
		where d.batch_id = $1 or ($1 = 0 and d.closed_by is null) order by d.id`, batch)
}
