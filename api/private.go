package api

import (
	"context"

	"ashbook/ledger"
)

// privateBuyer stands for the name of a private person where somebody looks who does not sell.
const privateBuyer = "a private buyer"

// private are the buyers whose names are hidden from who asks: private people, from those who only look. Shops and
// organisers are named to all, since a recall goes through them.
type private map[int64]bool

func (s *Server) private(ctx context.Context) (private, error) {
	if s.actor(ctx).May(ledger.MaySell) {
		return nil, nil
	}
	buyers, err := s.ledger.Buyers(ctx)
	hidden := private{}
	for _, b := range buyers {
		hidden[b.ID] = b.Type == "person"
	}
	return hidden, err
}

// hide takes the name and the number of a private person away.
func (p private) hide(id **int64, name *string) {
	if *id != nil && p[**id] {
		*id, *name = nil, privateBuyer
	}
}

// asked answers what somebody asked, with the names that this person may see.
func (s *Server) asked(ctx context.Context, words string) (*ledger.Answer, error) {
	a, err := s.ledger.Ask(ctx, words)
	if err != nil {
		return nil, err
	}
	hidden, err := s.private(ctx)
	for i := range a.Sent {
		hidden.hide(&a.Sent[i].BuyerID, &a.Sent[i].Buyer)
	}
	for i, f := range a.Found {
		if f.What == "buyer" && hidden[f.ID] {
			a.Found[i].ID, a.Found[i].Name = 0, privateBuyer
		}
	}
	return a, err
}

// left lists dispatches with the names that this person may see.
func (s *Server) left(ctx context.Context, before int64) ([]ledger.Dispatch, error) {
	list, err := s.ledger.Dispatches(ctx, before)
	if err != nil {
		return nil, err
	}
	hidden, err := s.private(ctx)
	for i := range list {
		hidden.hide(&list[i].BuyerID, &list[i].Buyer)
	}
	return list, err
}

// leftWith is one dispatch with the name that this person may see.
func (s *Server) leftWith(ctx context.Context, id int64) (ledger.Dispatch, error) {
	d, err := s.ledger.Dispatch(ctx, id)
	if err != nil {
		return d, err
	}
	hidden, err := s.private(ctx)
	hidden.hide(&d.BuyerID, &d.Buyer)
	return d, err
}
