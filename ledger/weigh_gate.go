package ledger

import (
	"context"
	"fmt"
	"slices"
	"time"

	"ashbook/ledger/measure"
)

// Gate is the weigh gate: the right lot, fit for use, in about the right amount.
func (w *WeighingTaken) Gate(ctx context.Context, tx *Tx, e *Entry) (Judgement, error) {
	j := Judgement{Gate: "weigh", Batch: w.Batch, Lot: w.Lot}
	fit(&j, w.lot, tx.day(e.HappenedAt))
	if w.Line == 0 && w.lye {
		j.add(Stop, "lye-unplanned", fmt.Sprintf("%s (%s) is lye and stands on no line of the weigh list; choose its line, or say why more goes in", w.lot.Code, w.lot.Name))
	}
	if w.line == nil {
		return j, nil
	}
	w.judgeLine(&j, *w.line, w.lot)
	if !w.line.Lye || !slices.Contains(j.stops(), offPlan) {
		return j, nil
	}
	return j, w.judgeByOils(ctx, tx, &j, e.HappenedAt)
}

// judgeByOils lets alkali off its plan pass when it fits the oils that are really in the pot: the right mass is then
// no slip.
func (w *WeighingTaken) judgeByOils(ctx context.Context, tx *Tx, j *Judgement, at time.Time) error {
	b, err := readBatch(ctx, tx, w.Batch)
	if err != nil || b.Superfat == nil {
		return err
	}
	m, err := newMender(ctx, tx, b, at)
	if err != nil {
		return err
	}
	right, known, err := m.rightFor(ctx, tx, *w.line, w.lot)
	if err != nil || !known {
		return err
	}
	more := right.Sub(w.line.Weighed)
	right = w.line.Weighed.Add(more.Mul(w.Mass.Grams).DivRound(w.PouredGrams, 6)).Round(1) // what dried on the shelf is stronger than it was filled
	fits := w.line.Weighed.Add(w.Mass.Grams).Sub(right).Abs().LessThanOrEqual(w.line.Tolerance)
	for i := range j.Findings {
		switch f := &j.Findings[i]; {
		case f.Rule == offPlan && fits:
			*f = Finding{"alkali-by-oils", Warn, fmt.Sprintf("%s: %s g were planned; for the oils that are in the pot %s g are right, and that is what was weighed", w.line.Name, w.line.Planned, right)}
		case f.Rule == offPlan:
			f.Text += fmt.Sprintf(". For the oils that are in the pot, %s g of this lot would be right", right)
		}
	}
	return nil
}

// offPlan is the rule about a mass that is not what was planned.
const offPlan = "off-plan"

// fit finds what speaks against using or selling a lot on a day.
func fit(j *Judgement, lot Lot, day time.Time) {
	if lot.Held {
		j.add(Stop, "lot-on-hold", fmt.Sprintf("lot %s (%s) is on hold: %s; use another lot, or free it with a reason", lot.Code, lot.Name, lot.HoldReason))
	}
	if lot.Expired(day) {
		j.add(Stop, "lot-expired", fmt.Sprintf("lot %s (%s) was best before %s; use another lot", lot.Code, lot.Name, lot.BestBefore.Format(dateLayout)))
	}
}

func (w *WeighingTaken) judgeLine(j *Judgement, l BatchLine, lot Lot) {
	if lot.MaterialID == nil || *lot.MaterialID != l.Material {
		j.add(Stop, "other-material", fmt.Sprintf("line %d asks for %s, lot %s is %s; pick the right lot, or note the substitution as the reason",
			l.Line, l.Name, lot.Code, lot.Name))
	}
	if l.Times > 0 && !l.Short() {
		j.add(Stop, "second-addition", fmt.Sprintf("line %d (%s) already has %s g of %s g; is this a second addition?", l.Line, l.Name, l.Weighed, l.Planned))
		return
	}
	total := l.Weighed.Add(w.Mass.Grams)
	off := total.Sub(l.Planned)
	if off.Abs().LessThanOrEqual(l.Tolerance) || (w.Partial && off.IsNegative()) {
		return
	}
	text := fmt.Sprintf("%s: %s g in the pot, %s g planned, %s g off; up to %s g needs no reason", l.Name, total, l.Planned, off, l.Tolerance)
	if slip, ok := measure.Slip(l.Planned.Sub(l.Weighed), w.Mass.Grams, w.Mass.Unit); ok {
		text += "; it looks " + slip
	}
	j.add(Stop, offPlan, text+". Weigh again, mark it as partial, or give the reason")
}
