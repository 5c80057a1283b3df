package ledger

import (
	"context"
	"errors"
	"strings"
	"time"
	_ "time/tzdata" // the zones travel with the binary: a small machine may have none

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"
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
	return between("loss_per_week", s.LossPerWeek, 0, 100)
}

// Apply makes this the shop as it is now.
func (s *ShopSet) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	_, err := tx.Exec(ctx, `insert into shop (id, name, address, contact, timezone, currency, label_style, cure_days, loss_per_week, entry_id)
		values (1,$1,$2,$3,$4,$5,$6,$7,$8,$9) on conflict (id) do update set name=excluded.name, address=excluded.address,
		contact=excluded.contact, timezone=excluded.timezone, currency=excluded.currency, label_style=excluded.label_style,
		cure_days=excluded.cure_days, loss_per_week=excluded.loss_per_week, entry_id=excluded.entry_id`,
		s.Name, s.Address, s.Contact, s.Timezone, s.Currency, s.LabelStyle, s.CureDays, s.LossPerWeek, e.ID)
	return err
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
}

// Zone is the shop's time zone.
func (s Shop) Zone() *time.Location {
	if zone, err := time.LoadLocation(s.Timezone); err == nil {
		return zone
	}
	return time.UTC
}

func readShop(ctx context.Context, q querier) (Shop, error) {
	s, err := one[Shop](ctx, q, `select name, address, contact, timezone, currency, label_style, cure_days, loss_per_week from shop`)
	if errors.Is(err, pgx.ErrNoRows) {
		return s, notFound("", "the shop is not set up yet; an owner gives its name, address and market first")
	}
	return s, err
}

// Shop reads the shop's settings; NotFound before they were made.
func (l *Ledger) Shop(ctx context.Context) (Shop, error) { return readShop(ctx, l.pool) }

// zoneOfShop is UTC before the shop is set up.
const zoneOfShop = `select coalesce((select timezone from shop), 'UTC')`
