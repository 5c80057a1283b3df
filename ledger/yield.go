package ledger

import (
	"context"
	"time"

	"github.com/shopspring/decimal"

	"ashbook/ledger/code"
	"ashbook/ledger/measure"
)

// Output is one lot that a batch gave.
type Output struct {
	Printed
	ID          int64           `json:"id" readOnly:"true"`
	What        string          `json:"what" enum:"bars,remnants,prepared"`
	Name        string          `json:"name,omitempty" maxLength:"200" doc:"empty: the name of the batch"`
	Portion     string          `json:"portion,omitempty" doc:"the portion that it was made from; empty: all of them"`
	Pieces      int64           `json:"pieces,omitempty" doc:"bars: how many"`
	Mass        measure.Mass    `json:"mass" doc:"all of it on the scale"`
	BestBefore  string          `json:"best_before,omitempty" format:"date" doc:"empty for what is prepared: the earliest of what went in"`
	PouredGrams decimal.Decimal `json:"poured_grams" readOnly:"true" doc:"its part of what was poured; of what is prepared its mass"`
	PourShare   decimal.Decimal `json:"pour_share" readOnly:"true" doc:"the same as a fraction of the pour; 0 for what is prepared"`
}

// BatchYielded counts and weighs what a batch gave: bars and trimmings at cutting, or a prepared lot.
type BatchYielded struct {
	Batch   int64         `json:"batch"`
	Outputs []Output      `json:"outputs"`
	Waste   *measure.Mass `json:"waste,omitempty" doc:"left in the pot or thrown away"`
	MadeOn  string        `json:"made_on" readOnly:"true"`
}

// Kind names the entry.
func (*BatchYielded) Kind() string { return "batch.yielded" }

// Right is what it asks for.
func (*BatchYielded) Right() Right { return MayMake }

// Subjects is the batch.
func (y *BatchYielded) Subjects() []int64 { return []int64{y.Batch} }

// Also are the lots that the batch gave already, which a correction changes.
func (y *BatchYielded) Also(ctx context.Context, tx *Tx) ([]int64, error) {
	return column[int64](ctx, tx, `select id from lot where batch_id = $1`, y.Batch)
}

// Check gives each output its number and code and its part of what was poured.
func (y *BatchYielded) Check(ctx context.Context, tx *Tx, e *Entry) error {
	b, err := readBatch(ctx, tx, y.Batch)
	if err != nil {
		return err
	}
	was, err := y.corrected(ctx, tx, e)
	if err != nil {
		return err
	}
	stage, doing := Unmoulded, "cutting"
	if b.Purpose != ForSoap {
		stage, doing = Weighing, "filling"
	}
	if was == nil {
		if err := b.mustBe(doing, stage); err != nil {
			return err
		}
	}
	if len(y.Outputs) == 0 || len(y.Outputs) > 50 {
		return invalid("outputs", "name 1 to 50 lots that the batch gave")
	}
	day := tx.day(e.HappenedAt)
	y.MadeOn = day.Format(dateLayout)
	// Locked here in one order, whatever the order of the outputs: two cuts at once must not wait for each other.
	if err := tx.lock(ctx, []int64{codeDay(code.Bars, day), codeDay(code.Remnants, day), codeDay(code.Prepared, day)}); err != nil {
		return err
	}
	if was != nil {
		y.MadeOn = was.MadeOn
	}
	used := map[code.Kind]int{}
	for i := range y.Outputs {
		o := &y.Outputs[i]
		if err := o.check(ctx, tx, b); err != nil {
			return err
		}
		if o.BestBefore != "" && o.BestBefore < y.MadeOn { // both are written year first
			return invalid("best_before", "%s lies before the day of making, %s", o.BestBefore, y.MadeOn)
		}
		if was != nil { // the lots stay what they are: their codes may be printed already
			o.ID, o.Printed = was.Outputs[i].ID, was.Outputs[i].Printed
			continue
		}
		if err := o.number(ctx, tx, day, used); err != nil {
			return err
		}
	}
	return y.allot(ctx, tx, b)
}

// corrected gives the record that this one puts right, nil when there is none. What can be put right is how much there was
// and what it is called; which lots there are cannot, since some may be used or sold: strike the record for that.
func (y *BatchYielded) corrected(ctx context.Context, tx *Tx, e *Entry) (*BatchYielded, error) {
	if e.Corrects == 0 {
		return nil, nil
	}
	_, body, err := readEntry(ctx, tx, e.Corrects)
	if err != nil {
		return nil, err
	}
	was := body.(*BatchYielded)
	same := was.Batch == y.Batch && len(was.Outputs) == len(y.Outputs)
	for i := 0; same && i < len(y.Outputs); i++ {
		same = was.Outputs[i].What == y.Outputs[i].What && was.Outputs[i].Portion == y.Outputs[i].Portion
	}
	if !same {
		return nil, invalid("outputs", "a correction names the same lots in the same order; strike entry %d and record it anew to change which lots there are", e.Corrects)
	}
	return was, nil
}

