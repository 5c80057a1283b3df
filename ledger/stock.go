package ledger

import (
	"context"
	"slices"

	"github.com/shopspring/decimal"
)

// The ways in which stock moves outside batches and sales.
const (
	Discarded = "discarded" // thrown away, with the reason
	KeptBack  = "kept"      // a retained sample
	Missing   = "missing"   // a count found less
	Surplus   = "found"     // a count found more
	Dried     = "dried"     // water left it on the shelf: the mass that it lost
)

// StockMoved moves an amount of a lot by hand: to waste, to the retained samples, or to and from the stock count.
type StockMoved struct {
	Lot    int64           `json:"lot"`
	Way    string          `json:"way" enum:"discarded,kept,missing,found,dried"`
	From   string          `json:"from,omitempty" enum:",shelf,rack,ready,kept" doc:"where it lies; empty: wherever the lot lies now"`
	Amount decimal.Decimal `json:"amount" doc:"in the lot's unit: g or pieces"`
	Reason string          `json:"reason" maxLength:"500"`
}

// Kind names the entry.
func (*StockMoved) Kind() string { return "stock.moved" }

// Right is what it asks for.
func (*StockMoved) Right() Right { return MayMake }

// Subjects is the lot.
func (s *StockMoved) Subjects() []int64 { return []int64{s.Lot} }

// Check finds where the lot lies and refuses what cannot be moved.
func (s *StockMoved) Check(ctx context.Context, tx *Tx, _ *Entry) error {
	if err := oneOf("way", s.Way, Discarded, KeptBack, Missing, Surplus, Dried); err != nil {
		return err
	}
	if err := positive("amount", s.Amount); err != nil {
		return err
	}
	if err := words("reason", &s.Reason, 500); err != nil {
		return err
	}
	lot, err := readLot(ctx, tx, s.Lot)
	if err != nil {
		return err
	}
	if lot.Unit == "piece" && !s.Amount.Equal(s.Amount.Truncate(0)) {
		return invalid("amount", "%s is counted in whole pieces", lot.Code)
	}
	if s.Way == Dried && lot.Unit == "piece" {
		return invalid("way", "%s is counted in pieces, which drying does not change; record what a bar weighs instead", lot.Code)
	}
	if s.From == "" {
		if s.From, err = tx.whereItLies(ctx, lot); err != nil {
			return err
		}
	}
	return s.checkFrom(ctx, tx, lot)
}

// checkFrom wants a place from which the movement makes sense. What is found is put where the lot belongs now, so that
// bars which nobody released do not turn up among those that are ready.
func (s *StockMoved) checkFrom(ctx context.Context, tx *Tx, lot Lot) error {
	if s.Way == KeptBack && s.From == kept.Name {
		return invalid("from", "%s is kept as a sample already", lot.Code)
	}
	if s.Way != Surplus {
		return oneOf("from", s.From, onShelf.Name, onRack.Name, ready.Name, kept.Name)
	}
	belongs, err := tx.whereUsed(ctx, lot.ID)
	if err != nil {
		return err
	}
	return oneOf("from", s.From, belongs.Name, kept.Name)
}

// whereItLies is the one place on the premises that holds the lot; where it belongs when none does.
func (tx *Tx) whereItLies(ctx context.Context, lot Lot) (string, error) {
	places, err := column[string](ctx, tx, `select place from balance where lot_id = $1 and amount > 0 and place in ('shelf', 'rack', 'ready')`, lot.ID)
	if err != nil {
		return "", err
	}
	if len(places) == 0 {
		belongs, err := tx.whereUsed(ctx, lot.ID)
		return belongs.Name, err
	}
	if len(places) > 1 {
		slices.Sort(places)
		return "", invalid("from", "%s lies at %s and %s; say which", lot.Code, places[0], places[1])
	}
	return places[0], nil
}

// Apply moves it.
func (s *StockMoved) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	from, to := Place{Name: s.From}, map[string]Place{Discarded: waste, KeptBack: kept, Missing: counted, Surplus: counted, Dried: intoAir}[s.Way]
	if s.Way == Surplus {
		from, to = to, from
	}
	_, err := tx.Exec(ctx, `insert into stock_move (entry_id, lot_id, from_place, to_place, amount, why, person_id) values ($1,$2,$3,$4,$5,$6,$7)`,
		e.ID, s.Lot, from.Name, to.Name, s.Amount, s.Reason, e.PersonID)
	if err != nil {
		return err
	}
	return tx.move(ctx, e, s.Lot, s.Amount, from, to)
}

// Strike crosses the movement out.
func (s *StockMoved) Strike(ctx context.Context, tx *Tx, old, by *Entry) error {
	_, err := tx.Exec(ctx, `update stock_move set struck_by = $2 where entry_id = $1`, old.ID, by.ID)
	return err
}

// Holding is an amount of a lot at a place.
type Holding struct {
	Place   string          `json:"place"`
	PlaceID int64           `json:"place_id,omitempty"`
	Amount  decimal.Decimal `json:"amount"`
}

// Holdings tells where all of a lot is.
func (l *Ledger) Holdings(ctx context.Context, lot int64) ([]Holding, error) {
	return all[Holding](ctx, l.pool, `select place, place_id, amount from balance where lot_id = $1 and amount <> 0
		order by place, place_id`, lot)
}
