package ledger

import (
	"context"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"ashbook/ledger/code"
	"ashbook/ledger/measure"
	"ashbook/ledger/soap"
)

// LotReceived takes a supplier's lot into the shop.
type LotReceived struct {
	Printed
	ID            int64            `json:"id" readOnly:"true"`
	Material      int64            `json:"material"`
	Supplier      int64            `json:"supplier"`
	SupplierLot   string           `json:"supplier_lot,omitempty" doc:"the supplier's own lot number"`
	NoSupplierLot bool             `json:"no_supplier_lot,omitempty" doc:"the supplier gave none: an explicit choice, to be asked for"`
	BestBefore    string           `json:"best_before,omitempty" format:"date"`
	Mass          measure.Mass     `json:"mass" doc:"net mass received"`
	Cost          *decimal.Decimal `json:"cost,omitempty" doc:"landed cost of the lot, in the shop's currency"`
	Purity        *decimal.Decimal `json:"purity,omitempty" doc:"mass fraction of hydroxide by the certificate; alkalis only"`
	PurityHalf    *decimal.Decimal `json:"purity_half,omitempty" doc:"how far the purity may be off to either side, as a mass fraction; none given: 0.01"`
	SAPValue      *decimal.Decimal `json:"sap_value,omitempty" doc:"saponification value by the certificate, mg KOH per g; oils only"`
	SAPHalf       *decimal.Decimal `json:"sap_half,omitempty" doc:"how far the saponification value may be off to either side, mg KOH per g; none given: 1"`
	LimitShare    *decimal.Decimal `json:"limit_share,omitempty" doc:"highest mass fraction in the finished bar by the certificate, above 0 to 1; scents only"`
	LimitNote     string           `json:"limit_note,omitempty" maxLength:"200" doc:"what the limit stands on, for example IFRA category 9, amendment 51, certificate of 2026-03-01"`
	ReceivedOn    string           `json:"received_on" readOnly:"true"`
}

// What a certificate is taken to leave open where it does not say: half the width of the range around its figure.
// Common practice, no source.
var (
	UsualPurityHalf = decimal.New(1, -2)    // mass fraction
	UsualSAPHalf    = decimal.NewFromInt(1) // mg KOH per g
)

// Kind names the entry.
func (*LotReceived) Kind() string { return "lot.received" }

// Right is what it asks for.
func (*LotReceived) Right() Right { return MayMake }

// Subjects is the material; a lot that is corrected is locked by the number it has.
func (r *LotReceived) Subjects() []int64 { return []int64{r.Material, r.ID} }

// Also are the lots and batches that a lot which is put right went into: its certificate is part of their lye sum.
func (r *LotReceived) Also(ctx context.Context, tx *Tx) ([]int64, error) {
	if !tx.corrects || r.ID == 0 {
		return nil, nil
	}
	return afterLots(ctx, tx, []int64{r.ID})
}

// Check refuses a lot that could not be traced to where it came from.
func (r *LotReceived) Check(ctx context.Context, tx *Tx, e *Entry) error {
	m, err := readMaterial(ctx, tx, r.Material)
	if err != nil {
		return err
	}
	if m.Kind == "prepared" {
		return invalid("material", "%s is made here; record the batch that makes it", m.Name)
	}
	known, err := exists(ctx, tx, `select 1 from supplier where id = $1`, r.Supplier)
	if err != nil {
		return err
	}
	if !known {
		return notFound("supplier", "there is no supplier %d; add the supplier first", r.Supplier)
	}
	if err := r.checkPapers(m); err != nil {
		return err
	}
	if r.Mass, err = measure.ParseMass(r.Mass.Typed, r.Mass.Unit, m.bulk()); err != nil {
		return invalid("mass", "%s", err)
	}
	if err := positive("mass", r.Mass.Grams); err != nil {
		return err
	}
	r.ReceivedOn = tx.day(e.HappenedAt).Format(dateLayout)
	return r.number(ctx, tx, e)
}

func (r *LotReceived) checkPapers(m Material) error {
	if err := anyWords("supplier_lot", &r.SupplierLot, 100); err != nil {
		return err
	}
	if (r.SupplierLot == "") != r.NoSupplierLot {
		return invalid("supplier_lot", "give the supplier's lot number, or say that none was given")
	}
	if _, err := date("best_before", r.BestBefore); err != nil {
		return err
	}
	if r.Purity != nil && m.Kind != "alkali" {
		return invalid("purity", "purity belongs to an alkali; %s is none", m.Name)
	}
	if r.Purity != nil {
		if err := checkPurity("purity", *r.Purity); err != nil {
			return err
		}
	}
	if r.SAPValue != nil && (m.Kind != "oil" || r.SAPValue.LessThan(soap.LeastSAP) || r.SAPValue.GreaterThan(soap.MostSAP)) {
		return invalid("sap_value", "a saponification value belongs to an oil and lies between %s and %s mg KOH/g", soap.LeastSAP, soap.MostSAP)
	}
	if r.Cost != nil && r.Cost.IsNegative() {
		return invalid("cost", "%s is less than nothing", r.Cost)
	}
	if err := r.checkLimit(m); err != nil {
		return err
	}
	return r.checkHalves()
}