var outputCode = map[string]code.Kind{"bars": code.Bars, "remnants": code.Remnants, "prepared": code.Prepared}

func (o *Output) check(ctx context.Context, tx *Tx, b Batch) (err error) {
	if err := oneOf("what", o.What, "bars", "remnants", "prepared"); err != nil {
		return err
	}
	if (o.What == "prepared") != (b.Purpose != ForSoap) {
		return invalid("what", "a batch for %s does not give %s", b.Purpose, o.What)
	}
	if err := anyWords("name", &o.Name, 200); err != nil {
		return err
	}
	if o.Name == "" {
		o.Name = b.Name
	}
	if (o.What == "bars") != (o.Pieces > 0) {
		return invalid("pieces", "bars, and only bars, are counted; give the number of pieces")
	}
	if o.Mass, err = measure.ParseMass(o.Mass.Typed, o.Mass.Unit, measure.Bulk{}); err != nil {
		return invalid("mass", "%s", err)
	}
	if err := positive("mass", o.Mass.Grams); err != nil {
		return err
	}
	return o.checkPortion(ctx, tx, b)
}

func (o *Output) number(ctx context.Context, tx *Tx, day time.Time, used map[code.Kind]int) (err error) {
	if o.ID, err = tx.newID(ctx); err != nil {
		return err
	}
	k := outputCode[o.What]
	o.Printed, err = tx.nextCode(ctx, k, day, used[k])
	used[k]++
	return err
}

func (o *Output) checkPortion(ctx context.Context, tx *Tx, b Batch) error {
	if _, err := date("best_before", o.BestBefore); err != nil {
		return err
	}
	if o.What == "prepared" && o.BestBefore == "" {
		first, err := scalar[*time.Time](ctx, tx, `select min(l.best_before) from weighing w join lot l on l.id = w.lot_id
			where w.batch_id = $1 and w.struck_by is null`, b.ID)
		if err != nil {
			return err
		}
		if first != nil {
			o.BestBefore = first.Format(dateLayout)
		}
	}
	if o.Portion == "" {
		return nil
	}
	known, err := exists(ctx, tx, `select 1 from batch_portion where batch_id = $1 and portion = $2`, b.ID, o.Portion)
	if err == nil && !known {
		return notFound("portion", "batch %s has no portion %q", b.Code, o.Portion)
	}
	return err
}

// poured is what went into a batch and stays in it, on the as-poured basis.
const poured = `select coalesce(sum(poured_grams), 0) from weighing where batch_id = $1 and struck_by is null and not leaves`

// allot divides what was poured over the outputs and the waste by their mass. Water that leaves before cutting leaves
// all of them alike, so the mass at cutting is a fair key; the last output takes what rounding leaves. Something prepared
// counts as it was filled: what is missing stayed in the jug and took its ingredients along, but for the steam of stock
// lye, which left before (loadFamily).
func (y *BatchYielded) allot(ctx context.Context, tx *Tx, b Batch) error {
	pot, err := scalar[decimal.Decimal](ctx, tx, poured, y.Batch)
	if err != nil {
		return err
	}
	total := decimal.Zero
	if y.Waste != nil {
		if *y.Waste, err = measure.ParseMass(y.Waste.Typed, y.Waste.Unit, measure.Bulk{}); err != nil {
			return invalid("waste", "%s", err)
		}
		total = y.Waste.Grams
	}
	for _, o := range y.Outputs {
		total = total.Add(o.Mass.Grams)
	}
	// Scales differ a little; more than a fiftieth over what went in is a slip, and bars would be made from nothing.
	if total.GreaterThan(pot.Mul(decimal.New(102, -2))) {
		return invalid("outputs", "%s g came out, only %s g were weighed in; weigh again, or correct the weighing that is wrong", total, pot)
	}
	left := pot
	for i := range y.Outputs {
		o := &y.Outputs[i]
		if b.Purpose != ForSoap {
			o.PouredGrams, o.PourShare = o.Mass.Grams, decimal.Zero
			continue
		}
		o.PouredGrams = pot.Mul(o.Mass.Grams).DivRound(total, 6)
		if i == len(y.Outputs)-1 && y.Waste == nil {
			o.PouredGrams = left
		}
		left = left.Sub(o.PouredGrams)
		o.PourShare = o.PouredGrams.DivRound(pot, 12)
	}
	return nil
}

