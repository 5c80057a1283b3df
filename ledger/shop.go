package ledger

import (
	"context"
	"errors"
	"strings"
	"time"
	_ "time/tzdata" // the zones travel with the binary: a small machine may have none

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"ashbook/ledger/assay"
)

// ShopSet states who the shop is and the limits that its gates use.
type ShopSet struct {
	Name        string          `json:"name" maxLength:"200"`
	Address     []string        `json:"address" doc:"lines as they stand on a label"`
	Contact     string          `json:"contact" doc:"how a buyer reaches the maker: telephone, mail or site"`
	Timezone    string          `json:"timezone" doc:"IANA name, for example Europe/Vienna; days are counted in it"`
	Currency    string          `json:"currency" minLength:"3" maxLength:"3"`
	LabelStyle  string          `json:"label_style" enum:"US,EU" doc:"whose rules the label follows"`
	CureDays    int             `json:"cure_days" minimum:"0" doc:"least days from cutting to release"`
	LossPerWeek decimal.Decimal `json:"loss_per_week" doc:"per cent of mass a week below which a bar counts as steady"`
	ScaleStep   decimal.Decimal `json:"scale_step" required:"false" doc:"g, the step of the bench scale, to which plans are rounded; 0: 0.1"`
	FineStep    decimal.Decimal `json:"fine_step" required:"false" doc:"g, the step of the scale for what weighs less than 10 g; 0: 0.01"`
	LyeWarn     decimal.Decimal `json:"lye_warn" required:"false" doc:"chance of lye-heavy soap above which the gates warn; 0: 0.05"`
	LyeStop     decimal.Decimal `json:"lye_stop" required:"false" doc:"chance of lye-heavy soap above which they stop; 0: 0.2"`
	FreeAlkali  decimal.Decimal `json:"free_alkali_limit" required:"false" doc:"% as NaOH, the most free alkali that a titration may find; 0: 0.05"`
}

// Kind names the entry.
func (*ShopSet) Kind() string { return "shop.set" }

// Right is what it asks for.
func (*ShopSet) Right() Right { return MayManage }

// Subjects is the shop itself.
func (*ShopSet) Subjects() []int64 { return []int64{1} }

// Check refuses a shop that a label could not name.
func (s *ShopSet) Check(_ context.Context, _ *Tx, _ *Entry) error {
	if err := words("name", &s.Name, 200); err != nil {
		return err
	}
	if len(s.Address) == 0 {
		return invalid("address", "a label names the maker's place of business; give at least one line")
	}
	for i := range s.Address {
		if err := words("address", &s.Address[i], 200); err != nil {
			return err
		}
	}
	if err := words("contact", &s.Contact, 200); err != nil {
		return err
	}
	if _, err := time.LoadLocation(s.Timezone); err != nil || s.Timezone == "" {
		return invalid("timezone", "%q is not a time zone; use a name such as Europe/Vienna or America/Chicago", s.Timezone)
	}
	if len(s.Currency) != 3 || strings.ToUpper(s.Currency) != s.Currency {
		return invalid("currency", "%q is not an ISO 4217 code; use three capitals such as EUR or USD", s.Currency)
	}
	if s.LabelStyle != "US" && s.LabelStyle != "EU" {
		return invalid("label_style", "%q is neither US nor EU", s.LabelStyle)
	}
	if s.CureDays < 0 || s.CureDays > 730 {
		return invalid("cure_days", "%d days; give 0 to 730", s.CureDays)
	}
	if err := between("loss_per_week", s.LossPerWeek, 0, 100); err != nil {
		return err
	}
	if err := between("free_alkali_limit", s.FreeAlkali, 0, mostFreeAlkali); err != nil {
		return err
	}
	return s.limits().check()
}

// mostFreeAlkali is the widest limit for free alkali that anybody may set, %. It is ours: twenty times that of toilet soap.
const mostFreeAlkali = 1

// UsualFreeAlkali is the limit for free alkali of a shop that did not say, % as NaOH.
func UsualFreeAlkali() decimal.Decimal { return assay.DefaultFreeCaustic().Percent }

func (s *ShopSet) freeAlkali() decimal.Decimal {
	if s.FreeAlkali.IsZero() {
		return UsualFreeAlkali()
	}
	return s.FreeAlkali
}

// limits are the shop's own where it gave them, else the usual ones.
func (s *ShopSet) limits() BenchLimits {
	return BenchLimits{s.ScaleStep, s.FineStep, s.LyeWarn, s.LyeStop}.orUsual()
}

