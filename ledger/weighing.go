package ledger

import (
	"context"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"ashbook/ledger/measure"
)

// How a weighing was checked a second time. A second method and a second person are different things, and neither
// stands in for the other.
const (
	NoSecondCheck = "none"
	SecondMethod  = "second method" // the same person by another route: loss of the tub, gross of the pot, a photo read later
	SecondPerson  = "second person"
)

// WeighingTaken puts a measured amount of a lot into a batch.
type WeighingTaken struct {
	Judged
	Batch       int64            `json:"batch"`
	Line        int              `json:"line,omitempty" doc:"line of the weigh list; 0: an addition that was not planned"`
	Lot         int64            `json:"lot"`
	Portion     string           `json:"portion,omitempty" doc:"for an unplanned addition: the portion it goes into; empty: all"`
	Mass        measure.Mass     `json:"mass" doc:"net mass as the scale showed it"`
	Pieces      *decimal.Decimal `json:"pieces,omitempty" doc:"bars reworked: how many; the mass is then what they weigh now"`
	Partial     bool             `json:"partial,omitempty" doc:"more of this line follows, from another lot"`
	Scale       string           `json:"scale,omitempty" maxLength:"60" doc:"which scale"`
	SecondCheck string           `json:"second_check,omitempty" enum:",none,second method,second person"`
	CheckedBy   int64            `json:"checked_by,omitempty" doc:"the second person"`

	Planned     *decimal.Decimal `json:"planned,omitempty" readOnly:"true"`
	Tolerance   *decimal.Decimal `json:"tolerance,omitempty" readOnly:"true"`
	Amount      decimal.Decimal  `json:"amount" readOnly:"true" doc:"what left the lot, in the lot's unit"`
	PouredGrams decimal.Decimal  `json:"poured_grams" readOnly:"true" doc:"mass on the as-poured basis: what the family tree counts"`
	Leaves      bool             `json:"leaves,omitempty" readOnly:"true" doc:"evaporates; no part of the bar"`

	lot  Lot        // as Check read it, for the gate
	line *BatchLine // nil for an unplanned addition
	lye  bool       // an unplanned addition of alkali to a soap
}

// Kind names the entry.
func (*WeighingTaken) Kind() string { return "weighing.taken" }

// Right is what it asks for.
func (*WeighingTaken) Right() Right { return MayMake }

// Subjects are the batch and the lot.
func (w *WeighingTaken) Subjects() []int64 { return []int64{w.Batch, w.Lot} }

// Also are the lots that the batch gave and all that these went into: a correction divides their pour anew and may take
// their release back.
func (w *WeighingTaken) Also(ctx context.Context, tx *Tx) ([]int64, error) {
	if !tx.corrects {
		return nil, nil
	}
	return after(ctx, tx, w.Batch)
}

// barLots are the bars that a batch gave.
func barLots(ctx context.Context, q querier, batch int64) ([]int64, error) {
	return column[int64](ctx, q, `select id from lot where batch_id = $1 and what = 'bars' order by id`, batch)
}

// Check resolves the mass and refuses what the batch cannot take.
func (w *WeighingTaken) Check(ctx context.Context, tx *Tx, e *Entry) error {
	bench, err := w.readBench(ctx, tx)
	if err != nil {
		return err
	}
	b, lot := bench.batch, bench.lot
	w.Leaves = bench.material.Kind == "spirit"
	if err := w.checkStage(ctx, tx, b, e); err != nil {
		return err
	}
	if err := w.checkOrigin(ctx, tx, b, lot); err != nil {
		return err
	}
	if w.Mass, err = measure.ParseMass(w.Mass.Typed, w.Mass.Unit, bench.material.bulk()); err != nil {
		return invalid("mass", "%s", err)
	}
	if err := positive("mass", w.Mass.Grams); err != nil {
		return err
	}
	if err := w.resolveLine(ctx, tx, bench.lines); err != nil {
		return err
	}
	if err := w.resolveSecond(ctx, tx, e); err != nil {
		return err
	}
	w.lot = lot
	if w.Line == 0 && b.Purpose == ForSoap {
		if w.lye, err = holdsAlkali(ctx, tx, lot); err != nil {
			return err
		}
	}
	return w.resolveAmount(ctx, tx, lot)
}

// holdsAlkali tells whether a lot is an alkali, or is prepared with one.
func holdsAlkali(ctx context.Context, q querier, lot Lot) (bool, error) {
	return exists(ctx, q, `select 1 from material m where m.id = $1 and `+burns, lot.MaterialID)
}

// atBench is what a weighing is checked against. Soap has neither a material nor a density.
type atBench struct {
	batch    Batch
	lot      Lot
	material Material
	lines    []BatchLine
}

