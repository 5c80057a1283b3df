package ledger

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"ashbook/ledger/code"
	"ashbook/ledger/soap"
)

// What a batch is for.
const (
	ForSoap     = "soap"
	ForPremix   = "premix"    // a blend, a dispersion, an infusion: something to weigh into later batches
	ForStockLye = "stock lye" // lye solution made once, used by many batches
	ForMerge    = "merge"     // what is left of one lot and another poured into one jug: a new lot of both
)

// The stages of a batch.
const (
	Planned   = "planned"
	Weighing  = "weighing"
	LyeMade   = "lye made"
	Combined  = "combined"
	Poured    = "poured"
	Unmoulded = "unmoulded"
	Curing    = "curing"
	Released  = "released"
	Rejected  = "rejected"
	Dropped   = "dropped" // planned and never begun
	Made      = "made"    // a premix, stock lye or merged jug that is done
)

// BatchPlanned opens a batch: a soap from a formula version at a size, or something prepared for later batches.
type BatchPlanned struct {
	Printed
	ID             int64            `json:"id" readOnly:"true"`
	Purpose        string           `json:"purpose" enum:"soap,premix,stock lye,merge"`
	Name           string           `json:"name,omitempty" maxLength:"200" doc:"empty: the name of the formula or the material"`
	FormulaVersion int64            `json:"formula_version,omitempty" doc:"soap only: the version to make"`
	OilGrams       decimal.Decimal  `json:"oil_grams" required:"false" doc:"soap only: oil mass to make; 0: the formula's own"`
	MouldML        *decimal.Decimal `json:"mould_ml,omitempty" doc:"soap only: volume of the mould to fill, mL; given instead of oil_grams, and goes before it"`
	BatterDensity  *decimal.Decimal `json:"batter_density,omitempty" doc:"g/mL of such a batter as the maker measured it; with mould_ml only, where it goes before the estimate"`
	Material       int64            `json:"material,omitempty" doc:"what a premix, stock lye or merge makes"`
	Lines          []PlanLine       `json:"lines" required:"false" doc:"what to weigh; worked out for soap"`
	Portions       []FormulaPortion `json:"portions,omitempty" readOnly:"true"`
	PlannedOn      string           `json:"planned_on" readOnly:"true"`
	TempMinC       *decimal.Decimal `json:"temp_min_c,omitempty" readOnly:"true"`
	TempMaxC       *decimal.Decimal `json:"temp_max_c,omitempty" readOnly:"true"`
	TempUnit       string           `json:"temp_unit,omitempty" readOnly:"true"`
	MouldHours     int              `json:"mould_hours" readOnly:"true"`
	CureDays       int              `json:"cure_days" readOnly:"true"`
	Superfat       *decimal.Decimal `json:"superfat,omitempty" readOnly:"true"`
}

// Kind names the entry.
func (*BatchPlanned) Kind() string { return "batch.planned" }

// Right is what it asks for.
func (*BatchPlanned) Right() Right { return MayMake }

// Subjects is the batch, when the plan is struck; a new one changes nothing that exists, and its code is locked when it
// is drawn.
func (b *BatchPlanned) Subjects() []int64 { return []int64{b.ID} }

// Check works out what to weigh.
func (b *BatchPlanned) Check(ctx context.Context, tx *Tx, e *Entry) error {
	if e.Corrects != 0 {
		return invalid("corrects", "a plan is not corrected; strike it and plan anew")
	}
	if err := anyWords("name", &b.Name, 200); err != nil {
		return err
	}
	if err := oneOf("purpose", b.Purpose, ForSoap, ForPremix, ForStockLye, ForMerge); err != nil {
		return err
	}
	var err error
	if b.Purpose == ForSoap {
		err = b.fromFormula(ctx, tx)
	} else {
		err = b.fromMaterial(ctx, tx)
	}
	if err != nil {
		return err
	}
	day := tx.day(e.HappenedAt)
	b.PlannedOn = day.Format(dateLayout)
	if b.ID, err = tx.newID(ctx); err != nil {
		return err
	}
	b.Printed, err = tx.nextCode(ctx, code.Batch, day, 0)
	return err
}

