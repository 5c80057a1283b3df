package ledger

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"ashbook/ledger/code"
)

// Channels are the ways in which bars leave.
var Channels = []string{"shop", "market", "online", "gift", "tester"}

// DispatchLine is a number of bars of one lot.
type DispatchLine struct {
	Lot    int64 `json:"lot"`
	Pieces int64 `json:"pieces" minimum:"1"`
}

// DispatchSent sends bars out: to a buyer, or to a market stall, where buyers have no names and the event and day
// stand for them.
type DispatchSent struct {
	Judged
	Printed
	ID        int64          `json:"id" readOnly:"true"`
	Channel   string         `json:"channel" enum:"shop,market,online,gift,tester"`
	Buyer     int64          `json:"buyer,omitempty" doc:"needed for shop and online"`
	Occasion  string         `json:"occasion,omitempty" maxLength:"200" doc:"the market or event; needed for market"`
	Reference string         `json:"reference,omitempty" maxLength:"100" doc:"invoice or order number"`
	Lines     []DispatchLine `json:"lines"`
	SentOn    string         `json:"sent_on" readOnly:"true"`
}

// Kind names the entry.
func (*DispatchSent) Kind() string { return "dispatch.sent" }

// Right is what it asks for.
func (*DispatchSent) Right() Right { return MaySell }

// Subjects are the lots.
func (d *DispatchSent) Subjects() []int64 {
	ids := []int64{d.ID}
	for _, l := range d.Lines {
		ids = append(ids, l.Lot)
	}
	return ids
}

// Check wants a receiver and bars.
func (d *DispatchSent) Check(ctx context.Context, tx *Tx, e *Entry) error {
	if err := d.checkReceiver(ctx, tx); err != nil {
		return err
	}
	if len(d.Lines) == 0 || len(d.Lines) > 200 {
		return invalid("lines", "a dispatch has 1 to 200 lines")
	}
	seen := map[int64]bool{}
	for _, line := range d.Lines {
		lot, err := readLot(ctx, tx, line.Lot)
		if err != nil {
			return err
		}
		if lot.What != "bars" {
			return invalid("lines", "%s is no lot of bars", lot.Code)
		}
		if seen[line.Lot] {
			return invalid("lines", "%s is there twice; add the pieces up", lot.Code)
		}
		seen[line.Lot] = true
		if line.Pieces < 1 || line.Pieces > 1_000_000 {
			return invalid("lines", "%s: %d pieces; give 1 or more", lot.Code, line.Pieces)
		}
	}
	day := tx.day(e.HappenedAt)
	d.SentOn = day.Format(dateLayout)
	if e.Corrects != 0 {
		return d.keepNumber(ctx, tx, e)
	}
	var err error
	if d.ID, err = tx.newID(ctx); err != nil {
		return err
	}
	d.Printed, err = tx.nextCode(ctx, code.Dispatch, day, 0)
	return err
}

func (d *DispatchSent) checkReceiver(ctx context.Context, tx *Tx) error {
	if err := oneOf("channel", d.Channel, Channels...); err != nil {
		return err
	}
	if err := anyWords("occasion", &d.Occasion, 200); err != nil {
		return err
	}
	if err := anyWords("reference", &d.Reference, 100); err != nil {
		return err
	}
	if d.Channel == "market" && d.Occasion == "" {
		return invalid("occasion", "name the market: it stands for the buyers, who leave no names")
	}
	if d.Buyer == 0 {
		if d.Channel == "shop" || d.Channel == "online" {
			return invalid("buyer", "say who gets the bars; add the buyer first if new")
		}
		return nil
	}
	known, err := exists(ctx, tx, `select 1 from buyer where id = $1`, d.Buyer)
	if err == nil && !known {
		return notFound("buyer", "there is no buyer %d", d.Buyer)
	}
	return err
}

// keepNumber gives a correction the code and day of the dispatch that it corrects.
func (d *DispatchSent) keepNumber(ctx context.Context, tx *Tx, e *Entry) error {
	_, body, err := readEntry(ctx, tx, e.Corrects)
	if err != nil {
		return err
	}
	was := body.(*DispatchSent)
	d.ID, d.Printed, d.SentOn = was.ID, was.Printed, was.SentOn
	return nil
}

