package ledger

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/shopspring/decimal"

	"ashbook/ledger/measure"
)

// The steps of a batch. Those in stepStage move it on; the others only happen.
const (
	StepStart    = "start"
	StepLyeMade  = "lye made"
	StepCombine  = "combine"
	StepPour     = "pour"
	StepUnmould  = "unmould"
	StepTrace    = "trace"
	StepSpray    = "spray"
	StepInsulate = "insulate"
	StepNote     = "note"
)

// Steps lists the steps in their usual order.
var Steps = []string{StepStart, StepLyeMade, StepCombine, StepTrace, StepPour, StepSpray, StepInsulate, StepUnmould, StepNote}

type passage struct {
	from []string
	to   string
}

var stepStage = map[string]passage{
	StepStart:   {[]string{Planned}, Weighing},
	StepLyeMade: {[]string{Weighing}, LyeMade},
	StepCombine: {[]string{Weighing, LyeMade}, Combined}, // stock lye is made already
	StepPour:    {[]string{Combined}, Poured},
	StepUnmould: {[]string{Poured}, Unmoulded},
}

// StepTaken says that a step of a soap batch was done.
type StepTaken struct {
	Judged
	Batch int64  `json:"batch"`
	Step  string `json:"step" enum:"start,lye made,combine,trace,pour,spray,insulate,unmould,note"`
	Note  string `json:"note,omitempty" maxLength:"2000"`
}

// Kind names the entry.
func (*StepTaken) Kind() string { return "step.taken" }

// Right is what it asks for.
func (*StepTaken) Right() Right { return MayMake }

// Subjects is the batch.
func (s *StepTaken) Subjects() []int64 { return []int64{s.Batch} }

// Check refuses a step out of its order.
func (s *StepTaken) Check(ctx context.Context, tx *Tx, _ *Entry) error {
	if err := oneOf("step", s.Step, Steps...); err != nil {
		return err
	}
	if err := anyWords("note", &s.Note, 2000); err != nil {
		return err
	}
	if s.Step == StepNote && s.Note == "" {
		return invalid("note", "is empty; write what is to be noted")
	}
	b, err := readBatch(ctx, tx, s.Batch)
	if err != nil {
		return err
	}
	if b.Purpose != ForSoap && s.Step != StepNote {
		return invalid("step", "%s is a %s; weigh its lines and record what it gave", b.Code, b.Purpose)
	}
	if m, moves := stepStage[s.Step]; moves {
		return b.mustBe("the step "+s.Step, m.from...)
	}
	return nil
}

// Gate asks the gate that stands before the step, if one does.
func (s *StepTaken) Gate(ctx context.Context, tx *Tx, e *Entry) (Judgement, error) {
	b, err := readBatch(ctx, tx, s.Batch)
	if err != nil {
		return Judgement{}, err
	}
	j := Judgement{Gate: s.Step, Batch: s.Batch}
	switch s.Step {
	case StepStart:
		if err = judgeStart(ctx, tx, &j, b, tx.day(e.HappenedAt)); err == nil {
			err = judgePlan(ctx, tx, &j, b)
		}
	case StepCombine:
		err = judgeCombine(ctx, tx, &j, b)
	case StepPour:
		err = judgePour(ctx, tx, &j, b)
	case StepUnmould:
		judgeUnmould(&j, b, e.HappenedAt)
	}
	return j, err
}

// judgeStart looks whether what the batch needs is there, free and in date.
func judgeStart(ctx context.Context, q querier, j *Judgement, b Batch, day time.Time) error {
	type need struct {
		Name    string
		Planned decimal.Decimal
		Usable  decimal.Decimal
		OnHand  decimal.Decimal
	}
	needs, err := all[need](ctx, q, `select m.name, n.planned, coalesce(s.usable, 0), coalesce(s.on_hand, 0)
		from (select material_id, sum(planned) planned from batch_line where batch_id = $1 group by material_id) n
		join material m on m.id = n.material_id
		left join (select l.material_id, sum(b.amount) filter (where not l.held and (l.best_before is null or l.best_before >= $2)) usable, sum(b.amount) on_hand
			from balance b cross join lateral (select material_id, held, best_before from lot where id = b.lot_id offset 0) l
			where b.place = 'shelf' and b.amount > 0 group by 1) s on s.material_id = n.material_id
		order by m.name`, b.ID, day)
	if err != nil {
		return err
	}
	for _, n := range needs {
		switch {
		case n.Usable.GreaterThanOrEqual(n.Planned):
		case n.OnHand.GreaterThanOrEqual(n.Planned):
			j.add(Stop, "stock-not-usable", fmt.Sprintf("%s: %s g needed, %s g on the shelf, but only %s g neither on hold nor past its date", n.Name, n.Planned, n.OnHand, n.Usable))
		default:
			j.add(Stop, "stock-short", fmt.Sprintf("%s: %s g needed, %s g usable; receive a lot or make a smaller batch", n.Name, n.Planned, n.Usable))
		}
	}
	return nil
}

