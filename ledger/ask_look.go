package ledger

import (
	"cmp"
	"context"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"ashbook/ledger/trace"
)

// down walks from lots to every lot that they went into. A use in one portion does not reach what was made from
// another. The lateral look-ups keep the planner from scanning tables for a recursion whose size it cannot guess, and
// the recursion carries nothing but numbers, so that a lot is looked into once on however many ways it is reached.
const down = `with recursive down (lot_id) as (
		select unnest($1::bigint[])
		union
		select l.id from down
			cross join lateral (select w.batch_id, w.portion from weighing w where w.lot_id = down.lot_id and w.struck_by is null offset 0) u
			cross join lateral (select l.id, l.portion from lot l where l.batch_id = u.batch_id and l.struck_by is null offset 0) l
			where u.portion = '' or l.portion = '' or u.portion = l.portion
	) `

const descendants = down + `select lot_id from down`

// edgesDown gives each reached lot with where it came from, once for every weighing of it. To sum these up here would
// make PostgreSQL clear a table for each lot, as large as it thinks that the busiest lot needs.
const edgesDown = down + `select down.lot_id, coalesce(l.batch_id, 0), l.portion, coalesce(u.batch_id, 0), coalesce(u.portion, '') from down
	cross join lateral (select batch_id, portion from lot where id = down.lot_id offset 0) l
	left join lateral (select batch_id, portion from weighing where lot_id = down.lot_id and struck_by is null offset 0) u on true`

// edgesUp gives each use in a batch behind the lots ($1), or in the batches that were asked about ($2), with what was
// used. What several weighings brought is summed.
const edgesUp = `with recursive up (batch_id) as (
		(select batch_id from lot where id = any($1) and batch_id is not null union select unnest($2::bigint[]))
		union
		select l.batch_id from up
			cross join lateral (select lot_id from weighing where batch_id = up.batch_id and struck_by is null offset 0) u
			cross join lateral (select batch_id from lot where id = u.lot_id and batch_id is not null offset 0) l
	) select up.batch_id, b.code, u.portion, u.grams, l.id, coalesce(l.batch_id, 0), l.portion,
			l.code, l.what, l.name, coalesce(s.name, ''), l.supplier_lot, l.made_on, l.held
		from up
		cross join lateral (select lot_id, portion, sum(poured_grams) grams, min(entry_id) first from weighing
			where batch_id = up.batch_id and struck_by is null group by 1, 2 offset 0) u
		cross join lateral (select * from lot where id = u.lot_id offset 0) l
		cross join lateral (select code from batch where id = up.batch_id offset 0) b
		left join lateral (select name from supplier where id = l.supplier_id offset 0) s on true
		order by u.first`

// edgeDown and edgeUp are rows of the queries of those names.
type edgeDown struct {
	Lot         int64
	Batch       int64
	Portion     string
	IntoBatch   int64
	IntoPortion string
}

type edgeUp struct {
	IntoBatch   int64
	IntoCode    string
	IntoPortion string
	Grams       decimal.Decimal
	Lot         int64
	Batch       int64
	Portion     string
	Code        string
	What        string
	Name        string
	Supplier    string
	SupplierLot string
	MadeOn      time.Time
	Held        bool
}

// walk reads what is behind the lots, which fills in a.Sources, and what they went into, which fills in the numbers and
// depths of a.Reached, and gives the batches that used these. The day of the answer comes by the way.
func (a *Answer) walk(ctx context.Context, q querier, lots []int64, now time.Time) (used []int64, err error) {
	var up []edgeUp
	var reach []edgeDown
	asked := a.found("batch")
	batch := &pgx.Batch{}
	queue(batch, &up, edgesUp, lots, asked)
	queue(batch, &reach, edgesDown, lots)
	zone := "UTC"
	batch.Queue(zoneOfShop).QueryRow(func(row pgx.Row) error { return row.Scan(&zone) })
	if err := q.SendBatch(ctx, batch).Close(); err != nil {
		return nil, err
	}
	a.Day = now.In(Shop{Timezone: zone}.Zone()).Format(dateLayout)
	a.addReached(lots, reach)
	a.addSources(lots, asked, up, reach)
	used = []int64{}
	for _, e := range reach {
		if e.IntoBatch != 0 {
			used = append(used, e.IntoBatch)
		}
	}
	slices.Sort(used)
	return slices.Compact(used), nil
}