// readBench reads it in one round trip: weighings are what is recorded most.
func (w *WeighingTaken) readBench(ctx context.Context, tx *Tx) (b atBench, err error) {
	var batches []Batch
	var lots []Lot
	var materials []Material
	reads := &pgx.Batch{}
	queue(reads, &batches, `select `+batchColumns+` from batch where id = $1`, w.Batch)
	queue(reads, &lots, `select `+lotColumns+` from lot l where l.id = $1`, w.Lot)
	queue(reads, &materials, `select `+materialColumns+` from material where id = (select material_id from lot where id = $1)`, w.Lot)
	queue(reads, &b.lines, batchLines, w.Batch)
	if err := tx.SendBatch(ctx, reads).Close(); err != nil {
		return b, err
	}
	if len(batches) == 0 {
		return b, noBatch(w.Batch)
	}
	if len(lots) == 0 {
		return b, noLot(w.Lot)
	}
	b.batch, b.lot = batches[0], lots[0]
	if len(materials) > 0 {
		b.material = materials[0]
	}
	return b, nil
}

// checkStage lets a weighing be put right at any later stage of its batch: what it touches is opened again. One that
// is moved to another batch has to fit that batch's stage.
func (w *WeighingTaken) checkStage(ctx context.Context, tx *Tx, b Batch, e *Entry) error {
	if e.Corrects != 0 {
		was, err := scalar[int64](ctx, tx, `select batch_id from weighing where entry_id = $1`, e.Corrects)
		if err != nil || was == b.ID {
			return err
		}
	}
	switch {
	case b.Purpose != ForSoap:
		return b.mustBe("weighing", Planned, Weighing)
	case w.Leaves:
		return b.mustBe("spraying", Weighing, LyeMade, Combined, Poured, Unmoulded)
	}
	return b.mustBe("weighing (start the batch first)", Weighing, LyeMade, Combined)
}

// checkOrigin refuses a lot that the batch is itself a part of. Only a correction after the cut could make such a circle.
func (w *WeighingTaken) checkOrigin(ctx context.Context, tx *Tx, b Batch, lot Lot) error {
	if lot.BatchID == nil {
		return nil
	}
	before, err := column[int64](ctx, tx, ancestors, []int64{*lot.BatchID}, true)
	if err != nil {
		return err
	}
	if slices.Contains(before, b.ID) {
		return invalid("lot", "%s was made from batch %s and cannot go into it; choose the lot that was really weighed", lot.Code, b.Code)
	}
	return nil
}

func (w *WeighingTaken) resolveLine(ctx context.Context, tx *Tx, lines []BatchLine) error {
	if err := anyWords("scale", &w.Scale, 60); err != nil {
		return err
	}
	w.Planned, w.Tolerance, w.line = nil, nil, nil
	if w.Line == 0 {
		return w.checkPortion(ctx, tx)
	}
	for _, l := range lines {
		if l.Line == w.Line {
			w.Planned, w.Tolerance, w.Portion, w.line = &l.Planned, &l.Tolerance, l.Portion, &l
			return nil
		}
	}
	return notFound("line", "the weigh list has no line %d", w.Line)
}

func (w *WeighingTaken) checkPortion(ctx context.Context, tx *Tx) error {
	if w.Portion == "" {
		return nil
	}
	known, err := exists(ctx, tx, `select 1 from batch_portion where batch_id = $1 and portion = $2`, w.Batch, w.Portion)
	if err != nil {
		return err
	}
	if !known {
		return notFound("portion", "the batch has no portion %q", w.Portion)
	}
	return nil
}

func (w *WeighingTaken) resolveSecond(ctx context.Context, tx *Tx, e *Entry) error {
	if w.SecondCheck == "" {
		w.SecondCheck = NoSecondCheck
	}
	if err := oneOf("second_check", w.SecondCheck, NoSecondCheck, SecondMethod, SecondPerson); err != nil {
		return err
	}
	if w.SecondCheck != SecondPerson {
		w.CheckedBy = 0
		return nil
	}
	known, err := exists(ctx, tx, `select 1 from person where id = $1 and active and id <> $2`, w.CheckedBy, e.PersonID)
	if err != nil {
		return err
	}
	if !known {
		return invalid("checked_by", "a second person is another person of the shop; for your own second look choose \"second method\"")
	}
	return nil
}

// resolveAmount turns the mass into what leaves the lot and what the family tree counts. Soap that is reworked counts
// as it was poured: it has lost water since, and its ingredients have not. What was prepared counts as it is weighed, but for
// what dried on the shelf since: of that the ingredients are there still.
func (w *WeighingTaken) resolveAmount(ctx context.Context, tx *Tx, lot Lot) error {
	w.Amount, w.PouredGrams = w.Mass.Grams, w.Mass.Grams
	if lot.Unit == "piece" {
		if w.Pieces == nil || !w.Pieces.IsPositive() || !w.Pieces.Equal(w.Pieces.Truncate(0)) {
			return invalid("pieces", "%s is counted in bars; say how many go in", lot.Code)
		}
		w.Amount = *w.Pieces
		w.PouredGrams = lot.PouredGrams.Mul(*w.Pieces).DivRound(lot.Amount, 6)
		return nil
	}
	if w.Pieces != nil {
		return invalid("pieces", "%s is kept in grams, not in pieces", lot.Code)
	}
	if lot.What == "bought" {
		return nil
	}
	dried, err := scalar[decimal.Decimal](ctx, tx, `select coalesce(sum(amount), 0) from balance where lot_id = $1 and place = 'air'`, lot.ID)
	if err != nil {
		return err
	}
	whole := lot.PouredGrams
	if lot.What == "prepared" {
		whole = lot.Grams
	}
	if left := lot.Grams.Sub(dried); left.IsPositive() {
		w.PouredGrams = w.Mass.Grams.Mul(whole).DivRound(left, 6)
	}
	return nil
}

