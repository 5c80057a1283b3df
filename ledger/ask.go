package ledger

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"ashbook/ledger/code"
)

// Answer is what the ledger knows about a code, a supplier's lot number or a buyer: where it came from, what it went
// into through any depth of premix and rework, who holds it now, and what is not accounted for.
type Answer struct {
	Asked   string    `json:"asked"`
	Day     string    `json:"day" doc:"day of the answer, in the shop's time zone"`
	Found   []Found   `json:"found" doc:"what the words stand for"`
	Sources []Source  `json:"sources" doc:"what it was made from, the nearest first"`
	Reached []Reached `json:"reached" doc:"the lots asked about and all that they went into"`
	Open    []Making  `json:"open" doc:"batches that used one of these lots and have given nothing yet"`
	Sent    []Sent    `json:"sent" doc:"where bars of these lots were sent, the latest first"`
}

// Found is one thing that the asked words stand for.
type Found struct {
	What string `json:"what" enum:"lot,batch,dispatch,buyer"`
	ID   int64  `json:"id"`
	Code string `json:"code,omitempty"`
	Name string `json:"name"`
}

// Source is a lot that went into one of the lots asked about.
type Source struct {
	Lot         int64           `json:"lot"`
	Code        string          `json:"code"`
	What        string          `json:"what"`
	Name        string          `json:"name"`
	Supplier    string          `json:"supplier,omitempty"`
	SupplierLot string          `json:"supplier_lot,omitempty"`
	MadeOn      time.Time       `json:"made_on"`
	Into        string          `json:"into" doc:"code of the batch that used it"`
	Portion     string          `json:"portion,omitempty"`
	Grams       decimal.Decimal `json:"grams" doc:"as weighed into that batch, soap on the as-poured basis"`
	Depth       int             `json:"depth" doc:"1: weighed into the batch itself"`
	Held        bool            `json:"held"`
}

// Reached is a lot with where all of it is.
type Reached struct {
	Lot         int64           `json:"lot"`
	Code        string          `json:"code"`
	What        string          `json:"what"`
	Name        string          `json:"name"`
	Unit        string          `json:"unit"`
	Batch       string          `json:"batch,omitempty" doc:"code of the batch that made it"`
	BatchID     int64           `json:"batch_id,omitempty"`
	Stage       string          `json:"stage,omitempty"`
	Supplier    string          `json:"supplier,omitempty" doc:"who sent it, for a bought lot"`
	SupplierLot string          `json:"supplier_lot,omitempty"`
	MadeOn      time.Time       `json:"made_on" doc:"day of making, or of receipt"`
	Portion     string          `json:"portion,omitempty"`
	Depth       int             `json:"depth" doc:"0: asked about; 1: made from it; and so on"`
	Held        bool            `json:"held"`
	HoldReason  string          `json:"hold_reason,omitempty"`
	Struck      bool            `json:"struck" doc:"taken back by a later entry: it was never there"`
	Made        decimal.Decimal `json:"made" doc:"as made or received"`
	OnHand      decimal.Decimal `json:"on_hand" doc:"on shelf, rack and ready"`
	InPots      decimal.Decimal `json:"in_pots" doc:"used in batches"`
	Sent        decimal.Decimal `json:"sent"`
	Kept        decimal.Decimal `json:"kept" doc:"retained samples"`
	Gone        decimal.Decimal `json:"gone" doc:"thrown away or evaporated"`
	Unaccounted decimal.Decimal `json:"unaccounted" doc:"missing at the last count; below zero: more was found than there was"`
}

// Making is a batch under way that holds some of a reached lot: no lot of its own stands for it yet.
type Making struct {
	Batch   int64           `json:"batch"`
	Code    string          `json:"code"`
	Name    string          `json:"name"`
	Stage   string          `json:"stage"`
	LotCode string          `json:"lot_code" doc:"the lot that went in"`
	Grams   decimal.Decimal `json:"grams" doc:"as weighed in, soap on the as-poured basis"`
}

// Sent is a number of bars that a dispatch holds.
type Sent struct {
	Dispatch  int64           `json:"dispatch"`
	Code      string          `json:"code"`
	SentOn    time.Time       `json:"sent_on"`
	Channel   string          `json:"channel"`
	Buyer     string          `json:"buyer,omitempty"`
	BuyerID   *int64          `json:"buyer_id,omitempty"`
	Occasion  string          `json:"occasion,omitempty"`
	Reference string          `json:"reference,omitempty"`
	Lot       int64           `json:"lot"`
	LotCode   string          `json:"lot_code"`
	Pieces    decimal.Decimal `json:"pieces" doc:"sent and not returned"`
	Returned  decimal.Decimal `json:"returned"`
}

