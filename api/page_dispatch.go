package api

import (
	"context"
	"fmt"
	"net/http"
	"strings"

	"github.com/shopspring/decimal"

	"ashbook/api/pages"
	"ashbook/ledger"
)

const pageOfDispatches = 200 // as many as the ledger gives at a time

func (s *Server) getDispatches(w http.ResponseWriter, r *http.Request) error {
	p := &pages.Dispatches{}
	var err error
	keep(&err, &p.Base)(s.base(r, "Sales"))
	keep(&err, &p.Dispatches)(s.left(r.Context(), asked(r, "before")))
	if err != nil {
		return err
	}
	if n := len(p.Dispatches); n == pageOfDispatches {
		p.Next = p.Dispatches[n-1].ID
	}
	return show(w, http.StatusOK, p)
}

// readyLots are the lots of bars of which some lie ready, with how many.
func (s *Server) readyLots(ctx context.Context) ([]pages.Option, error) {
	lots, err := s.ledger.Lots(ctx, ledger.LotQuery{What: "bars", OnHand: true})
	if err != nil {
		return nil, err
	}
	var list []pages.Option
	for _, lot := range lots {
		ready, err := s.readyOf(ctx, lot.ID)
		if err != nil {
			return nil, err
		}
		if ready.IsPositive() {
			label := strings.TrimSpace(fmt.Sprintf("%s %s %s", lot.Code, lot.Name, lot.Portion))
			if lot.Held {
				label += ", ON HOLD"
			}
			list = append(list, pages.Option{Value: digits(lot.ID), Label: label + ", " + pages.Amount(ready, lot.Unit) + " ready"})
		}
	}
	return list, nil
}

func (s *Server) readyOf(ctx context.Context, lot int64) (decimal.Decimal, error) {
	holdings, err := s.ledger.Holdings(ctx, lot)
	for _, h := range holdings {
		if h.Place == "ready" {
			return h.Amount, err
		}
	}
	return decimal.Zero, err
}

func sendForm(buyers []ledger.Buyer, lots []pages.Option, n int) *pages.Form {
	to := []pages.Option{{Label: "nobody by name"}}
	for _, b := range buyers {
		if b.Name != "" {
			to = append(to, pages.Option{Value: digits(b.ID), Label: b.Name})
		}
	}
	notes := map[string]string{"shop": "a shop that sells on", "market": "a stall; the event stands for the buyers", "online": "an order that is sent",
		"gift": "a gift or a donation", "tester": "a sample to try"}
	var ways []pages.Option
	for _, c := range ledger.Channels {
		ways = append(ways, pages.Option{Value: c, Label: c, Note: notes[c]})
	}
	f := pages.NewForm("send", "/dispatches/new", "Send them out",
		pages.In(pages.Choice, "channel", "How do they leave?", "").Must().Of(ways...),
		pages.In(pages.Select, "buyer", "Who gets them?", "For shop and online. A new one is added under Buyers first.").Of(to...),
		pages.In(pages.Text, "occasion", "Market or event", "For a market: its name and place."),
		pages.In(pages.Text, "reference", "Invoice or order number", "")).WithTime()
	f.AddTable(&pages.Table{Name: "lines", Legend: "Bars", Hint: "The same lot once only. Empty rows do not count.", Grows: true}, n, func(int) []pages.Field {
		return []pages.Field{pages.In(pages.Select, "lot", "Lot", "").Of(pages.OrNone("none", lots)...), pages.In(pages.Count, "pieces", "Bars", "")}
	})
	return f
}

func (s *Server) sendPage(r *http.Request, n int) (*pages.Send, error) {
	p := &pages.Send{}
	var buyers []ledger.Buyer
	var lots []pages.Option
	var err error
	keep(&err, &p.Base)(s.base(r, "Send bars out"))
	keep(&err, &buyers)(s.ledger.Buyers(r.Context()))
	keep(&err, &lots)(s.readyLots(r.Context()))
	p.Form, p.Ready = sendForm(buyers, lots, n), len(lots) > 0
	return p, err
}

