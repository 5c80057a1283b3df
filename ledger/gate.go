package ledger

import (
	"context"
	"fmt"
	"strings"
	"time"
)

// Level says what a finding does.
type Level string

// A stop holds the entry back until it is mended or passed with a reason; a warning is kept with the entry.
const (
	Stop Level = "stop"
	Warn Level = "warn"
)

// Finding is what a rule of a gate found, with the figures that it used.
type Finding struct {
	Rule  string `json:"rule" doc:"name of the rule, for example lot-on-hold"`
	Level Level  `json:"level" enum:"stop,warn"`
	Text  string `json:"text" doc:"what was found and what to do"`
}

// Judgement is all that a gate found about one entry.
type Judgement struct {
	Gate     string
	Batch    int64
	Lot      int64
	Findings []Finding
	Seen     []string // the figures that were looked at, with the limits that held, whether anything was found or not
}

func (j *Judgement) see(format string, args ...any) {
	j.Seen = append(j.Seen, fmt.Sprintf(format, args...))
}

func (j *Judgement) add(level Level, rule, text string) {
	j.Findings = append(j.Findings, Finding{rule, level, text})
}

func (j *Judgement) stops() (rules []string) {
	for _, f := range j.Findings {
		if f.Level == Stop {
			rules = append(rules, f.Rule)
		}
	}
	return rules
}

// Judged is part of every gated body: the findings as they stood when it was recorded.
type Judged struct {
	Findings []Finding `json:"findings,omitempty" readOnly:"true" doc:"what the gate found when this was recorded"`
	Seen     []string  `json:"seen,omitempty" readOnly:"true" doc:"the figures that the gate looked at then, with the limits that held"`
}

func (j *Judged) judged(by Judgement) { j.Findings, j.Seen = by.Findings, by.Seen }

// askGate refuses a gated body on a stop, or, with a reason from a person who may, records the passing as an entry of
// its own beside the one that passes.
func (tx *Tx) askGate(ctx context.Context, by Actor, req Request, body Body, e *Entry) error {
	g, ok := body.(Gated)
	if !ok {
		return nil
	}
	j, err := g.Gate(ctx, tx, e)
	if err != nil {
		return err
	}
	body.(interface{ judged(Judgement) }).judged(j)
	stops := j.stops()
	if len(stops) == 0 {
		return nil
	}
	reason := strings.TrimSpace(req.Override)
	if reason == "" {
		return &Error{Fault: Refused, Findings: j.Findings,
			Message: "the " + j.Gate + " gate stops this; mend what it found, or have a person with the right pass it with a reason"}
	}
	pass := &GatePassed{Gate: j.Gate, Batch: j.Batch, Lot: j.Lot, Rules: stops, Findings: j.Findings, Reason: reason}
	own := *e // an entry of its own, right after the one that passes
	own.Corrects, own.Reason = 0, ""
	if own.ID, err = tx.nextEntry(ctx); err != nil {
		return err
	}
	kept, err := tx.insert(ctx, &own, pass, "", nil)
	if err != nil {
		return err
	}
	return kept.Apply(ctx, tx, &own)
}

// GatePassed says that a person went on against a gate's stop, and why.
type GatePassed struct {
	Gate     string    `json:"gate"`
	Batch    int64     `json:"batch,omitempty"`
	Lot      int64     `json:"lot,omitempty"`
	Rules    []string  `json:"rules"`
	Findings []Finding `json:"findings"`
	Reason   string    `json:"reason"`
}

// Kind names the entry.
func (*GatePassed) Kind() string { return "gate.passed" }

// Right is what passing a gate asks for.
func (*GatePassed) Right() Right { return MayOverride }

// Subjects are empty: the entry that passes has locked them.
func (*GatePassed) Subjects() []int64 { return nil }

// Check refuses a passing that stands alone: it is recorded only together with the entry that passes.
func (*GatePassed) Check(context.Context, *Tx, *Entry) error {
	return invalid("kind", "a gate is passed by recording the step itself with an override reason")
}

// Apply keeps the passing where the record of the batch shows it.
func (g *GatePassed) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	_, err := tx.Exec(ctx, `insert into gate_pass (entry_id, batch_id, lot_id, gate, rules, reason, person_id)
		values ($1,nullif($2,0),nullif($3,0),$4,$5,$6,$7)`, e.ID, g.Batch, g.Lot, g.Gate, g.Rules, g.Reason, e.PersonID)
	return err
}

// Passing is a gate that was passed against its word, as it was recorded.
type Passing struct {
	Entry      int64     `json:"entry"`
	Gate       string    `json:"gate"`
	Reason     string    `json:"reason"`
	Person     string    `json:"person"`
	HappenedAt time.Time `json:"happened_at"`
	RecordedAt time.Time `json:"recorded_at"`
	Findings   []Finding `json:"findings" doc:"what the gate had found, its stops included"`
}

// Passings lists the gates that were passed for a batch, in their order.
func (l *Ledger) Passings(ctx context.Context, batch int64) ([]Passing, error) {
	return all[Passing](ctx, l.pool, `select g.entry_id, g.gate, g.reason, coalesce(p.name, 'ashbook itself'), e.happened_at, e.recorded_at, `+foundThen+`
		from gate_pass g join entry e on e.id = g.entry_id left join person p on p.id = g.person_id
		where g.batch_id = $1 order by g.entry_id`, batch)
}