// judgePlan looks whether the formula itself may make lye-heavy soap. Versions from before that was worked out say nothing.
func judgePlan(ctx context.Context, q querier, j *Judgement, b Batch) error {
	if b.FormulaVersion == nil {
		return nil
	}
	f, err := readFormula(ctx, q, *b.FormulaVersion)
	if err != nil || f.Lye == nil {
		return err
	}
	limits, err := lyeLimits(ctx, q, b.ID)
	if err != nil {
		return err
	}
	judgeChance(j, &f.Lye.LyeBudget, limits, "as planned, over the published ranges: ")
	return nil
}

// afterCombining are the kinds that may be weighed when oils and lye are together already.
var afterCombining = []string{"scent", "colour", "additive", "spirit", "prepared"}

// judgeCombine looks whether all is weighed, whether the lye fits the oils, and whether the temperatures are right.
func judgeCombine(ctx context.Context, q querier, j *Judgement, b Batch) error {
	lines, err := readLines(ctx, q, b.ID)
	if err != nil {
		return err
	}
	for _, l := range lines {
		switch {
		case l.Missing() && !slices.Contains(afterCombining, l.Kind):
			j.add(Stop, "not-weighed", l.waits())
		case !l.Missing() && l.Short():
			j.add(Warn, "weighed-short", fmt.Sprintf("line %d, %s: %s g of %s g are in; does a second lot follow?", l.Line, l.Name, l.Weighed, l.Planned))
		}
	}
	if err := judgeLye(ctx, q, j, b); err != nil {
		return err
	}
	if err := judgeLyeStrength(ctx, q, j, b); err != nil {
		return err
	}
	unchecked, err := scalar[int](ctx, q, `select count(*) from weighing w join lot l on l.id = w.lot_id join material m on m.id = l.material_id
		where w.batch_id = $1 and w.struck_by is null and w.second_check = 'none' and `+burns, b.ID)
	if err != nil {
		return err
	}
	if unchecked > 0 {
		j.add(Warn, "lye-weighed-once", "the alkali was weighed by one route only; a second method (loss of the tub, gross of the cup) finds most slips")
	}
	return judgeTemperatures(ctx, q, j, b)
}

func judgeTemperatures(ctx context.Context, q querier, j *Judgement, b Batch) error {
	if b.TempMinC == nil {
		return nil
	}
	for _, kind := range []string{OilTemperature, LyeTemperature} {
		last, err := all[degrees](ctx, q, `select value, typed_unit from reading where batch_id = $1 and kind = $2 and struck_by is null
			order by happened_at desc, entry_id desc limit 1`, b.ID, kind)
		switch {
		case err != nil:
			return err
		case len(last) == 0:
			j.add(Stop, "temperature-missing", fmt.Sprintf("no reading of the %s", kind))
		case !b.inWindow(last[0].Celsius):
			text := fmt.Sprintf("the %s is %s, the formula asks for %s", kind, measure.Degrees(last[0].Celsius, b.TempUnit),
				measure.Window(*b.TempMinC, *b.TempMaxC, b.TempUnit))
			if b.inWindow(measure.OtherScale(last[0].Celsius, last[0].Unit)) {
				text += "; it looks as if the degrees of the other scale had been typed: strike the reading and record it with its unit"
			}
			j.add(Stop, "temperature-outside", text)
		default:
			j.see("the %s: %s, the formula asks for %s", kind, measure.Degrees(last[0].Celsius, b.TempUnit), measure.Window(*b.TempMinC, *b.TempMaxC, b.TempUnit))
		}
	}
	return nil
}

// degrees is a temperature with the unit that it was typed in.
type degrees struct {
	Celsius decimal.Decimal
	Unit    string
}

func (b Batch) inWindow(celsius decimal.Decimal) bool {
	return celsius.GreaterThanOrEqual(*b.TempMinC) && celsius.LessThanOrEqual(*b.TempMaxC)
}