// Apply moves the amount into the pot, or for what evaporates into the air.
func (w *WeighingTaken) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	batch := &pgx.Batch{}
	batch.Queue(`insert into weighing (entry_id, batch_id, line, lot_id, portion, planned, tolerance, amount, grams,
		poured_grams, leaves, partial, typed, unit, scale, second_check, checked_by, person_id, happened_at)
		values ($1,$2,nullif($3,0),$4,$5,$6,$7,$8,$9,$10,$11,$19,$12,$13,$14,$15,nullif($16,0),$17,$18)`,
		e.ID, w.Batch, w.Line, w.Lot, w.Portion, w.Planned, w.Tolerance, w.Amount, w.Mass.Grams, w.PouredGrams, w.Leaves, w.Mass.Typed,
		w.Mass.Unit, w.Scale, w.SecondCheck, w.CheckedBy, e.PersonID, e.HappenedAt, w.Partial)
	batch.Queue(`update batch set stage = $2 where id = $1 and stage = $3`, w.Batch, Weighing, Planned)
	var from Place
	batch.Queue(whereUsed, w.Lot, onShelf.Name, Released, ready.Name, onRack.Name).QueryRow(func(row pgx.Row) error { return row.Scan(&from.Name) })
	if err := tx.SendBatch(ctx, batch).Close(); err != nil {
		return err
	}
	to := inPot(w.Batch)
	if w.Leaves {
		to = intoAir
	}
	if err := tx.move(ctx, e, w.Lot, w.Amount, from, to); err != nil || e.Corrects == 0 {
		return err
	}
	return tx.pourAnew(ctx, w.Batch)
}

// whereUsed is the place from which a lot is used in a batch: materials from the shelf, soap from where it lies.
const whereUsed = `select case when l.what <> 'bars' then $2 when b.stage = $3 then $4 else $5 end
	from lot l left join batch b on b.id = l.batch_id where l.id = $1`

func (tx *Tx) whereUsed(ctx context.Context, lot int64) (Place, error) {
	place, err := scalar[string](ctx, tx, whereUsed, lot, onShelf.Name, Released, ready.Name, onRack.Name)
	return Place{Name: place}, err
}

// Strike crosses the weighing out. What was decided on its strength is open again.
func (w *WeighingTaken) Strike(ctx context.Context, tx *Tx, old, by *Entry) error {
	if _, err := tx.Exec(ctx, `update weighing set struck_by = $2 where entry_id = $1`, old.ID, by.ID); err != nil {
		return err
	}
	if err := tx.pourAnew(ctx, w.Batch); err != nil {
		return err
	}
	return tx.reopenAll(ctx, w.Batch, by)
}

// Weighed is a weighing as it was recorded.
type Weighed struct {
	Entry       int64            `json:"entry"`
	Batch       int64            `json:"batch"`
	Line        *int             `json:"line,omitempty"`
	Lot         int64            `json:"lot"`
	LotCode     string           `json:"lot_code"`
	Name        string           `json:"name"`
	Portion     string           `json:"portion,omitempty"`
	Planned     *decimal.Decimal `json:"planned,omitempty"`
	Grams       decimal.Decimal  `json:"grams"`
	Amount      decimal.Decimal  `json:"amount"`
	Unit        string           `json:"unit" doc:"unit of amount"`
	Typed       string           `json:"typed"`
	TypedUnit   string           `json:"typed_unit"`
	Scale       string           `json:"scale,omitempty"`
	SecondCheck string           `json:"second_check"`
	CheckedBy   string           `json:"checked_by,omitempty" doc:"the second person"`
	Person      string           `json:"person"`
	HappenedAt  time.Time        `json:"happened_at"`
	RecordedAt  time.Time        `json:"recorded_at"`
	StruckBy    *int64           `json:"struck_by,omitempty"`
	StruckWhy   string           `json:"struck_why,omitempty"`
	Findings    []Finding        `json:"findings,omitempty" doc:"what the gate found when it was recorded"`
}

// Weighings lists the weighings of a batch in their order, those that were struck included.
func (l *Ledger) Weighings(ctx context.Context, batch int64) ([]Weighed, error) {
	return all[Weighed](ctx, l.pool, `select w.entry_id, w.batch_id, w.line, w.lot_id, l.code, l.name, w.portion, w.planned, w.grams, w.amount,
		l.unit, w.typed, w.unit, w.scale, w.second_check, coalesce(c.name, ''), coalesce(p.name, 'ashbook itself'), w.happened_at, e.recorded_at, w.struck_by,
		`+struckWhy("w")+`, `+foundThen+`
		from weighing w left join person c on c.id = w.checked_by join lot l on l.id = w.lot_id join entry e on e.id = w.entry_id left join person p on p.id = w.person_id
		where w.batch_id = $1 order by w.entry_id`, batch)
}
