package ledger

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"
)

// LotQuery narrows a list of lots; zero fields do not.
type LotQuery struct {
	What     string
	Material int64
	Usable   bool  // on hand, not on hold, not expired today
	OnHand   bool  // some of it is on the shelf, the rack or ready
	UsedUp   bool  // nothing of it is
	Held     bool  // on hold
	After    int64 // only lots that stand behind this one in the list; 0: from its beginning
	Limit    int   // LotsAtOnce at most; 0: as many
}

// LotsAtOnce is the most that Lots gives. When it gives as many, more may follow After the last one.
const LotsAtOnce = 500

// Lots lists lots, first to expire first, then oldest first.
func (l *Ledger) Lots(ctx context.Context, q LotQuery) ([]Lot, error) {
	return readLots(ctx, l.pool, q, l.Now())
}

func readLots(ctx context.Context, db querier, q LotQuery, now time.Time) ([]Lot, error) {
	if q.Limit <= 0 || q.Limit > LotsAtOnce {
		q.Limit = LotsAtOnce
	}
	var s selection
	if err := s.from(q); err != nil {
		return nil, err
	}
	if q.After != 0 {
		date, err := scalar[string](ctx, db, `select `+expiry+`::text from lot l where id = $1`, q.After)
		if errors.Is(err, pgx.ErrNoRows) {
			return nil, noLot(q.After)
		}
		if err != nil {
			return nil, err
		}
		s.where(`(`+expiry+`, l.id) > ($%d::text::date, $%d)`, date, q.After)
	}
	if q.Usable {
		s.where(`not l.held and `+expiry+` >= ($%d::timestamptz at time zone (`+zoneOfShop+`))::date`, now)
	}
	return all[Lot](ctx, db, `select `+lotColumns+` from `+s.table+` where `+strings.Join(s.conditions, " and ")+
		fmt.Sprintf(` order by %s, l.id limit %d`, expiry, q.Limit), s.args...)
}

// expiry is the day by which lots are listed and which an index holds; a lot that keeps for ever stands last.
const expiry = `coalesce(l.best_before, 'infinity')`

// selection is a query in the making.
type selection struct {
	table      string
	conditions []string
	args       []any
}

// where adds a condition, with a %d for the number of each argument.
func (s *selection) where(sql string, args ...any) {
	var numbers []any
	for _, a := range args {
		s.args = append(s.args, a)
		numbers = append(numbers, len(s.args))
	}
	s.conditions = append(s.conditions, fmt.Sprintf(sql, numbers...))
}

// from says where lots are looked for. The lots that are on hand are few beside those that ever were, and found by an
// index of their own: whoever would read the list by its dates, or all lots of a material, would pass what was ever used
// up. The lateral look-up keeps the planner from doing so.
func (s *selection) from(q LotQuery) error {
	s.table = `lot l`
	s.where(`l.struck_by is null`)
	if q.Usable || q.OnHand {
		s.table = `(select distinct lot_id from balance where ` + onHandPlaces(q) + ` and amount > 0 offset 0) h
			cross join lateral (select * from lot where id = h.lot_id offset 0) l`
	}
	if q.UsedUp {
		if q.Usable || q.OnHand {
			return invalid("used_up", "a lot is used up or on hand, not both")
		}
		s.where(`not exists (select from balance b where b.lot_id = l.id and b.place in ('shelf', 'rack', 'ready') and b.amount > 0)`)
	}
	if q.What != "" {
		s.where(`l.what = $%d`, q.What)
	}
	if q.Material != 0 {
		s.where(`l.material_id = $%d`, q.Material)
	}
	if q.Held {
		s.where(`l.held`)
	}
	return nil
}

// onHandPlaces are where the lots that are asked for may lie: materials on the shelf alone, of which there is less than of bars.
func onHandPlaces(q LotQuery) string {
	if q.Material != 0 || q.What == "bought" || q.What == "prepared" {
		return `place = 'shelf'`
	}
	return `place in ('shelf', 'rack', 'ready')`
}

// MaterialStock is what is on hand of a material.
type MaterialStock struct {
	Material int64
	OnHand   decimal.Decimal
	Lots     int
	Held     int // of the lots
}

// MaterialStocks sums up what is on the shelf, for each material of which there is some.
func (l *Ledger) MaterialStocks(ctx context.Context) ([]MaterialStock, error) {
	return all[MaterialStock](ctx, l.pool, `select l.material_id, sum(b.amount), count(*), count(*) filter (where l.held)
		from balance b cross join lateral (select material_id, held, struck_by from lot where id = b.lot_id offset 0) l
		where b.place = 'shelf' and b.amount > 0 and l.material_id is not null and l.struck_by is null group by 1 order by 1`)
}