// Gate is the dispatch gate: only released bars that nothing speaks against leave.
func (d *DispatchSent) Gate(ctx context.Context, tx *Tx, e *Entry) (Judgement, error) {
	j := Judgement{Gate: "dispatch"}
	day := tx.day(e.HappenedAt)
	for _, line := range d.Lines {
		lot, err := readLot(ctx, tx, line.Lot)
		if err != nil {
			return j, err
		}
		b, err := readBatch(ctx, tx, *lot.BatchID)
		if err != nil {
			return j, err
		}
		if b.Stage != Released {
			// No reason sends bars that nobody released: they do not lie where sales are taken from.
			return j, &Error{Fault: Refused, Field: "lines", Message: fmt.Sprintf("%s (batch %s) is %s, not released; release it first", lot.Code, b.Code, b.Stage),
				Findings: []Finding{{"not-released", Stop, "batch " + b.Code + " is " + b.Stage}}}
		}
		clean := len(j.Findings) == 0
		fit(&j, lot, day)
		if err := judgeSentAfterRelease(ctx, tx, &j, lot, b, e.HappenedAt); err != nil {
			return j, err
		}
		if clean && len(j.Findings) > 0 { // the passing is kept with the first lot that something speaks against
			j.Batch, j.Lot = b.ID, lot.ID
		}
	}
	return j, nil
}

// judgeSentAfterRelease looks at the moment that the person states: bars cannot have left before they were released.
func judgeSentAfterRelease(ctx context.Context, tx *Tx, j *Judgement, lot Lot, b Batch, at time.Time) error {
	released, err := scalar[*time.Time](ctx, tx, `select max(happened_at) from release where batch_id = $1 and decision = $2 and reopened_by is null`, b.ID, Released)
	if err == nil && released != nil && at.Before(*released) {
		j.add(Stop, "sent-before-release", fmt.Sprintf("%s (batch %s) was released %s, after the time given for this dispatch; correct the time, or say what happened",
			lot.Code, b.Code, released.In(tx.zone).Format("2 Jan 2006, 15:04")))
	}
	return err
}

// Apply takes the bars from what is ready.
func (d *DispatchSent) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	day, err := date("sent_on", d.SentOn)
	if err != nil {
		return err
	}
	_, err = tx.Exec(ctx, `insert into dispatch (id, code, channel, buyer_id, occasion, reference, sent_on, entry_id) values ($1,$2,$3,nullif($4,0),$5,$6,$7,$8)
		on conflict (id) do update set channel=excluded.channel, buyer_id=excluded.buyer_id, occasion=excluded.occasion, reference=excluded.reference,
		entry_id=excluded.entry_id, struck_by=null`, d.ID, d.Code, d.Channel, d.Buyer, d.Occasion, d.Reference, day, e.ID)
	if err != nil {
		return err
	}
	for i, line := range d.Lines {
		pieces := decimal.NewFromInt(line.Pieces)
		if _, err := tx.Exec(ctx, `insert into dispatch_line (dispatch_id, line, lot_id, pieces) values ($1,$2,$3,$4)`, d.ID, i+1, line.Lot, pieces); err != nil {
			return err
		}
		if err := tx.move(ctx, e, line.Lot, pieces, ready, sentBy(d.ID)); err != nil {
			return err
		}
	}
	return tx.useCode(ctx, code.Dispatch, *day, d.Printed)
}

// Strike takes the dispatch back; the bars are ready again.
func (d *DispatchSent) Strike(ctx context.Context, tx *Tx, _, by *Entry) error {
	if _, err := tx.Exec(ctx, `delete from dispatch_line where dispatch_id = $1`, d.ID); err != nil {
		return err
	}
	_, err := tx.Exec(ctx, `update dispatch set struck_by = $2 where id = $1`, d.ID, by.ID)
	return err
}

// What is done with bars that come back.
const (
	Restock = "restock" // looked at and found good
	Scrap   = "scrap"
	Keep    = "keep" // kept as evidence or sample
)

// DispatchReturned takes bars back from a dispatch: unsold from a market, or returned by a buyer.
type DispatchReturned struct {
	Dispatch int64  `json:"dispatch"`
	Lot      int64  `json:"lot"`
	Pieces   int64  `json:"pieces" minimum:"1"`
	Decision string `json:"decision" enum:"restock,scrap,keep"`
	Reason   string `json:"reason" maxLength:"500" doc:"why they came back and how they were found"`
}

// Kind names the entry.
func (*DispatchReturned) Kind() string { return "dispatch.returned" }

// Right is what it asks for.
func (*DispatchReturned) Right() Right { return MaySell }

// Subjects are the dispatch and the lot.
func (r *DispatchReturned) Subjects() []int64 { return []int64{r.Dispatch, r.Lot} }