// checkLimit looks at how much of a scent the certificate allows.
func (r *LotReceived) checkLimit(m Material) error {
	if err := anyWords("limit_note", &r.LimitNote, 200); err != nil {
		return err
	}
	if s := r.LimitShare; s != nil && (m.Kind != "scent" || !s.IsPositive() || s.GreaterThan(decimal.NewFromInt(1))) {
		return invalid("limit_share", "the highest share in the finished bar belongs to a scent and lies above 0 and at most at 1, for example 0.03 for 3 %%")
	}
	if r.LimitShare == nil && r.LimitNote != "" {
		return invalid("limit_note", "it says what a limit stands on: give limit_share too, or leave both out")
	}
	return nil
}

// checkHalves looks at how far the figures of the certificate may be off.
func (r *LotReceived) checkHalves() error {
	if h := r.PurityHalf; h != nil && (r.Purity == nil || !h.IsPositive() || h.GreaterThanOrEqual(*r.Purity)) {
		return invalid("purity_half", "it says how far the purity may be off: give the purity too, and a figure above 0 and below it, for example 0.01")
	}
	if h := r.SAPHalf; h != nil && (r.SAPValue == nil || !h.IsPositive() || h.GreaterThanOrEqual(soap.MostSAPHalf)) {
		return invalid("sap_half", "it says how far the saponification value may be off: give that value too, and a figure above 0 and below %s mg KOH/g, for example 1", soap.MostSAPHalf)
	}
	return nil
}

// number gives a new lot its number and code; a correction keeps those of the lot that it corrects.
func (r *LotReceived) number(ctx context.Context, tx *Tx, e *Entry) error {
	if e.Corrects == 0 {
		var err error
		if r.ID, err = tx.newID(ctx); err != nil {
			return err
		}
		r.Printed, err = tx.nextCode(ctx, code.Material, tx.day(e.HappenedAt), 0)
		return err
	}
	_, body, err := readEntry(ctx, tx, e.Corrects)
	if err != nil {
		return err
	}
	was := body.(*LotReceived)
	r.ID, r.Printed, r.ReceivedOn = was.ID, was.Printed, was.ReceivedOn
	if was.Material != r.Material {
		return invalid("material", "the lot was received as another material; strike it and receive it anew")
	}
	return nil
}

// Apply puts the lot on the shelf.
func (r *LotReceived) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	received, err := date("received_on", r.ReceivedOn)
	if err != nil {
		return err
	}
	before, err := date("best_before", r.BestBefore)
	if err != nil {
		return err
	}
	judged, err := r.changesJudgement(ctx, tx, e)
	if err != nil {
		return err
	}
	_, err = tx.Exec(ctx, `insert into lot (id, code, what, name, unit, amount, material_id, supplier_id, supplier_lot, portion,
		made_on, best_before, cost, purity, purity_half, sap_value, sap_half, grams, poured_grams, pour_share, held, hold_reason, entry_id, limit_share, limit_note)
		values ($1,$2,'bought',(select name from material where id = $4),'g',$3,$4,$5,$6,'',$7,$8,$9,$10,$11,$12,$13,$3,$3,0,false,'',$14,$15,$16)
		on conflict (id) do update set amount=excluded.amount, grams=excluded.grams, poured_grams=excluded.poured_grams,
		supplier_id=excluded.supplier_id, supplier_lot=excluded.supplier_lot, best_before=excluded.best_before, cost=excluded.cost,
		purity=excluded.purity, purity_half=excluded.purity_half, sap_value=excluded.sap_value, sap_half=excluded.sap_half, entry_id=excluded.entry_id,
		limit_share=excluded.limit_share, limit_note=excluded.limit_note`,
		r.ID, r.Code, r.Mass.Grams, r.Material, r.Supplier, r.SupplierLot, received, before, r.Cost, r.Purity, r.PurityHalf, r.SAPValue, r.SAPHalf, e.ID,
		r.LimitShare, r.LimitNote)
	if err != nil {
		return err
	}
	if err := tx.useCode(ctx, code.Material, *received, r.Printed); err != nil {
		return err
	}
	if judged {
		if err := tx.reopenLots(ctx, []int64{r.ID}, e); err != nil {
			return err
		}
	}
	return tx.move(ctx, e, r.ID, r.Mass.Grams, fromSupplier, onShelf)
}