// found are the numbers of the found things of a kind.
func (a *Answer) found(what string) []int64 {
	ids := []int64{}
	for _, f := range a.Found {
		if f.What == what {
			ids = append(ids, f.ID)
		}
	}
	return ids
}

// addReached counts for each reached lot over how many batches it was reached.
func (a *Answer) addReached(lots []int64, reach []edgeDown) {
	var f trace.Family
	depth := map[int64]int{}
	for _, e := range reach {
		if _, seen := depth[e.Lot]; !seen && e.Batch != 0 {
			f.Origins = append(f.Origins, trace.Origin{Lot: e.Lot, Batch: e.Batch, Portion: e.Portion})
		}
		depth[e.Lot] = unknown
		if e.IntoBatch != 0 {
			f.Uses = append(f.Uses, trace.Use{Batch: e.IntoBatch, Lot: e.Lot, Portion: e.IntoPortion})
		}
	}
	for _, lot := range lots {
		depth[lot] = 0
	}
	for _, s := range f.Down(lots...) { // the nearest first
		if depth[s.Lot] == unknown {
			depth[s.Lot] = s.Depth
		}
	}
	for lot, d := range depth {
		a.Reached = append(a.Reached, Reached{Lot: lot, Depth: d})
	}
	slices.SortFunc(a.Reached, func(x, y Reached) int { return cmp.Or(x.Depth-y.Depth, cmp.Compare(x.Lot, y.Lot)) })
}

// unknown is the depth of a lot before it is worked out.
const unknown = -1

// addSources puts the uses behind the lots and the asked batches in the order of their depth. A batch that was asked
// about stands as a lot of its own, numbered below zero, so that what went in is told before it has given anything.
func (a *Answer) addSources(lots, asked []int64, up []edgeUp, reach []edgeDown) {
	type use struct {
		lot, batch int64
		portion    string
	}
	var f trace.Family
	edges := map[use]edgeUp{}
	origins := map[int64]trace.Origin{}
	for _, e := range up {
		edges[use{e.Lot, e.IntoBatch, e.IntoPortion}] = e
		f.Uses = append(f.Uses, trace.Use{Batch: e.IntoBatch, Lot: e.Lot, Portion: e.IntoPortion, Grams: e.Grams})
		origins[e.Lot] = trace.Origin{Lot: e.Lot, Batch: e.Batch, Portion: e.Portion}
	}
	for _, e := range reach {
		origins[e.Lot] = trace.Origin{Lot: e.Lot, Batch: e.Batch, Portion: e.Portion}
	}
	for _, b := range asked {
		lots = append(slices.Clone(lots), -b)
		origins[-b] = trace.Origin{Lot: -b, Batch: b}
	}
	for _, o := range origins {
		if o.Batch != 0 {
			f.Origins = append(f.Origins, o)
		}
	}
	for _, s := range f.Up(lots...) { // the nearest first
		k := use{s.Lot, s.Batch, s.Portion}
		if e, first := edges[k]; first {
			a.Sources = append(a.Sources, Source{Lot: e.Lot, Code: e.Code, What: e.What, Name: e.Name, Supplier: e.Supplier, SupplierLot: e.SupplierLot,
				MadeOn: e.MadeOn, Into: e.IntoCode, Portion: e.IntoPortion, Grams: e.Grams, Depth: s.Depth, Held: e.Held})
			delete(edges, k) // several lots may share a use
		}
	}
}