func (b *BatchPlanned) fromFormula(ctx context.Context, tx *Tx) error {
	if b.Material != 0 || len(b.Lines) > 0 {
		return invalid("formula_version", "soap is made from a formula; leave material and lines out")
	}
	f, err := readFormula(ctx, tx, b.FormulaVersion)
	if err != nil {
		return err
	}
	limits, err := benchLimits(ctx, tx)
	if err != nil {
		return err
	}
	if b.OilGrams.IsZero() {
		b.OilGrams = f.OilGrams
	}
	if err := b.fillMould(ctx, tx, f, limits); err != nil {
		return err
	}
	if err := positive("oil_grams", b.OilGrams); err != nil {
		return err
	}
	if b.Name == "" {
		b.Name = f.Name
	}
	b.Lines = nil
	for _, p := range f.Plan {
		m, err := readMaterial(ctx, tx, p.Material)
		if err != nil {
			return err
		}
		grams := p.Grams.Mul(b.OilGrams).DivRound(f.OilGrams, 6)
		b.Lines = append(b.Lines, planLine(m, m.Kind == "alkali" || m.ID == f.StockLye, p.Portion, soap.ToStep(grams, limits.step(grams))))
	}
	b.Portions, b.MouldHours, b.Superfat = f.Portions, f.MouldHours, &f.Superfat
	b.TempMinC, b.TempMaxC, b.TempUnit = f.TempMinC, f.TempMaxC, f.TempUnit
	b.CureDays = f.CureDays
	if b.CureDays == 0 {
		shop, err := readShop(ctx, tx)
		if err != nil {
			return err
		}
		b.CureDays = shop.CureDays
	}
	return nil
}

// fillMould works the oils out from the volume of a mould.
func (b *BatchPlanned) fillMould(ctx context.Context, tx *Tx, f *FormulaDefined, limits BenchLimits) error {
	if b.MouldML == nil {
		if b.BatterDensity != nil {
			return invalid("batter_density", "the density of the batter is for filling a mould; give mould_ml, or leave it out")
		}
		return nil
	}
	if err := positive("mould_ml", *b.MouldML); err != nil {
		return err
	}
	if d := b.BatterDensity; d != nil && (d.LessThan(decimal.New(4, -1)) || d.GreaterThan(decimal.New(14, -1))) {
		return invalid("batter_density", "%s g/mL is no batter, which has 0.4 to 1.4; weigh a litre of it", d)
	}
	p := newPlanner(f, limits)
	if err := p.load(ctx, tx); err != nil {
		return err
	}
	var err error
	b.OilGrams, err = p.oilsForMould(*b.MouldML, b.BatterDensity)
	return err
}

func (b *BatchPlanned) fromMaterial(ctx context.Context, tx *Tx) error {
	if b.FormulaVersion != 0 || !b.OilGrams.IsZero() || b.MouldML != nil || b.BatterDensity != nil {
		return invalid("material", "a %s is made of its own lines; leave formula_version, oil_grams and mould_ml out", b.Purpose)
	}
	m, err := readMaterial(ctx, tx, b.Material)
	if err != nil {
		return err
	}
	if b.Purpose != ForMerge && m.Kind != "prepared" {
		return invalid("material", "%s is bought, not made; define a prepared material for it", m.Name)
	}
	if b.Name == "" {
		b.Name = m.Name
	}
	b.Portions, b.TempMinC, b.TempMaxC, b.TempUnit, b.MouldHours, b.CureDays, b.Superfat = nil, nil, nil, "", 0, 0, nil
	alkali, water := decimal.Zero, decimal.Zero
	for i, line := range b.Lines {
		part, err := readMaterial(ctx, tx, line.Material)
		if err != nil {
			return err
		}
		if err := positive("lines", line.Grams); err != nil {
			return err
		}
		if line.Portion != "" {
			return invalid("lines", "a %s has no portions", b.Purpose)
		}
		b.Lines[i] = planLine(part, part.Kind == "alkali", "", line.Grams)
		switch part.Kind {
		case "alkali":
			alkali = alkali.Add(line.Grams)
		case "water":
			water = water.Add(line.Grams)
		}
	}
	// More than about half does not dissolve, and what stays behind is found later as a wrong lye.
	if b.Purpose == ForStockLye && alkali.GreaterThan(water.Mul(decimal.New(11, -1))) {
		return invalid("lines", "%s g of alkali do not dissolve in %s g of water; a stock lye has no more alkali than water", alkali, water)
	}
	return nil
}