// changesJudgement tells whether a correction gives the certificate other figures: releases that stood on the lye sum of
// the lot, or on a limit that was stated too high, are open again. A limit that is stated for the first time opens none: it
// is written in when papers come, and the bars show it.
func (r *LotReceived) changesJudgement(ctx context.Context, tx *Tx, e *Entry) (bool, error) {
	if e.Corrects == 0 {
		return false, nil
	}
	return exists(ctx, tx, `select 1 from lot where id = $1 and ((purity, purity_half, sap_value, sap_half) is distinct from ($2::numeric,$3::numeric,$4::numeric,$5::numeric)
		or $6::numeric < limit_share)`, r.ID, r.Purity, r.PurityHalf, r.SAPValue, r.SAPHalf, r.LimitShare)
}

// Strike leaves the row of the lot, which a correction rewrites and which entries may name; a lot that is struck
// altogether is put on hold.
func (r *LotReceived) Strike(ctx context.Context, tx *Tx, _, by *Entry) error {
	if !by.strikes {
		return nil
	}
	_, err := tx.Exec(ctx, `update lot set struck_by = $2, held = true, hold_reason = 'the receipt was struck' where id = $1`, r.ID, by.ID)
	return err
}

// LotHeld stops every use and sale of a lot until it is freed.
type LotHeld struct {
	Lot    int64  `json:"lot"`
	Reason string `json:"reason" maxLength:"500"`
}

// Kind names the entry.
func (*LotHeld) Kind() string { return "lot.held" }

// Right is what it asks for: anyone who works with stock may stop it.
func (*LotHeld) Right() Right { return MaySell }

// Subjects is the lot.
func (h *LotHeld) Subjects() []int64 { return []int64{h.Lot} }

// Check wants a lot that is not held yet, and why.
func (h *LotHeld) Check(ctx context.Context, tx *Tx, _ *Entry) error {
	lot, err := readLot(ctx, tx, h.Lot)
	if err != nil {
		return err
	}
	if lot.Held {
		return conflict("%s is on hold already: %s", lot.Code, lot.HoldReason)
	}
	return words("reason", &h.Reason, 500)
}

// Apply holds the lot.
func (h *LotHeld) Apply(ctx context.Context, tx *Tx, _ *Entry) error {
	_, err := tx.Exec(ctx, `update lot set held = true, hold_reason = $2 where id = $1`, h.Lot, h.Reason)
	return err
}

// LotFreed ends a hold.
type LotFreed struct {
	Lot    int64  `json:"lot"`
	Reason string `json:"reason" maxLength:"500" doc:"why it may be used again"`
}

// Kind names the entry.
func (*LotFreed) Kind() string { return "lot.freed" }

// Right is what it asks for: ending a hold is a decision like a release.
func (*LotFreed) Right() Right { return MayRelease }

// Subjects is the lot.
func (f *LotFreed) Subjects() []int64 { return []int64{f.Lot} }

// Check wants a lot on hold, and why it may be used again.
func (f *LotFreed) Check(ctx context.Context, tx *Tx, _ *Entry) error {
	lot, err := readLot(ctx, tx, f.Lot)
	if err != nil {
		return err
	}
	if !lot.Held {
		return conflict("%s is not on hold", lot.Code)
	}
	return words("reason", &f.Reason, 500)
}

// Apply frees the lot.
func (f *LotFreed) Apply(ctx context.Context, tx *Tx, _ *Entry) error {
	_, err := tx.Exec(ctx, `update lot set held = false, hold_reason = '' where id = $1`, f.Lot)
	return err
}

// Lot is a delivery of a material, or an output of a batch.
type Lot struct {
	ID          int64            `json:"id"`
	Code        string           `json:"code"`
	What        string           `json:"what" enum:"bought,prepared,bars,remnants"`
	Name        string           `json:"name"`
	Unit        string           `json:"unit" enum:"g,piece"`
	Amount      decimal.Decimal  `json:"amount" doc:"as received or made, in its unit"`
	MaterialID  *int64           `json:"material_id,omitempty"`
	SupplierID  *int64           `json:"supplier_id,omitempty"`
	SupplierLot string           `json:"supplier_lot,omitempty"`
	BatchID     *int64           `json:"batch_id,omitempty"`
	Portion     string           `json:"portion,omitempty"`
	MadeOn      time.Time        `json:"made_on"`
	BestBefore  *time.Time       `json:"best_before,omitempty"`
	Cost        *decimal.Decimal `json:"cost,omitempty"`
	Purity      *decimal.Decimal `json:"purity,omitempty"`
	PurityHalf  *decimal.Decimal `json:"purity_half,omitempty" doc:"how far the purity may be off to either side; none: the usual 0.01"`
	SAPValue    *decimal.Decimal `json:"sap_value,omitempty"`
	SAPHalf     *decimal.Decimal `json:"sap_half,omitempty" doc:"how far the saponification value may be off, mg KOH per g; none: the usual 1"`
	LimitShare  *decimal.Decimal `json:"limit_share,omitempty" doc:"of a scent: highest mass fraction in the finished bar by the certificate"`
	LimitNote   string           `json:"limit_note,omitempty" doc:"what that limit stands on"`
	Grams       decimal.Decimal  `json:"grams" doc:"mass as received or as made"`
	PouredGrams decimal.Decimal  `json:"poured_grams" doc:"mass on the as-poured basis"`
	Held        bool             `json:"held"`
	HoldReason  string           `json:"hold_reason,omitempty"`
	Entry       int64            `json:"entry" doc:"the entry that says what the lot is: the one to correct"`
	StruckBy    *int64           `json:"struck_by,omitempty" doc:"the entry that took it back: it was never there"`
	OnHand      decimal.Decimal  `json:"on_hand" doc:"on the shelf, the rack and ready, in its unit"`
}