// Check wants bars that were sent by this dispatch.
func (r *DispatchReturned) Check(ctx context.Context, tx *Tx, e *Entry) error {
	if err := oneOf("decision", r.Decision, Restock, Scrap, Keep); err != nil {
		return err
	}
	if err := words("reason", &r.Reason, 500); err != nil {
		return err
	}
	if r.Pieces < 1 {
		return invalid("pieces", "%d pieces; give 1 or more", r.Pieces)
	}
	sent, err := exists(ctx, tx, `select 1 from dispatch_line where dispatch_id = $1 and lot_id = $2`, r.Dispatch, r.Lot)
	if err == nil && !sent {
		return notFound("lot", "that dispatch held no bars of this lot")
	}
	if err != nil {
		return err
	}
	on, err := scalar[time.Time](ctx, tx, `select sent_on from dispatch where id = $1`, r.Dispatch)
	if err == nil && tx.day(e.HappenedAt).Before(on) {
		return invalid("happened_at", "the bars were sent on %s and cannot have come back before; correct the time", on.Format(dateLayout))
	}
	return err
}

// Apply takes the bars back to where the decision puts them.
func (r *DispatchReturned) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	pieces := decimal.NewFromInt(r.Pieces)
	_, err := tx.Exec(ctx, `insert into dispatch_return (entry_id, dispatch_id, lot_id, pieces, decision, reason) values ($1,$2,$3,$4,$5,$6)`,
		e.ID, r.Dispatch, r.Lot, pieces, r.Decision, r.Reason)
	if err != nil {
		return err
	}
	to := map[string]Place{Scrap: waste, Keep: kept}[r.Decision]
	if r.Decision == Restock { // ready again, unless the release was taken back meanwhile
		if to, err = tx.whereUsed(ctx, r.Lot); err != nil {
			return err
		}
	}
	return tx.move(ctx, e, r.Lot, pieces, sentBy(r.Dispatch), to)
}

// Strike crosses the return out.
func (r *DispatchReturned) Strike(ctx context.Context, tx *Tx, old, by *Entry) error {
	_, err := tx.Exec(ctx, `update dispatch_return set struck_by = $2 where entry_id = $1`, old.ID, by.ID)
	return err
}

// Dispatch is what left together.
type Dispatch struct {
	ID        int64     `json:"id"`
	Code      string    `json:"code"`
	Channel   string    `json:"channel"`
	BuyerID   *int64    `json:"buyer_id,omitempty"`
	Buyer     string    `json:"buyer,omitempty"`
	Occasion  string    `json:"occasion,omitempty"`
	Reference string    `json:"reference,omitempty"`
	SentOn    time.Time `json:"sent_on"`
	Entry     int64     `json:"entry"`
	StruckBy  *int64    `json:"struck_by,omitempty"`
}

const dispatchColumns = `d.id, d.code, d.channel, d.buyer_id, coalesce(c.name, ''), d.occasion, d.reference, d.sent_on, d.entry_id, d.struck_by
	from dispatch d left join contact c on c.subject_id = d.buyer_id`

// Dispatches lists dispatches, the newest first, 200 at a time: those with a number below before (0: from the newest).
func (l *Ledger) Dispatches(ctx context.Context, before int64) ([]Dispatch, error) {
	return all[Dispatch](ctx, l.pool, `select `+dispatchColumns+` where $1 = 0 or d.id < $1 order by d.id desc limit 200`, before)
}

// Dispatch reads one dispatch.
func (l *Ledger) Dispatch(ctx context.Context, id int64) (Dispatch, error) {
	d, err := one[Dispatch](ctx, l.pool, `select `+dispatchColumns+` where d.id = $1`, id)
	if errors.Is(err, pgx.ErrNoRows) {
		return d, notFound("dispatch", "there is no dispatch %d", id)
	}
	return d, err
}

// SentLine is one line of a dispatch with what came back.
type SentLine struct {
	Lot      int64           `json:"lot"`
	LotCode  string          `json:"lot_code"`
	Name     string          `json:"name"`
	Pieces   decimal.Decimal `json:"pieces"`
	Returned decimal.Decimal `json:"returned"`
}

// SentLines gives the lines of a dispatch.
func (l *Ledger) SentLines(ctx context.Context, dispatch int64) ([]SentLine, error) {
	return all[SentLine](ctx, l.pool, `select dl.lot_id, l.code, l.name, dl.pieces, coalesce((select sum(r.pieces) from dispatch_return r
		where r.dispatch_id = dl.dispatch_id and r.lot_id = dl.lot_id and r.struck_by is null), 0)
		from dispatch_line dl join lot l on l.id = dl.lot_id where dl.dispatch_id = $1 order by dl.line`, dispatch)
}