// Apply opens the batch with its weigh list.
func (b *BatchPlanned) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	day, err := date("planned_on", b.PlannedOn)
	if err != nil {
		return err
	}
	_, err = tx.Exec(ctx, `insert into batch (id, code, purpose, name, formula_version_id, material_id, stage, planned_on, temp_min_c,
		temp_max_c, mould_hours, cure_days, superfat, entry_id, temp_unit)
		values ($1,$2,$3,$4,nullif($5,0),nullif($6,0),$7,$8,$9,$10,$11,$12,$13,$14,coalesce(nullif($15,''),'C'))`,
		b.ID, b.Code, b.Purpose, b.Name, b.FormulaVersion, b.Material, Planned, day, b.TempMinC, b.TempMaxC, b.MouldHours, b.CureDays,
		b.Superfat, e.ID, b.TempUnit)
	if err != nil {
		return err
	}
	batch := &pgx.Batch{}
	for i, p := range b.Portions {
		batch.Queue(`insert into batch_portion (batch_id, portion, line, share) values ($1,$2,$3,$4)`, b.ID, p.Name, i+1, p.Share)
	}
	for i, line := range b.Lines {
		batch.Queue(`insert into batch_line (batch_id, line, material_id, portion, planned, tolerance) values ($1,$2,$3,$4,$5,$6)`,
			b.ID, i+1, line.Material, line.Portion, line.Grams, line.Tolerance)
	}
	if err := tx.SendBatch(ctx, batch).Close(); err != nil {
		return err
	}
	return tx.useCode(ctx, code.Batch, *day, b.Printed)
}

// Strike drops a batch that was never begun.
func (b *BatchPlanned) Strike(ctx context.Context, tx *Tx, _, _ *Entry) error {
	now, err := readBatch(ctx, tx, b.ID)
	if err != nil {
		return err
	}
	if err := now.mustBe("dropping the plan", Planned); err != nil {
		return err
	}
	return tx.setStage(ctx, b.ID, Dropped)
}

// Batch is one making as it stands.
type Batch struct {
	ID             int64            `json:"id"`
	Code           string           `json:"code"`
	Purpose        string           `json:"purpose"`
	Name           string           `json:"name"`
	FormulaVersion *int64           `json:"formula_version,omitempty"`
	Material       *int64           `json:"material,omitempty"`
	Stage          string           `json:"stage"`
	PlannedOn      time.Time        `json:"planned_on"`
	TempMinC       *decimal.Decimal `json:"temp_min_c,omitempty"`
	TempMaxC       *decimal.Decimal `json:"temp_max_c,omitempty"`
	TempUnit       string           `json:"temp_unit" enum:"C,F" doc:"the degrees that the maker reads"`
	MouldHours     int              `json:"mould_hours"`
	CureDays       int              `json:"cure_days"`
	Superfat       *decimal.Decimal `json:"superfat,omitempty" doc:"as planned"`
	PouredAt       *time.Time       `json:"poured_at,omitempty"`
	CutAt          *time.Time       `json:"cut_at,omitempty"`
	Entry          int64            `json:"entry" doc:"the entry that planned it"`
}

const batchColumns = `id, code, purpose, name, formula_version_id, material_id, stage, planned_on, temp_min_c, temp_max_c, temp_unit, mould_hours,
	cure_days, superfat, poured_at, cut_at, entry_id`

func noBatch(id int64) error { return notFound("batch", "there is no batch %d", id) }

func readBatch(ctx context.Context, q querier, id int64) (Batch, error) {
	b, err := one[Batch](ctx, q, `select `+batchColumns+` from batch where id = $1`, id)
	if errors.Is(err, pgx.ErrNoRows) {
		return b, noBatch(id)
	}
	return b, err
}

// Batch reads one batch.
func (l *Ledger) Batch(ctx context.Context, id int64) (Batch, error) {
	return readBatch(ctx, l.pool, id)
}