// Apply makes the lots and lays bars on the rack, the rest on the shelf.
func (y *BatchYielded) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	day, err := date("made_on", y.MadeOn)
	if err != nil {
		return err
	}
	for _, o := range y.Outputs {
		if err := o.apply(ctx, tx, e, y.Batch, *day); err != nil {
			return err
		}
	}
	if e.Corrects != 0 { // the batch has gone on since, and was cut when it was cut
		return nil
	}
	stage := Made
	if y.Outputs[0].What != "prepared" {
		stage = Curing
	}
	_, err = tx.Exec(ctx, `update batch set stage = $2, cut_at = $3 where id = $1`, y.Batch, stage, e.HappenedAt)
	return err
}

// Strike takes the lots back: they were never there, and the batch waits to be cut or filled. When a correction
// follows, it rewrites them. The door has taken their amounts back, which it cannot for what was used or sent.
func (y *BatchYielded) Strike(ctx context.Context, tx *Tx, _, by *Entry) error {
	if !by.strikes {
		return nil
	}
	b, err := readBatch(ctx, tx, y.Batch)
	if err != nil {
		return err
	}
	if err := b.mustBe("striking what it gave (strike the decision about it first)", Curing, Made); err != nil {
		return err
	}
	for _, o := range y.Outputs {
		if _, err := tx.Exec(ctx, `update lot set struck_by = $2, held = true, hold_reason = 'the record that made it was struck' where id = $1`, o.ID, by.ID); err != nil {
			return err
		}
	}
	stage := Unmoulded
	if b.Purpose != ForSoap {
		stage = Weighing
	}
	_, err = tx.Exec(ctx, `update batch set stage = $2, cut_at = null where id = $1`, y.Batch, stage)
	return err
}

func (o Output) apply(ctx context.Context, tx *Tx, e *Entry, batch int64, day time.Time) error {
	before, err := date("best_before", o.BestBefore)
	if err != nil {
		return err
	}
	unit, amount := "g", o.Mass.Grams
	if o.What == "bars" {
		unit, amount = "piece", decimal.NewFromInt(o.Pieces)
	}
	_, err = tx.Exec(ctx, `insert into lot (id, code, what, name, unit, amount, material_id, supplier_lot, batch_id, portion, made_on, best_before,
		grams, poured_grams, pour_share, held, hold_reason, entry_id) values ($1,$2,$3,$4,$5,$6,(select material_id from batch where id = $7),'',$7,$8,$9,$10,$11,$12,$14,false,'',$13)
		on conflict (id) do update set name=excluded.name, amount=excluded.amount, best_before=excluded.best_before, grams=excluded.grams,
		poured_grams=excluded.poured_grams, pour_share=excluded.pour_share, entry_id=excluded.entry_id`,
		o.ID, o.Code, o.What, o.Name, unit, amount, batch, o.Portion, day, before, o.Mass.Grams, o.PouredGrams, e.ID, o.PourShare)
	if err != nil {
		return err
	}
	if err := tx.useCode(ctx, outputCode[o.What], day, o.Printed); err != nil {
		return err
	}
	place, err := tx.whereUsed(ctx, o.ID) // bars that were released since lie among those that are ready
	if err != nil {
		return err
	}
	return tx.move(ctx, e, o.ID, amount, madeBy(batch), place)
}

// Outputs lists the lots that a batch gave.
func (l *Ledger) Outputs(ctx context.Context, batch int64) ([]Lot, error) {
	return all[Lot](ctx, l.pool, `select `+lotColumns+` from lot l where l.batch_id = $1 and l.struck_by is null order by l.id`, batch)
}

// Yielded is the record of what a batch gave, with its waste.
type Yielded struct {
	Entry      int64           `json:"entry"`
	Person     string          `json:"person"`
	HappenedAt time.Time       `json:"happened_at"`
	RecordedAt time.Time       `json:"recorded_at"`
	Poured     decimal.Decimal `json:"poured" doc:"g, all that went in and stayed in"`
	Record     *BatchYielded   `json:"record"`
}

// Yielded gives the record of what a batch gave, as it stands; nil before there is one.
func (l *Ledger) Yielded(ctx context.Context, batch int64) (*Yielded, error) {
	id, err := scalar[int64](ctx, l.pool, `select coalesce(max(entry_id), 0) from lot where batch_id = $1 and struck_by is null`, batch)
	if err != nil || id == 0 {
		return nil, err
	}
	e, err := l.JournalEntry(ctx, id)
	if err != nil {
		return nil, err
	}
	y := &Yielded{Entry: e.ID, Person: e.Person, HappenedAt: e.HappenedAt, RecordedAt: e.RecordedAt, Record: e.Body.(*BatchYielded)}
	y.Poured, err = scalar[decimal.Decimal](ctx, l.pool, poured, batch)
	return y, err
}