func (s *Server) getSend(w http.ResponseWriter, r *http.Request) error {
	p, err := s.sendPage(r, 3)
	if err != nil {
		return err
	}
	return show(w, http.StatusOK, p)
}

func (s *Server) postSend(w http.ResponseWriter, r *http.Request) error {
	if err := parseForm(r); err != nil {
		return err
	}
	n, more := rows(r, "lines", 3)
	p, err := s.sendPage(r, n)
	if err != nil {
		return err
	}
	in, err := s.read(r, p.Form)
	if err != nil {
		return err
	}
	p.Ready = true // the form is shown again even when the last bars have gone meanwhile
	page := func() (pages.Page, error) { return p, nil }
	if more {
		return in.back(w, http.StatusOK, page)
	}
	body := &ledger.DispatchSent{Channel: in.text("channel"), Buyer: in.pick("buyer"), Occasion: in.text("occasion"), Reference: in.text("reference")}
	for i := range n {
		row := fmt.Sprintf("lines.%d.", i)
		if lot := in.pick(row + "lot"); lot != 0 {
			body.Lines = append(body.Lines, ledger.DispatchLine{Lot: lot, Pieces: in.count(row + "pieces")})
		}
	}
	return in.record(w, body, page, func(kept ledger.Body) (string, string) {
		d := kept.(*ledger.DispatchSent)
		return "/dispatches/" + digits(d.ID), "The dispatch is " + d.Code + "."
	})
}

func returnForm(d ledger.Dispatch, lines []ledger.SentLine) *pages.Form {
	lot := pages.In(pages.Choice, "lot", "Which bars?", "").Must()
	for _, l := range lines {
		lot.Options = append(lot.Options, pages.Option{Value: digits(l.Lot), Label: l.LotCode, Note: l.Name + ", " + l.Pieces.Sub(l.Returned).String() + " out"})
	}
	return pages.NewForm("return", "/dispatches/"+digits(d.ID)+"/return", "Take them back", lot,
		pages.In(pages.Count, "pieces", "How many?", "").Must().Large(),
		pages.In(pages.Choice, "decision", "What is done with them?", "").Must().Of(
			pages.Option{Value: ledger.Restock, Label: "Back to stock", Note: "looked at and found good"},
			pages.Option{Value: ledger.Scrap, Label: "Thrown away"}, pages.Option{Value: ledger.Keep, Label: "Kept", Note: "as evidence or sample"}),
		pages.In(pages.Text, "reason", "Why they came back, and how they were found", "").Must()).WithTime()
}

func (s *Server) dispatchPage(r *http.Request, id int64) (*pages.Dispatch, error) {
	p := &pages.Dispatch{}
	var err error
	keep(&err, &p.Dispatch)(s.leftWith(r.Context(), id))
	keep(&err, &p.Base)(s.base(r, p.Dispatch.Code))
	keep(&err, &p.Lines)(s.ledger.SentLines(r.Context(), id))
	if p.May("sell") && len(p.Lines) > 0 {
		p.Return = returnForm(p.Dispatch, p.Lines)
	}
	return p, err
}

func (s *Server) getDispatch(w http.ResponseWriter, r *http.Request) error {
	id, err := number(r, "id")
	if err != nil {
		return err
	}
	p, err := s.dispatchPage(r, id)
	if err != nil {
		return err
	}
	return show(w, http.StatusOK, p)
}

func (s *Server) postReturn(w http.ResponseWriter, r *http.Request) error {
	id, err := number(r, "id")
	if err != nil {
		return err
	}
	p, err := s.dispatchPage(r, id)
	if err != nil {
		return err
	}
	p.Return = returnForm(p.Dispatch, p.Lines)
	in, err := s.read(r, p.Return)
	if err != nil {
		return err
	}
	body := &ledger.DispatchReturned{Dispatch: id, Lot: in.chosen("lot"), Pieces: in.count("pieces"), Decision: in.text("decision"), Reason: in.text("reason")}
	return in.record(w, body, func() (pages.Page, error) { return p, nil }, func(ledger.Body) (string, string) {
		return "/dispatches/" + digits(id), fmt.Sprintf("%d came back.", body.Pieces)
	})
}