// Apply makes this the shop as it is now.
func (s *ShopSet) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	b := s.limits()
	_, err := tx.Exec(ctx, `insert into shop (id, name, address, contact, timezone, currency, label_style, cure_days, loss_per_week, entry_id,
		scale_step, fine_step, lye_warn, lye_stop, free_alkali_limit)
		values (1,$1,$2,$3,$4,$5,$6,$7,$8,$9,$10,$11,$12,$13,$14) on conflict (id) do update set name=excluded.name, address=excluded.address,
		contact=excluded.contact, timezone=excluded.timezone, currency=excluded.currency, label_style=excluded.label_style,
		cure_days=excluded.cure_days, loss_per_week=excluded.loss_per_week, scale_step=excluded.scale_step, fine_step=excluded.fine_step,
		lye_warn=excluded.lye_warn, lye_stop=excluded.lye_stop, free_alkali_limit=excluded.free_alkali_limit, entry_id=excluded.entry_id`,
		s.Name, s.Address, s.Contact, s.Timezone, s.Currency, s.LabelStyle, s.CureDays, s.LossPerWeek, e.ID,
		b.ScaleStep, b.FineStep, b.LyeWarn, b.LyeStop, s.freeAlkali())
	return err
}

// BenchLimits are the steps of the scales, in grams, and the chances of lye-heavy soap at which gates warn and stop.
type BenchLimits struct {
	ScaleStep decimal.Decimal
	FineStep  decimal.Decimal
	LyeWarn   decimal.Decimal
	LyeStop   decimal.Decimal
}

// The steps are those of common bench scales; the chances are ours: a
// wide published range alone should make nobody stop, a plan that is as likely wrong as right should.
var usual = BenchLimits{decimal.New(1, -1), decimal.New(1, -2), decimal.New(5, -2), decimal.New(2, -1)}

// UsualLimits are the limits of a shop that did not say.
func UsualLimits() BenchLimits { return usual }

func (b BenchLimits) orUsual() BenchLimits {
	for _, f := range []struct{ own, usual *decimal.Decimal }{{&b.ScaleStep, &usual.ScaleStep}, {&b.FineStep, &usual.FineStep},
		{&b.LyeWarn, &usual.LyeWarn}, {&b.LyeStop, &usual.LyeStop}} {
		if f.own.IsZero() {
			*f.own = *f.usual
		}
	}
	return b
}

func (b BenchLimits) check() error {
	for field, step := range map[string]decimal.Decimal{"scale_step": b.ScaleStep, "fine_step": b.FineStep} {
		if err := positive(field, step); err != nil {
			return err
		}
		if step.GreaterThan(decimal.NewFromInt(50)) {
			return invalid(field, "a step of %s g is too coarse to weigh soap with; give the step that the scale shows, for example 0.1 or 1", step)
		}
	}
	return checkChances(b.LyeWarn, b.LyeStop)
}

// checkChances refuses limits that are no chances, or that stop before they warn.
func checkChances(warn, stop decimal.Decimal) error {
	for field, c := range map[string]decimal.Decimal{"lye_warn": warn, "lye_stop": stop} {
		if err := positive(field, c); err != nil {
			return err
		}
		if c.GreaterThan(decimal.New(5, -1)) {
			return invalid(field, "%s is more than one in two; give a chance up to 0.5, for example 0.05", c)
		}
	}
	if warn.GreaterThan(stop) {
		return invalid("lye_warn", "the gates would stop (%s) before they warn (%s); let lye_warn be the smaller", stop, warn)
	}
	return nil
}

// step is the step of the scale on which something is weighed.
func (b BenchLimits) step(grams decimal.Decimal) decimal.Decimal {
	if grams.LessThan(decimal.NewFromInt(10)) {
		return b.FineStep
	}
	return b.ScaleStep
}

// benchLimits are the shop's limits; the usual ones before it is set up.
func benchLimits(ctx context.Context, q querier) (BenchLimits, error) {
	b, err := one[BenchLimits](ctx, q, `select scale_step, fine_step, lye_warn, lye_stop from shop`)
	if errors.Is(err, pgx.ErrNoRows) {
		return usual, nil
	}
	return b, err
}

// Shop is the shop as it is now.
type Shop struct {
	Name        string
	Address     []string
	Contact     string
	Timezone    string
	Currency    string
	LabelStyle  string
	CureDays    int
	LossPerWeek decimal.Decimal
	ScaleStep   decimal.Decimal
	FineStep    decimal.Decimal
	LyeWarn     decimal.Decimal
	LyeStop     decimal.Decimal
	FreeAlkali  decimal.Decimal
}

// Zone is the shop's time zone.
func (s Shop) Zone() *time.Location {
	if zone, err := time.LoadLocation(s.Timezone); err == nil {
		return zone
	}
	return time.UTC
}

func readShop(ctx context.Context, q querier) (Shop, error) {
	s, err := one[Shop](ctx, q, `select name, address, contact, timezone, currency, label_style, cure_days, loss_per_week,
		scale_step, fine_step, lye_warn, lye_stop, free_alkali_limit from shop`)
	if errors.Is(err, pgx.ErrNoRows) {
		return s, notFound("", "the shop is not set up yet; an owner gives its name, address and market first")
	}
	return s, err
}

// Shop reads the shop's settings; NotFound before they were made.
func (l *Ledger) Shop(ctx context.Context) (Shop, error) { return readShop(ctx, l.pool) }

// zoneOfShop is UTC before the shop is set up.
const zoneOfShop = `select coalesce((select timezone from shop), 'UTC')`
