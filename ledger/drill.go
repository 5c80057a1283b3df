package ledger

import (
	"context"
	"time"

	"github.com/shopspring/decimal"
)

// DrillRecorded keeps the outcome of a mock recall: what was asked, how long the answer took, and how much of what was
// made could be accounted for. It changes no stock.
type DrillRecorded struct {
	ID        int64           `json:"id" readOnly:"true"`
	Subject   string          `json:"subject" maxLength:"100" doc:"the code or number that was asked about"`
	StartedAt time.Time       `json:"started_at"`
	EndedAt   time.Time       `json:"ended_at"`
	Lots      int             `json:"lots" readOnly:"true" doc:"lots of bars reached"`
	Made      decimal.Decimal `json:"made" readOnly:"true" doc:"bars made in them"`
	Accounted decimal.Decimal `json:"accounted" readOnly:"true" doc:"bars whose place is known"`
	Notes     string          `json:"notes" maxLength:"4000" doc:"what was found, and what is to be mended"`
}

// Kind names the entry.
func (*DrillRecorded) Kind() string { return "drill.recorded" }

// Right is what it asks for.
func (*DrillRecorded) Right() Right { return MaySell }

// Subjects: nothing that exists is changed.
func (*DrillRecorded) Subjects() []int64 { return nil }

// Check asks the question anew and keeps the figures of the answer.
func (d *DrillRecorded) Check(ctx context.Context, tx *Tx, _ *Entry) error {
	if err := words("subject", &d.Subject, 100); err != nil {
		return err
	}
	if err := words("notes", &d.Notes, 4000); err != nil {
		return err
	}
	if d.EndedAt.Before(d.StartedAt) || d.EndedAt.Sub(d.StartedAt) > 30*24*time.Hour {
		return invalid("ended_at", "a drill ends after it starts, within 30 days")
	}
	a, err := asking{q: tx}.ask(ctx, d.Subject, tx.now)
	if err != nil {
		return err
	}
	d.StartedAt, d.EndedAt = d.StartedAt.UTC().Truncate(time.Microsecond), d.EndedAt.UTC().Truncate(time.Microsecond)
	d.Lots, d.Made, d.Accounted = 0, decimal.Zero, decimal.Zero
	for _, reached := range a.Reached {
		if reached.What == "bars" && !reached.Struck {
			d.Lots++
			d.Made = d.Made.Add(reached.Made)
			d.Accounted = d.Accounted.Add(reached.Made.Sub(reached.Unaccounted))
		}
	}
	d.ID, err = tx.newID(ctx)
	return err
}

// Apply keeps the drill.
func (d *DrillRecorded) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	_, err := tx.Exec(ctx, `insert into drill (id, subject, started_at, ended_at, lots, made, accounted, findings, entry_id) values ($1,$2,$3,$4,$5,$6,$7,$8,$9)`,
		d.ID, d.Subject, d.StartedAt, d.EndedAt, d.Lots, d.Made, d.Accounted, d.Notes, e.ID)
	return err
}

// Drill is a mock recall as it was recorded.
type Drill struct {
	ID        int64           `json:"id"`
	Subject   string          `json:"subject"`
	StartedAt time.Time       `json:"started_at"`
	EndedAt   time.Time       `json:"ended_at"`
	Lots      int             `json:"lots"`
	Made      decimal.Decimal `json:"made"`
	Accounted decimal.Decimal `json:"accounted"`
	Notes     string          `json:"notes"`
}

// Drills lists the drills, the newest first.
func (l *Ledger) Drills(ctx context.Context) ([]Drill, error) {
	return all[Drill](ctx, l.pool, `select id, subject, started_at, ended_at, lots, made, accounted, findings from drill order by id desc`)
}
