package ledger

import (
	"context"
	"fmt"
	"time"
)

// ReleaseDecided is the decision whether a batch may be sold, by a named person on the evidence that the gate lists.
type ReleaseDecided struct {
	Judged
	Batch     int64  `json:"batch"`
	Decision  string `json:"decision" enum:"released,rejected"`
	Statement string `json:"statement" maxLength:"2000" doc:"what the person looked at, in the person's words"`
}

// Kind names the entry.
func (*ReleaseDecided) Kind() string { return "release.decided" }

// Right is what it asks for.
func (*ReleaseDecided) Right() Right { return MayRelease }

// Subjects is the batch.
func (r *ReleaseDecided) Subjects() []int64 { return []int64{r.Batch} }

// Also are its bars, which the decision moves.
func (r *ReleaseDecided) Also(ctx context.Context, tx *Tx) ([]int64, error) {
	return barLots(ctx, tx, r.Batch)
}

// Check wants bars that wait for a decision.
func (r *ReleaseDecided) Check(ctx context.Context, tx *Tx, _ *Entry) error {
	if err := oneOf("decision", r.Decision, Released, Rejected); err != nil {
		return err
	}
	if err := words("statement", &r.Statement, 2000); err != nil {
		return err
	}
	b, err := readBatch(ctx, tx, r.Batch)
	if err != nil {
		return err
	}
	return b.mustBe("release", Curing)
}

// Gate is the release gate. Rejecting needs no evidence.
func (r *ReleaseDecided) Gate(ctx context.Context, tx *Tx, e *Entry) (Judgement, error) {
	j := Judgement{Gate: "release", Batch: r.Batch}
	if r.Decision == Rejected {
		return j, nil
	}
	err := judgeRelease(ctx, tx, &j, r.Batch, e.HappenedAt)
	return j, err
}

func judgeRelease(ctx context.Context, q querier, j *Judgement, batch int64, at time.Time) error {
	b, err := readBatch(ctx, q, batch)
	if err != nil {
		return err
	}
	readings, err := readReadings(ctx, q, batch)
	if err != nil {
		return err
	}
	if err := judgeCure(ctx, q, j, b, readings, at); err != nil {
		return err
	}
	judgeAlkali(j, readings)
	seeTests(j, readings)
	open, err := column[string](ctx, q, `select what from deviation where batch_id = $1 and closed_by is null order by id`, batch)
	if err != nil {
		return err
	}
	for _, what := range open {
		j.add(Stop, "open-deviation", "open deviation: "+what)
	}
	lye, err := lyeOf(ctx, q, batch)
	if err != nil {
		return err
	}
	if err := judgeLyeOfBars(ctx, q, j, batch, lye); err != nil {
		return err
	}
	if err := judgeMade(ctx, q, j, batch); err != nil {
		return err
	}
	sample, err := exists(ctx, q, `select 1 from lot l join balance b on b.lot_id = l.id where l.batch_id = $1 and b.place = 'kept' and b.amount > 0`, batch)
	if err == nil && !sample {
		j.add(Warn, "no-sample-kept", "no bar of this batch is kept as a sample")
	}
	return err
}

// judgeLyeOfBars looks at the lye sum of what has cured: what was passed at the bench is asked about again.
func judgeLyeOfBars(ctx context.Context, q querier, j *Judgement, batch int64, lye LyeState) error {
	if !lye.Known && lye.AlkaliGrams.IsZero() {
		return judgeRemelt(ctx, q, j, batch)
	}
	if !lye.Known || lye.Superfat.IsNegative() {
		j.add(Stop, "lye-heavy", fmt.Sprintf("superfat as weighed is %s %%; do not release without a titration and a decision", Percent(lye.Superfat)))
		return nil
	}
	limits, err := lyeLimits(ctx, q, batch)
	if err != nil {
		return err
	}
	seeLye(j, lye, limits)
	if lye.Budget.Chance.GreaterThan(limits.Warn) {
		j.add(Warn, "lye-heavy-possible", fmt.Sprintf("as weighed: %s; let the titration decide, not the sum", lye.Budget.figures()))
	}
	return nil
}

// judgeRemelt looks at bars without fresh alkali: what the soap in them brought is judged by what they are made of, but
// without such soap they are none.
func judgeRemelt(ctx context.Context, q querier, j *Judgement, batch int64) error {
	f, err := loadFamily(ctx, q, []int64{batch}, true)
	if err == nil && len(f.reworked(batch)) == 0 {
		j.add(Stop, "lye-unknown", "no alkali was weighed into these bars, and no soap that is made over; do not release without a titration and a decision")
	}
	return err
}

// Apply lays released bars ready for sale.
func (r *ReleaseDecided) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	_, err := tx.Exec(ctx, `insert into release (entry_id, batch_id, decision, statement, person_id, happened_at) values ($1,$2,$3,$4,$5,$6)`,
		e.ID, r.Batch, r.Decision, r.Statement, e.PersonID, e.HappenedAt)
	if err != nil {
		return err
	}
	if err := tx.setStage(ctx, r.Batch, r.Decision); err != nil {
		return err
	}
	if r.Decision == Rejected {
		return nil
	}
	return tx.moveBars(ctx, e, r.Batch, onRack, ready)
}

// Strike takes the decision back: the batch waits again. The door has reversed the movements of its bars, which it
// cannot when some were sent already.
func (r *ReleaseDecided) Strike(ctx context.Context, tx *Tx, old, by *Entry) error {
	tag, err := tx.Exec(ctx, `update release set reopened_by = $2 where entry_id = $1 and reopened_by is null`, old.ID, by.ID)
	if err != nil {
		return err
	}
	if tag.RowsAffected() == 0 {
		return conflict("the decision of entry %d no longer holds: a correction has opened it again; decide anew", old.ID)
	}
	return tx.setStage(ctx, r.Batch, Curing)
}

// Release is a decision as it was taken. One with ReopenedBy no longer holds.
type Release struct {
	Entry       int64     `json:"entry"`
	Decision    string    `json:"decision"`
	Statement   string    `json:"statement"`
	Person      string    `json:"person"`
	HappenedAt  time.Time `json:"happened_at"`
	RecordedAt  time.Time `json:"recorded_at"`
	ReopenedBy  *int64    `json:"reopened_by,omitempty" doc:"the entry since which the decision no longer holds"`
	ReopenedWhy string    `json:"reopened_why,omitempty"`
	Findings    []Finding `json:"findings,omitempty" doc:"what the gate found when it was decided"`
	Seen        []string  `json:"seen,omitempty" doc:"the figures that the gate looked at then"`
}

// Releases lists the decisions about a batch.
func (l *Ledger) Releases(ctx context.Context, batch int64) ([]Release, error) {
	return all[Release](ctx, l.pool, `select r.entry_id, r.decision, r.statement, coalesce(p.name, 'ashbook itself'), r.happened_at, e.recorded_at, r.reopened_by,
		coalesce((select reason from entry x where x.id = r.reopened_by), ''), `+foundThen+`, `+seenThen+`
		from release r join entry e on e.id = r.entry_id left join person p on p.id = r.person_id where r.batch_id = $1 order by r.entry_id`, batch)
}

// ReleaseFindings tells what the release gate would find now.
func (l *Ledger) ReleaseFindings(ctx context.Context, batch int64) ([]Finding, error) {
	var j Judgement
	err := judgeRelease(ctx, l.pool, &j, batch, l.Now())
	return j.Findings, err
}