// PurityWithin is how far the purity of the certificate may be off to either side, as a mass fraction: as the
// certificate says, or the usual.
func (l Lot) PurityWithin() decimal.Decimal { return orUsual(l.PurityHalf, UsualPurityHalf) }

// SAPWithin is how far the saponification value of the certificate may be off to either side, mg KOH per g.
func (l Lot) SAPWithin() decimal.Decimal { return orUsual(l.SAPHalf, UsualSAPHalf) }

func orUsual(said *decimal.Decimal, usual decimal.Decimal) decimal.Decimal {
	if said == nil {
		return usual
	}
	return *said
}

// State is what the lot may be used for now.
func (l Lot) State() string {
	switch {
	case l.StruckBy != nil:
		return "struck"
	case l.Held:
		return "on hold"
	case l.OnHand.IsZero():
		return "used up"
	}
	return "usable"
}

// Expired tells whether the best-before day has passed on a day.
func (l Lot) Expired(day time.Time) bool { return l.BestBefore != nil && day.After(*l.BestBefore) }

const lotColumns = `l.id, l.code, l.what, l.name, l.unit, l.amount, l.material_id, l.supplier_id, l.supplier_lot, l.batch_id,
	l.portion, l.made_on, l.best_before, l.cost, l.purity, l.purity_half, l.sap_value, l.sap_half, l.limit_share, l.limit_note, l.grams, l.poured_grams, l.held, l.hold_reason, l.entry_id, l.struck_by,
	(select coalesce(sum(b.amount), 0) from balance b where b.lot_id = l.id and b.place in ('shelf', 'rack', 'ready'))`

func noLot(id int64) error { return notFound("lot", "there is no lot %d", id) }

func readLot(ctx context.Context, q querier, id int64) (Lot, error) {
	lot, err := one[Lot](ctx, q, `select `+lotColumns+` from lot l where l.id = $1`, id)
	if errors.Is(err, pgx.ErrNoRows) {
		return lot, noLot(id)
	}
	return lot, err
}

// Lot reads one lot.
func (l *Ledger) Lot(ctx context.Context, id int64) (Lot, error) { return readLot(ctx, l.pool, id) }

// BarsByCode finds a lot of bars by its own code, or by that of a batch that gave only one.
func (l *Ledger) BarsByCode(ctx context.Context, text string) (Lot, error) {
	c, err := code.Parse(text)
	if err != nil {
		return Lot{}, invalid("code", "%s", err)
	}
	lots, err := all[Lot](ctx, l.pool, `select `+lotColumns+` from lot l where l.what = 'bars' and l.struck_by is null
		and (l.code = $1 or l.batch_id = (select id from batch where code = $1)) order by l.id`, c.String())
	switch {
	case err != nil:
		return Lot{}, err
	case len(lots) == 0:
		return Lot{}, notFound("code", "there are no bars under %s", c)
	case len(lots) > 1:
		return Lot{}, invalid("code", "batch %s gave %d lots of bars; give the code of one, such as %s", c, len(lots), lots[0].Code)
	}
	return lots[0], nil
}

// explainShort says in words which lot has too little where.
func (l *Ledger) explainShort(ctx context.Context, short *shortError) error {
	lot, err := readLot(ctx, l.pool, short.lot)
	if err != nil {
		return err
	}
	have, err := scalar[decimal.Decimal](ctx, l.pool, `select coalesce((select amount from balance where lot_id = $1 and place = $2
		and place_id = $3), 0)`, short.lot, short.place.Name, short.place.ID)
	if err != nil {
		return err
	}
	return &Error{Fault: Conflict, Field: "lot", Message: "lot " + lot.Code + " (" + lot.Name + ") has " + have.String() + " " + lot.Unit + " at " +
		short.place.Name + ", " + short.wanted.String() + " were asked for; take less, use another lot, or count the stock"}
}
