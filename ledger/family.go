package ledger

import (
	"context"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"ashbook/ledger/trace"
)

// family is the graph above some batches with the facts about its lots.
type family struct {
	trace.Family // the water of stock lye without what went as steam
	lots         map[int64]familyLot
	materials    map[int64]Material
	soap         map[int64]bool // batches whose oils and alkali react
}

type familyLot struct {
	ID       int64
	Code     string
	What     string
	Batch    int64
	Portion  string
	Material int64
	Purity   *decimal.Decimal
	SAPValue *decimal.Decimal

	PurityHalf *decimal.Decimal
	SAPHalf    *decimal.Decimal

	LimitShare *decimal.Decimal
	LimitNote  string
}

// ancestors walks from batches up to bought lots. The recursive part finds only numbers; everything else is looked up
// by them, since the planner cannot estimate a recursion and would scan whole tables when it is joined.
const ancestors = `with recursive up (batch_id) as (
		select unnest($1::bigint[])
		union
		select l.batch_id from up
			cross join lateral (select w.lot_id from weighing w where w.batch_id = up.batch_id and w.struck_by is null offset 0) u
			cross join lateral (select l.batch_id from lot l where l.id = u.lot_id and l.batch_id is not null
				and ($2 or l.what = 'prepared') offset 0) l
	) select batch_id from up`

// loadFamily reads the graph above batches. through tells whether soap that was reworked is seen through too: for
// what a bar is made of it is, for the lye sum it is not, since its oils have met their alkali already.
func loadFamily(ctx context.Context, q querier, batches []int64, through bool) (*family, error) {
	ids, err := column[int64](ctx, q, ancestors, batches, through)
	if err != nil {
		return nil, err
	}
	f := &family{lots: map[int64]familyLot{}, materials: map[int64]Material{}, soap: map[int64]bool{}}
	var lots []familyLot
	var soaps []struct{ ID int64 }
	var materials []Material
	var filled []filling
	batch := &pgx.Batch{}
	queue(batch, &f.Uses, `select batch_id, lot_id, portion, poured_grams, leaves from weighing where batch_id = any($1) and struck_by is null order by entry_id`, ids)
	queue(batch, &f.Splits, `select batch_id, portion, share from batch_portion where batch_id = any($1) order by batch_id, line`, ids)
	queue(batch, &lots, familyLots+`select id, code, what, coalesce(batch_id, 0), portion, coalesce(material_id, 0), purity, sap_value, purity_half, sap_half, limit_share, limit_note from member order by id`, ids)
	queue(batch, &materials, familyLots+`select `+materialColumns+` from material where id in (select material_id from member)`, ids)
	queue(batch, &soaps, `select id from batch where id = any($1) and purpose = '`+ForSoap+`' order by id`, ids)
	queue(batch, &filled, fillings, ids)
	if err := q.SendBatch(ctx, batch).Close(); err != nil {
		return nil, err
	}
	for _, b := range soaps {
		f.soap[b.ID] = true
	}
	for _, l := range lots {
		f.lots[l.ID] = l
		if l.Batch != 0 && (through || l.What == "prepared") {
			f.Origins = append(f.Origins, trace.Origin{Lot: l.ID, Batch: l.Batch, Portion: l.Portion})
		}
	}
	for _, m := range materials {
		f.materials[m.ID] = m
	}
	f.steamOff(filled)
	return f, nil
}

// familyLots are the lots that batches used and made. Joined by "or" instead, the two would make the planner read the
// whole table.
const familyLots = `with member as (select l.* from (select lot_id id from weighing where batch_id = any($1) and struck_by is null
		union select id from lot where batch_id = any($1)) n
	cross join lateral (select * from lot where id = n.id offset 0) l) `

// Ingredient is a bought material inside a lot of bars, with the lots that it came from.
type Ingredient struct {
	Material Material
	Grams    decimal.Decimal // as added, scaled to the as-poured mass of the lot
	Lots     []string        // codes, in the order of the family tree
}

// Ingredients resolves a lot of bars to bought materials through every premix, stock lye and rework, in grams of its
// as-poured mass. What evaporates is left out.
func (l *Ledger) Ingredients(ctx context.Context, lot Lot) ([]Ingredient, error) {
	if lot.BatchID == nil {
		return nil, invalid("lot", "%s was bought, not made", lot.Code)
	}
	f, err := loadFamily(ctx, l.pool, []int64{*lot.BatchID}, true)
	if err != nil {
		return nil, err
	}
	return f.ingredients(lot.ID, lot.PouredGrams)
}

// ingredients are the bought materials in so many grams of a lot.
func (f *family) ingredients(lot int64, grams decimal.Decimal) ([]Ingredient, error) {
	parts, err := f.Composition(lot)
	if err != nil {
		return nil, err
	}
	var list []Ingredient
	at := map[int64]int{}
	for _, p := range parts {
		from := f.lots[p.Lot]
		i, ok := at[from.Material]
		if !ok {
			i = len(list)
			at[from.Material] = i
			list = append(list, Ingredient{Material: f.materials[from.Material], Lots: []string{}})
		}
		list[i].Grams = list[i].Grams.Add(p.Share.Mul(grams))
		if from.Code != "" { // a plan has no lots
			list[i].Lots = append(list[i].Lots, from.Code)
		}
	}
	return list, nil
}