// judgePour looks whether everything went in and the lye still fits, dispersions and scents included.
func judgePour(ctx context.Context, q querier, j *Judgement, b Batch) error {
	lines, err := readLines(ctx, q, b.ID)
	if err != nil {
		return err
	}
	for _, l := range lines {
		if l.Missing() && l.Kind != "spirit" { // spirit is sprayed on what is poured
			j.add(Stop, "not-weighed", l.waits())
		}
	}
	if err := judgeLye(ctx, q, j, b); err != nil {
		return err
	}
	return judgeScentInPot(ctx, q, j, b.ID)
}

func judgeUnmould(j *Judgement, b Batch, at time.Time) {
	if b.PouredAt == nil {
		return
	}
	due := b.PouredAt.Add(time.Duration(b.MouldHours) * time.Hour)
	if at.Before(due) {
		j.add(Stop, "too-early", fmt.Sprintf("poured %.0f hours ago; the formula asks for %d hours in the mould", at.Sub(*b.PouredAt).Hours(), b.MouldHours))
	}
}

// Apply moves the batch to its next stage.
func (s *StepTaken) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	_, err := tx.Exec(ctx, `insert into step (entry_id, batch_id, step, note, person_id, happened_at) values ($1,$2,$3,$4,$5,$6)`,
		e.ID, s.Batch, s.Step, s.Note, e.PersonID, e.HappenedAt)
	if err != nil {
		return err
	}
	m, moves := stepStage[s.Step]
	if !moves {
		return nil
	}
	if s.Step == StepPour {
		if _, err := tx.Exec(ctx, `update batch set poured_at = $2 where id = $1`, s.Batch, e.HappenedAt); err != nil {
			return err
		}
	}
	return tx.setStage(ctx, s.Batch, m.to)
}

// Strike takes the last step back: the batch stands where it stood before it.
func (s *StepTaken) Strike(ctx context.Context, tx *Tx, old, by *Entry) error {
	if m, moves := stepStage[s.Step]; moves {
		b, err := readBatch(ctx, tx, s.Batch)
		if err != nil {
			return err
		}
		if b.Stage != m.to {
			return conflict("batch %s has gone on to %s since; strike what came after %s first", b.Code, b.Stage, s.Step)
		}
		if err := tx.stepBack(ctx, old, s); err != nil {
			return err
		}
	}
	_, err := tx.Exec(ctx, `update step set struck_by = $2 where entry_id = $1`, old.ID, by.ID)
	return err
}

func (tx *Tx) stepBack(ctx context.Context, old *Entry, s *StepTaken) error {
	before := stepStage[s.Step].from[0]
	if s.Step == StepCombine { // from lye made, unless stock lye was used and there was no such step
		made, err := exists(ctx, tx, `select 1 from step where batch_id = $1 and step = $2 and struck_by is null and entry_id < $3`, s.Batch, StepLyeMade, old.ID)
		if err != nil {
			return err
		}
		if made {
			before = LyeMade
		}
	}
	if s.Step == StepPour {
		if _, err := tx.Exec(ctx, `update batch set poured_at = null where id = $1`, s.Batch); err != nil {
			return err
		}
	}
	return tx.setStage(ctx, s.Batch, before)
}

// BatchStep is a step as it was recorded.
type BatchStep struct {
	Entry      int64     `json:"entry"`
	Step       string    `json:"step"`
	Note       string    `json:"note,omitempty"`
	Person     string    `json:"person"`
	HappenedAt time.Time `json:"happened_at"`
	RecordedAt time.Time `json:"recorded_at"`
	StruckBy   *int64    `json:"struck_by,omitempty"`
	StruckWhy  string    `json:"struck_why,omitempty"`
	Findings   []Finding `json:"findings,omitempty" doc:"what the gate found when it was recorded"`
	Seen       []string  `json:"seen,omitempty" doc:"the figures that the gate looked at then"`
}

// Steps lists the steps of a batch in their order.
func (l *Ledger) Steps(ctx context.Context, batch int64) ([]BatchStep, error) {
	return all[BatchStep](ctx, l.pool, `select s.entry_id, s.step, s.note, coalesce(p.name, 'ashbook itself'), s.happened_at, e.recorded_at, s.struck_by, `+struckWhy("s")+`, `+foundThen+`, `+seenThen+`
		from step s join entry e on e.id = s.entry_id left join person p on p.id = s.person_id where s.batch_id = $1 order by s.entry_id`, batch)
}
