package ledger

import (
	"context"
	"slices"
	"time"

	"github.com/shopspring/decimal"
)

// The kinds of reading, with what they are read in.
const (
	OilTemperature   = "oil temperature"
	LyeTemperature   = "lye temperature"
	LyeDensity       = "lye density"
	RoomTemperature  = "room temperature"
	RoomHumidity     = "room humidity"
	PotGross         = "pot gross mass"
	BarMass          = "bar mass"
	PH               = "pH"
	FreeAlkali       = "free alkali"
	TotalAlkali      = "total alkali"
	FattyMatter      = "fatty matter"
	Chloride         = "chloride"
	Moisture         = "moisture"
	AlkaliTongueTest = "tongue test"
)

// ReadingKinds lists the kinds of reading with their units, the first being the usual one.
var ReadingKinds = map[string][]string{
	OilTemperature: {"C", "F"}, LyeTemperature: {"C", "F"}, RoomTemperature: {"C", "F"},
	LyeDensity: lyeScales(), RoomHumidity: {"%"}, PotGross: {"g", "kg", "oz", "lb"}, BarMass: {"g", "oz"},
	PH: {""}, FreeAlkali: {"% NaOH", "% KOH"}, TotalAlkali: {"% NaOH", "% KOH"}, FattyMatter: {"%"}, Chloride: {"% NaCl"}, Moisture: {"%"},
	AlkaliTongueTest: {"0 or 1"},
}

// ReadingTaken keeps a measured value of a batch or of a lot. The density of lye is one of a batch or of a prepared lot; bars are weighed
// and tested by their batch or their lot.
type ReadingTaken struct {
	Batch       int64            `json:"batch,omitempty" doc:"the batch it is about; or give lot"`
	Lot         int64            `json:"lot,omitempty" doc:"the bars or the stock lye it is about"`
	Type        string           `json:"type" doc:"oil temperature, lye temperature, lye density, room temperature, room humidity, pot gross mass, bar mass, pH, free alkali, total alkali, fatty matter, chloride, moisture, tongue test"`
	Typed       string           `json:"typed,omitempty" doc:"the figures as read; worked out where titration is given"`
	Unit        string           `json:"unit,omitempty" doc:"the unit as read, for example C or F; of a lye density its scale: g/mL, SG 60/60, Tw, Be 145, Be 144.3"`
	At          *ReadAt          `json:"at,omitempty" doc:"how warm it was: the lye whose density, the solution whose pH was read; a lye density must say so"`
	Within      *decimal.Decimal `json:"within,omitempty" doc:"how far the figure may be off to either side, in its unit: of a lye density the hydrometer, none given: one in the last place that was typed; of a typed result with 95 % confidence (k = 2), as the laboratory states it, none given: it is judged by its value alone"`
	Way         string           `json:"way,omitempty" doc:"of a pH: strip or meter"`
	Solution    *decimal.Decimal `json:"solution,omitempty" doc:"of a pH: g of soap in 100 g of solution"`
	Titration   *Titrated        `json:"titration,omitempty" doc:"the raw figures of a test; result, uncertainty and verdict are then worked out"`
	Limit       *TestLimit       `json:"limit,omitempty" doc:"what a result in per cent is held against, worked out or typed; none given: free alkali against the limit of the shop, others against none"`
	Method      string           `json:"method,omitempty" maxLength:"200" doc:"how it was measured: strip, meter, titration with its solution, which laboratory"`
	MeasuredBy  string           `json:"measured_by,omitempty" maxLength:"120" doc:"of a typed result in per cent: the laboratory or the person who found it; none given: who records it"`
	Instrument  string           `json:"instrument,omitempty" maxLength:"60" doc:"which scale, thermometer, meter"`
	Sample      string           `json:"sample,omitempty" maxLength:"60" doc:"which bar, so that the same one is weighed again"`
	Passed      *bool            `json:"passed,omitempty" doc:"verdict of a test against the limit that the method or the local rule sets. Worked out where titration is given, and for a figure that has a limit: there false stands, but true lets no figure above its limit pass"`
	Value       decimal.Decimal  `json:"value" readOnly:"true" doc:"in °C, g, g/mL, %, or as it stands"`
	ValueUnit   string           `json:"value_unit" readOnly:"true"`
	Uncertainty *decimal.Decimal `json:"uncertainty,omitempty" readOnly:"true" doc:"standard uncertainty of value, where one is worked out"`
	Verdict     string           `json:"verdict,omitempty" readOnly:"true" doc:"as worked out from the figure: pass, fail, too close to call; empty where a person gave it or there is no limit"`
	Words       string           `json:"words,omitempty" readOnly:"true" doc:"what the figures come to, in words"`
}