// Ask answers about a printed code, a supplier's lot number, an invoice number, or a buyer's name (whole or its
// beginning). Nothing found is NotFound, with the codes that it is likely a misreading of.
//
// All of the answer is of one moment of the database. Its queries are few rows each by numbers that are known, so that
// planning them anew for every question, as PostgreSQL would, takes longer than they do. The transaction begins and ends
// on the way of the first and the last of them: each journey to the server costs about as much as finding a lot.
func (l *Ledger) Ask(ctx context.Context, words string) (*Answer, error) {
	conn, err := l.pool.Acquire(ctx)
	if err != nil {
		return nil, err
	}
	defer conn.Release()
	defer func() { // nothing was found, or a query failed; nothing was written
		if conn.Conn().PgConn().TxStatus() == 'I' {
			return
		}
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
		defer cancel()
		_, _ = conn.Exec(ctx, `rollback`)
	}()
	return asking{q: conn, first: []string{`begin isolation level repeatable read read only`, `set local plan_cache_mode = force_generic_plan`},
		last: []string{`commit`}}.ask(ctx, words, l.Now())
}

// asking is how a question reaches the database: by q, with what goes before its first query and after its last one.
type asking struct {
	q           querier
	first, last []string
}

func (k asking) ask(ctx context.Context, text string, now time.Time) (*Answer, error) {
	text = strings.TrimSpace(text)
	if text == "" || len(text) > 200 {
		return nil, invalid("q", "ask with a code, a supplier's lot number, an invoice number or a buyer's name")
	}
	a := &Answer{Asked: text, Sources: []Source{}, Reached: []Reached{}, Open: []Making{}, Sent: []Sent{}}
	hits, err := k.find(ctx, text)
	if err != nil {
		return nil, err
	}
	if len(hits) == 0 {
		return nil, nothingFound(ctx, k.q, text)
	}
	lots := []int64{}
	for _, h := range hits {
		a.Found, lots = append(a.Found, h.Found), append(lots, h.Lots...)
	}
	slices.Sort(lots)
	lots = slices.Compact(lots)
	used, err := a.walk(ctx, k.q, lots, now)
	if err != nil {
		return nil, err
	}
	return a, a.look(ctx, k.q, used, k.last)
}

// hit is a found thing with the lots that it stands for.
type hit struct {
	Found
	Lots []int64
}

func (k asking) find(ctx context.Context, text string) (hits []hit, err error) {
	batch := &pgx.Batch{}
	for _, sql := range k.first {
		batch.Queue(sql)
	}
	c, err := code.Parse(text)
	if err != nil {
		queue(batch, &hits, byWords, text)
		return hits, k.q.SendBatch(ctx, batch).Close()
	}
	queue(batch, &hits, byCode, c.String())
	if err := k.q.SendBatch(ctx, batch).Close(); err != nil || len(hits) > 0 {
		return hits, err
	}
	return all[hit](ctx, k.q, byWords, text)
}

const byCode = `select 'lot', id, code, name, array[id] from lot where code = $1
	union all select 'batch', id, code, name, array(select l.id from lot l where l.batch_id = b.id and l.struck_by is null) from batch b where code = $1
	union all select 'dispatch', ` + dispatchHit + ` from dispatch d where d.code = $1`

// The indexes of these columns leave out empty words, so the queries do too; the buyer's name lies between its beginning and that followed
// by the last character there is, which an index can search, as it cannot for a pattern it does not know yet.
const byWords = `(select 'lot', id, code, name, array[id] from lot where lower(supplier_lot) = lower($1) and supplier_lot <> '' order by id limit 50)
	union all (select 'dispatch', ` + dispatchHit + ` from dispatch d where d.reference = $1 and d.reference <> '' order by d.id limit 50)
	union all (select 'buyer', b.id, '', c.name, array(select distinct dl.lot_id from dispatch d join dispatch_line dl on dl.dispatch_id = d.id
		where d.buyer_id = b.id) from contact c join buyer b on b.id = c.subject_id
		where lower(c.name) ~>=~ lower($1) and lower(c.name) ~<~ (lower($1) || chr(1114111)) order by c.name limit 20)`