const reachedLots = `select l.id, l.code, l.what, l.name, l.unit, coalesce(b.code, ''), coalesce(b.id, 0), coalesce(b.stage, ''),
		coalesce(p.name, ''), l.supplier_lot, l.made_on, l.portion, 0, l.held, l.hold_reason, l.struck_by is not null, l.amount, s.on_hand, s.pots, s.sent, s.kept, s.gone, s.missing
	from unnest($1::bigint[]) with ordinality r (id, place)
	cross join lateral (select * from lot where id = r.id offset 0) l
	left join lateral (select id, code, stage from batch where id = l.batch_id offset 0) b on true
	left join lateral (select name from supplier where id = l.supplier_id offset 0) p on true
	cross join lateral (select coalesce(sum(amount) filter (where place in ('shelf', 'rack', 'ready')), 0) on_hand,
		coalesce(sum(amount) filter (where place = 'pot'), 0) pots, coalesce(sum(amount) filter (where place = 'sent'), 0) sent,
		coalesce(sum(amount) filter (where place = 'kept'), 0) kept, coalesce(sum(amount) filter (where place in ('waste', 'air')), 0) gone,
		coalesce(sum(amount) filter (where place = 'count'), 0) missing
		from balance where lot_id = r.id) s
	order by r.place`

// A dispatch holds bars of a lot, or held them until they came back; one that was corrected may have a place for a lot
// that it never had.
const sentBars = `select d.id, d.code, d.sent_on, d.channel, coalesce(c.name, ''), d.buyer_id, d.occasion, d.reference, r.id, l.code,
		s.amount, coalesce(back.pieces, 0)
	from unnest($1::bigint[]) r (id)
	cross join lateral (select code from lot where id = r.id and what = 'bars' offset 0) l
	cross join lateral (select place_id, amount from balance where lot_id = r.id and place = 'sent' offset 0) s
	cross join lateral (select * from dispatch where id = s.place_id offset 0) d
	left join lateral (select name from contact where subject_id = d.buyer_id offset 0) c on true
	left join lateral (select sum(pieces) pieces from dispatch_return where dispatch_id = d.id and lot_id = r.id and struck_by is null) back on true
	where (s.amount > 0 or back.pieces > 0) and (not $2 or d.id = any($3) or d.buyer_id = any($4))
	order by d.sent_on desc, d.id desc, r.id`

// openBatches looks among the batches that used one of the lots ($2).
const openBatches = `select b.id, b.code, b.name, b.stage, l.code, u.grams
	from unnest($2::bigint[]) used (id)
	cross join lateral (select id, code, name, stage from batch where id = used.id and stage not in ('curing', 'released', 'rejected', 'made') offset 0) b
	cross join lateral (select lot_id, sum(poured_grams) grams from weighing where batch_id = b.id and lot_id = any($1) and struck_by is null group by 1 offset 0) u
	cross join lateral (select code from lot where id = u.lot_id offset 0) l
	order by b.id, u.lot_id`

// look reads where all of the reached lots is, which of the batches that used them have given nothing, and who holds bars
// of them. When a dispatch or a buyer was asked about, only theirs count.
func (a *Answer) look(ctx context.Context, q querier, used []int64, last []string) error {
	var reached []Reached
	lots := make([]int64, len(a.Reached))
	for i, r := range a.Reached {
		lots[i] = r.Lot
	}
	dispatches, buyers := a.found("dispatch"), a.found("buyer")
	narrow := len(dispatches)+len(buyers) == len(a.Found)
	batch := &pgx.Batch{}
	queue(batch, &reached, reachedLots, lots)
	queue(batch, &a.Open, openBatches, lots, used)
	queue(batch, &a.Sent, sentBars, lots, narrow, dispatches, buyers)
	for _, sql := range last {
		batch.Queue(sql)
	}
	if err := q.SendBatch(ctx, batch).Close(); err != nil {
		return err
	}
	for i, r := range reached {
		r.Depth = a.Reached[i].Depth
		a.Reached[i] = r
	}
	return nil
}