// ReadAt is the temperature that goes with a reading.
type ReadAt struct {
	Typed   string          `json:"typed" maxLength:"40"`
	Unit    string          `json:"unit" enum:"C,F"`
	Celsius decimal.Decimal `json:"celsius" readOnly:"true" doc:"°C, worked out from what was typed"`
}

// Kind names the entry.
func (*ReadingTaken) Kind() string { return "reading.taken" }

// Right is what it asks for.
func (*ReadingTaken) Right() Right { return MayMake }

// Subjects are what it is about.
func (r *ReadingTaken) Subjects() []int64 { return []int64{r.Batch, r.Lot} }

// Also are the bars of the batch: a correction may take their release back.
func (r *ReadingTaken) Also(ctx context.Context, tx *Tx) ([]int64, error) {
	return column[int64](ctx, tx, `select id from lot where what = 'bars' and batch_id in (select $1 union select batch_id from lot where id = $2)`,
		r.Batch, r.Lot)
}

// Check resolves the value to its unit and refuses what cannot be.
func (r *ReadingTaken) Check(ctx context.Context, tx *Tx, _ *Entry) error {
	if err := r.checkSubject(ctx, tx); err != nil {
		return err
	}
	units, ok := ReadingKinds[r.Type]
	if !ok {
		return invalid("type", "%q is no kind of reading", r.Type)
	}
	if r.Titration != nil { // its figures say the unit
		r.Unit = ""
	}
	if r.Unit == "" {
		r.Unit = units[0]
	}
	if !slices.Contains(units, r.Unit) {
		return invalid("unit", "%s is not read in %q", r.Type, r.Unit)
	}
	for field, s := range map[string]*string{"method": &r.Method, "measured_by": &r.MeasuredBy, "instrument": &r.Instrument, "sample": &r.Sample} {
		if err := anyWords(field, s, 200); err != nil {
			return err
		}
	}
	if err := r.checkHow(); err != nil {
		return err
	}
	if r.Titration != nil {
		return r.titrate(ctx, tx)
	}
	if err := r.resolve(); err != nil {
		return err
	}
	switch r.Type {
	case BarMass:
		if err := r.checkBar(ctx, tx); err != nil {
			return err
		}
	case LyeDensity:
		if err := r.checkDensity(ctx, tx); err != nil {
			return err
		}
	case PH:
		if err := r.lookAtPH(); err != nil {
			return err
		}
	}
	if err := r.checkVerdict(); err != nil {
		return err
	}
	return r.judgeTyped(ctx, tx)
}

// checkBar refuses the mass of several bars, of a bar with its dish, or in another unit: a single bar, even a dry one, is not half as heavy as
// the mean at cutting, nor two fifths heavier. Common practice, no source: hand-cut bars differ by less.
func (r *ReadingTaken) checkBar(ctx context.Context, tx *Tx) error {
	lot, err := readLot(ctx, tx, r.Lot)
	if err != nil {
		return err
	}
	mean := lot.Grams.DivRound(lot.Amount, 1)
	if r.Value.GreaterThan(mean.Mul(decimal.New(14, -1))) || r.Value.LessThan(mean.Mul(decimal.New(5, -1))) {
		return invalid("typed", "%s g cannot be one bar of %s: they weighed %s g on the mean at cutting; weigh one bar alone, tared, in the unit of the field", r.Value, lot.Code, mean)
	}
	return nil
}

func (r *ReadingTaken) checkSubject(ctx context.Context, tx *Tx) error {
	if (r.Batch == 0) == (r.Lot == 0) {
		return invalid("batch", "name either the batch or the lot that was measured")
	}
	if r.Batch != 0 {
		_, err := readBatch(ctx, tx, r.Batch)
		return err
	}
	lot, err := readLot(ctx, tx, r.Lot)
	switch {
	case err != nil:
		return err
	case r.Type == BarMass && lot.What != "bars":
		return invalid("lot", "%s is no lot of bars", lot.Code)
	case r.Type == LyeDensity && lot.What != "prepared":
		return invalid("lot", "%s is no stock lye; read the density of lye that was made here", lot.Code)
	}
	return nil
}