const dispatchHit = `d.id, d.code, coalesce(nullif(d.occasion, ''), d.channel), array(select lot_id from dispatch_line where dispatch_id = d.id)`

// nothingFound says so, and names the codes on record that differ from the asked one by a single slip.
func nothingFound(ctx context.Context, q querier, text string) error {
	var near []string
	for _, c := range code.Near(text) {
		near = append(near, c.String())
	}
	known, err := column[string](ctx, q, `select code from lot where code = any($1) union select code from batch where code = any($1)
		union select code from dispatch where code = any($1) order by 1 limit 10`, near)
	if err != nil {
		return err
	}
	if len(known) > 0 {
		return notFound("q", "there is no %q; a misread code? There are %s", text, strings.Join(known, ", "))
	}
	return notFound("q", "nothing is known of %q; try the code on the bar, the supplier's lot number, the invoice number, or how the buyer's name begins", text)
}

// Text is the answer in plain words, for a terminal or a telephone.
func (a *Answer) Text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "Asked on %s about %q\n", a.Day, a.Asked)
	for _, f := range a.Found {
		fmt.Fprintf(&b, "  %s %s %s\n", f.What, f.Code, f.Name)
	}
	if len(a.Sources) > 0 {
		b.WriteString("\nCame from\n")
	}
	for _, s := range a.Sources {
		fmt.Fprintf(&b, "  %s%s  %s  %s g into %s%s%s\n", strings.Repeat("  ", s.Depth-1), s.Code, s.Name, s.Grams, s.Into, inPortion(s.Portion), s.origin())
	}
	if len(a.Reached) > 0 {
		b.WriteString("\nIs, and went into\n")
	}
	for _, r := range a.Reached {
		fmt.Fprintf(&b, "  %s%s  %s%s: made %s %s; on hand %s, used %s, sent %s, kept %s, gone %s, not accounted for %s%s\n", strings.Repeat("  ", r.Depth), r.Code,
			r.Name, r.origin(), r.Made, r.Unit, r.OnHand, r.InPots, r.Sent, r.Kept, r.Gone, r.Unaccounted, r.holdNote())
	}
	if len(a.Open) > 0 {
		b.WriteString("\nIs in batches that have given nothing yet\n")
	}
	for _, o := range a.Open {
		fmt.Fprintf(&b, "  %s  %s (%s): %s g of %s\n", o.Code, o.Name, o.Stage, o.Grams, o.LotCode)
	}
	if len(a.Sent) > 0 {
		b.WriteString("\nWho holds bars\n")
	}
	for _, s := range a.Sent {
		fmt.Fprintf(&b, "  %s  %s  %s: %s of %s (%s returned)\n", s.SentOn.Format(dateLayout), s.Code, s.To(), s.Pieces, s.LotCode, s.Returned)
	}
	return b.String()
}

func inPortion(p string) string {
	if p == "" {
		return ""
	}
	return " (portion " + p + ")"
}

func (s Source) origin() string {
	text := supplied(s.Supplier, s.SupplierLot, s.MadeOn)
	if s.Held {
		text += "  ON HOLD"
	}
	return text
}

// supplied says where a bought lot came from; nothing for what was made here.
func supplied(supplier, number string, on time.Time) string {
	if supplier == "" {
		return ""
	}
	if number == "" {
		number = "(none given)"
	}
	return fmt.Sprintf("  from %s, their lot %s, received %s", supplier, number, on.Format(dateLayout))
}

func (r Reached) origin() string {
	if r.Batch == "" {
		return supplied(r.Supplier, r.SupplierLot, r.MadeOn)
	}
	return fmt.Sprintf(" (batch %s, %s)", r.Batch, r.Stage)
}

func (r Reached) holdNote() string {
	if r.Struck {
		return "  STRUCK: it was never there"
	}
	if !r.Held {
		return ""
	}
	return "  ON HOLD: " + r.HoldReason
}

// To says who got it: the buyer by name, or the occasion.
func (s Sent) To() string {
	switch {
	case s.Buyer != "":
		return s.Buyer
	case s.Occasion != "":
		return s.Occasion
	case s.BuyerID != nil:
		return fmt.Sprintf("buyer %d (name erased)", *s.BuyerID)
	}
	return s.Channel
}