// Batches lists batches, the newest first, 200 at a time: those with a number below before (0: from the newest).
// stage narrows the list; empty does not.
func (l *Ledger) Batches(ctx context.Context, stage string, before int64) ([]Batch, error) {
	return all[Batch](ctx, l.pool, `select `+batchColumns+` from batch where ($1 = '' or stage = $1) and ($2 = 0 or id < $2)
		order by id desc limit 200`, stage, before)
}

// mustBe refuses what does not belong to the batch's stage.
func (b Batch) mustBe(doing string, stages ...string) error {
	for _, s := range stages {
		if b.Stage == s {
			return nil
		}
	}
	return conflict("batch %s is %s; %s comes at another stage", b.Code, b.Stage, doing)
}

func (tx *Tx) setStage(ctx context.Context, batch int64, stage string) error {
	_, err := tx.Exec(ctx, `update batch set stage = $2 where id = $1`, batch, stage)
	return err
}

// BatchLine is one line of the weigh list with what has been weighed for it so far.
type BatchLine struct {
	Line      int             `json:"line"`
	Material  int64           `json:"material"`
	Name      string          `json:"name"`
	Kind      string          `json:"kind"`
	Portion   string          `json:"portion,omitempty"`
	Planned   decimal.Decimal `json:"planned" doc:"g"`
	Tolerance decimal.Decimal `json:"tolerance" doc:"g"`
	Weighed   decimal.Decimal `json:"weighed" doc:"g, all weighings of the line that stand"`
	Times     int             `json:"times" doc:"how many weighings that is"`
	Partial   bool            `json:"partial" doc:"the last of them said that more follows"`
	Caution   string          `json:"caution,omitempty"`
	Lye       bool            `json:"lye" doc:"an alkali, or prepared with one: it burns"`
}

// Missing tells whether the line still waits to be weighed, or for the rest that was to follow.
func (b BatchLine) Missing() bool { return b.Times == 0 || b.Partial && b.Short() }

// Short tells whether less than the plan was weighed, by more than needs no reason.
func (b BatchLine) Short() bool { return b.Weighed.LessThan(b.Planned.Sub(b.Tolerance)) }

// waits says that the line still waits to be weighed, or for its rest.
func (b BatchLine) waits() string {
	if b.Times > 0 {
		return fmt.Sprintf("line %d, %s: %s of %s g are weighed, and more was to follow", b.Line, b.Name, b.Weighed, b.Planned)
	}
	return fmt.Sprintf("line %d, %s (%s g), is not weighed", b.Line, b.Name, b.Planned)
}

const batchLines = `select bl.line, bl.material_id, m.name, m.kind, bl.portion, bl.planned, bl.tolerance,
	coalesce(sum(w.grams), 0), count(w.entry_id), coalesce((array_agg(w.partial order by w.entry_id desc))[1], false), m.caution,
	` + burns + `
	from batch_line bl join material m on m.id = bl.material_id
	left join weighing w on w.batch_id = bl.batch_id and w.line = bl.line and w.struck_by is null
	where bl.batch_id = $1 group by bl.line, bl.material_id, m.name, m.kind, bl.portion, bl.planned, bl.tolerance, m.id order by bl.line`

func readLines(ctx context.Context, q querier, batch int64) ([]BatchLine, error) {
	return all[BatchLine](ctx, q, batchLines, batch)
}

// BatchLines gives the weigh list of a batch with what has been weighed.
func (l *Ledger) BatchLines(ctx context.Context, batch int64) ([]BatchLine, error) {
	return readLines(ctx, l.pool, batch)
}

// BatchPortion is a portion with its share of what is common, and its mass once it was weighed.
type BatchPortion struct {
	Name  string           `json:"name"`
	Share decimal.Decimal  `json:"share"`
	Grams *decimal.Decimal `json:"grams,omitempty"`
}

func readPortions(ctx context.Context, q querier, batch int64) ([]BatchPortion, error) {
	return all[BatchPortion](ctx, q, `select portion, share, grams from batch_portion where batch_id = $1 order by line`, batch)
}

// BatchPortions gives the portions of a batch in their order; none when the batch is one.
func (l *Ledger) BatchPortions(ctx context.Context, batch int64) ([]BatchPortion, error) {
	return readPortions(ctx, l.pool, batch)
}