// Apply keeps the reading.
func (r *ReadingTaken) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	var at ReadAt
	var celsius *decimal.Decimal
	if r.At != nil {
		at, celsius = *r.At, &r.At.Celsius
	}
	_, err := tx.Exec(ctx, `insert into reading (entry_id, batch_id, lot_id, kind, value, unit, typed, typed_unit, method, instrument, sample,
		passed, person_id, happened_at, at_typed, at_unit, at_c, within, uncertainty, verdict, words)
		values ($1,nullif($2,0),nullif($3,0),$4,$5,$6,$7,$8,$9,$10,$11,$12,$13,$14,$15,$16,$17,$18,$19,$20,$21)`,
		e.ID, r.Batch, r.Lot, r.Type, r.Value, r.ValueUnit, r.Typed, r.Unit, r.Method, r.Instrument, r.Sample, r.Passed, e.PersonID, e.HappenedAt,
		at.Typed, at.Unit, celsius, r.Within, r.Uncertainty, r.Verdict, r.Words)
	return err
}

// Strike crosses the reading out. A release that stood on it is open again.
func (r *ReadingTaken) Strike(ctx context.Context, tx *Tx, old, by *Entry) error {
	if _, err := tx.Exec(ctx, `update reading set struck_by = $2 where entry_id = $1`, old.ID, by.ID); err != nil {
		return err
	}
	if r.Type != BarMass && !r.isTest() && !r.isQuality() {
		return nil
	}
	batches, err := column[int64](ctx, tx, `select $1 union select batch_id from lot where id = $2 and batch_id is not null order by 1`, r.Batch, r.Lot)
	if err != nil {
		return err
	}
	return tx.reopen(ctx, batches, by)
}

// Reading is a reading as it was recorded.
type Reading struct {
	Entry       int64            `json:"entry"`
	Lot         *int64           `json:"lot,omitempty" doc:"the lot it is about; none: the whole batch"`
	Type        string           `json:"type"`
	Value       decimal.Decimal  `json:"value"`
	Unit        string           `json:"unit"`
	Typed       string           `json:"typed"`
	TypedUnit   string           `json:"typed_unit"`
	Method      string           `json:"method,omitempty"`
	Instrument  string           `json:"instrument,omitempty"`
	Sample      string           `json:"sample,omitempty"`
	Passed      *bool            `json:"passed,omitempty"`
	Person      string           `json:"person"`
	HappenedAt  time.Time        `json:"happened_at"`
	RecordedAt  time.Time        `json:"recorded_at"`
	StruckBy    *int64           `json:"struck_by,omitempty"`
	StruckWhy   string           `json:"struck_why,omitempty"`
	AtTyped     string           `json:"at_typed,omitempty" doc:"the temperature that goes with it, as read"`
	AtUnit      string           `json:"at_unit,omitempty"`
	AtCelsius   *decimal.Decimal `json:"at_celsius,omitempty" doc:"the same in °C"`
	Within      *decimal.Decimal `json:"within,omitempty" doc:"how far the figure as read may be off to either side"`
	Uncertainty *decimal.Decimal `json:"uncertainty,omitempty" doc:"standard uncertainty of value"`
	Verdict     string           `json:"verdict,omitempty" doc:"as worked out: pass, fail, too close to call"`
	Words       string           `json:"words,omitempty" doc:"what the figures come to"`
}

// At is the temperature that goes with the reading, as read; empty where none was.
func (r Reading) At() string {
	if r.AtTyped == "" {
		return ""
	}
	return r.AtTyped + " °" + r.AtUnit
}

var readingColumns = `select r.entry_id, r.lot_id, r.kind, r.value, r.unit, r.typed, r.typed_unit, r.method, r.instrument, r.sample, r.passed,
	coalesce(p.name, 'ashbook itself'), r.happened_at, e.recorded_at, r.struck_by, ` + struckWhy("r") + `, r.at_typed, r.at_unit, r.at_c, r.within,
	r.uncertainty, r.verdict, r.words from reading r join entry e on e.id = r.entry_id left join person p on p.id = r.person_id `

// readReadings gives the readings of a batch and of the lots that it made.
func readReadings(ctx context.Context, q querier, batch int64) ([]Reading, error) {
	return all[Reading](ctx, q, readingColumns+`where r.batch_id = $1 or r.lot_id = any(array(select id from lot where batch_id = $1)) order by r.happened_at, r.entry_id`, batch)
}

// Readings gives the readings of a batch and of the bars that it gave, in the order of time.
func (l *Ledger) Readings(ctx context.Context, batch int64) ([]Reading, error) {
	return readReadings(ctx, l.pool, batch)
}

// BarMasses gives the bar weighings of one lot that stand, in the order of time.
func (l *Ledger) BarMasses(ctx context.Context, lot int64) ([]Reading, error) {
	return readBarMasses(ctx, l.pool, lot)
}

func readBarMasses(ctx context.Context, q querier, lot int64) ([]Reading, error) {
	return all[Reading](ctx, q, readingColumns+`where r.lot_id = $1 and r.kind = 'bar mass' and r.struck_by is null order by r.happened_at, r.entry_id`, lot)
}
