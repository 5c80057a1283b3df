package api

import (
	"fmt"
	"net/http"
	"strings"

	"ashbook/api/pages"
	"ashbook/labels"
	"ashbook/ledger"
)

// onLot is what the handlers of a lot's forms share: the form is read, and shown again on the page of the lot.
func (s *Server) onLot(r *http.Request, form func(ledger.Lot) *pages.Form, put func(*pages.Lot, *pages.Form)) (ledger.Lot, *input, again, error) {
	id, err := number(r, "id")
	if err != nil {
		return ledger.Lot{}, nil, nil, err
	}
	lot, err := s.ledger.Lot(r.Context(), id)
	if err != nil {
		return lot, nil, nil, err
	}
	in, err := s.read(r, form(lot))
	if err != nil {
		return lot, nil, nil, err
	}
	page := func() (pages.Page, error) {
		p, err := s.lotPage(r, id)
		if err != nil {
			return nil, err
		}
		put(p, in.form)
		return p, nil
	}
	return lot, in, page, nil
}

// toLot leads back to the lot.
func toLot(lot ledger.Lot, say string) outcome {
	return func(ledger.Body) (string, string) { return "/lots/" + digits(lot.ID), lot.Code + " " + say }
}

func (s *Server) postHold(w http.ResponseWriter, r *http.Request) error {
	lot, in, page, err := s.onLot(r, func(l ledger.Lot) *pages.Form { return holdForm(l.ID) }, func(p *pages.Lot, f *pages.Form) { p.Hold = f })
	if err != nil {
		return err
	}
	return in.record(w, &ledger.LotHeld{Lot: lot.ID, Reason: in.text("reason")}, page, toLot(lot, "is on hold."))
}

func (s *Server) postFree(w http.ResponseWriter, r *http.Request) error {
	lot, in, page, err := s.onLot(r, func(l ledger.Lot) *pages.Form { return freeForm(l.ID) }, func(p *pages.Lot, f *pages.Form) { p.Free = f })
	if err != nil {
		return err
	}
	return in.record(w, &ledger.LotFreed{Lot: lot.ID, Reason: in.text("reason")}, page, toLot(lot, "may be used again."))
}

// postDensity keeps how dense a stock lye is now.
func (s *Server) postDensity(w http.ResponseWriter, r *http.Request) error {
	lot, in, page, err := s.onLot(r, func(l ledger.Lot) *pages.Form { return densityForm("/lots/" + digits(l.ID) + "/density") },
		func(p *pages.Lot, f *pages.Form) { p.Density = f })
	if err != nil {
		return err
	}
	body := &ledger.ReadingTaken{Lot: lot.ID, Type: ledger.LyeDensity, Typed: in.text("typed"), Unit: in.text("unit"), At: in.at(), Within: in.optional("within"), Instrument: in.text("instrument")}
	return in.record(w, body, page, toLot(lot, "has its density recorded."))
}

func (s *Server) postMove(w http.ResponseWriter, r *http.Request) error {
	lot, in, page, err := s.onLot(r, moveForm, func(p *pages.Lot, f *pages.Form) { p.Move = f })
	if err != nil {
		return err
	}
	body := &ledger.StockMoved{Lot: lot.ID, Way: in.text("way"), From: in.text("from"), Amount: in.number("amount"), Reason: in.text("reason")}
	return in.record(w, body, page, toLot(lot, "is counted anew."))
}

func (s *Server) postPaper(w http.ResponseWriter, r *http.Request) error {
	lot, in, page, err := s.onLot(r, func(l ledger.Lot) *pages.Form { return paperForm(l.ID) }, func(p *pages.Lot, f *pages.Form) { p.File = f })
	if err != nil {
		return err
	}
	b := in.file("file")
	in.req.Files = [][]byte{b}
	body := ledger.FileDocument(lot.ID, in.text("type"), in.text("title"), in.text("expires_on"), b)
	return in.record(w, body, page, toLot(lot, "has the paper "+body.Title+"."))
}

func (s *Server) getDocument(w http.ResponseWriter, r *http.Request) error {
	id, err := number(r, "id")
	if err != nil {
		return err
	}
	d, b, err := s.ledger.Document(r.Context(), id)
	if err != nil {
		return err
	}
	return handOut(w, fileOf(d.Title, d.MediaType, b))
}

func labelForm(action string, lots []ledger.Lot) *pages.Form {
	lot := pages.In(pages.Choice, "lot", "Which bars?", "").Must()
	for _, l := range lots {
		lot.Options = append(lot.Options, pages.Option{Value: digits(l.ID), Label: l.Code, Note: strings.Trim(l.Name+" "+l.Portion, " ")})
	}
	if len(lots) == 1 {
		lot.Kind, lot.Value = pages.Hidden, digits(lots[0].ID)
	}
	return pages.NewForm("label", action, "Draw the label", lot,
		pages.In(pages.Count, "copies", "Copies", "As many as bars, and a few for spoils. The file holds one band: print it that many times.").Is("1").Must(),
		pages.In(pages.Select, "style", "Rules", "").Of(pages.Option{Label: "as the shop has it"}, pages.Option{Value: "US", Label: "United States"},
			pages.Option{Value: "EU", Label: "European Union"}))
}

// issue draws the label that a form asks for and leads to where its file can be fetched.
func (in *input) issue(w http.ResponseWriter, page again, to string) error {
	req := labels.Request{Key: in.req.Key, Lot: in.chosen("lot"), Copies: int(in.count("copies")), Style: in.text("style")}
	return in.do(w, page, func() (string, string, error) {
		issued, err := labels.Issue(in.r.Context(), in.s.ledger, in.s.actor(in.r.Context()), req)
		if err != nil {
			return "", "", err
		}
		say := fmt.Sprintf("A label is drawn, %d copies. Fetch the PDF below.", req.Copies)
		if l, ok := issued.Receipt.Record.(*ledger.LabelIssued); ok && l.Proof {
			say = "A proof is drawn, marked as not for sale. Fetch the PDF below."
		}
		return to, say, nil
	})
}

func (s *Server) postLotLabel(w http.ResponseWriter, r *http.Request) error {
	form := func(l ledger.Lot) *pages.Form { return labelForm("/lots/"+digits(l.ID)+"/label", []ledger.Lot{l}) }
	lot, in, page, err := s.onLot(r, form, func(p *pages.Lot, f *pages.Form) { p.Label = f })
	if err != nil {
		return err
	}
	return in.issue(w, page, "/lots/"+digits(lot.ID)+"#labels")
}

func (s *Server) getLabel(w http.ResponseWriter, r *http.Request) error {
	id, err := number(r, "id")
	if err != nil {
		return err
	}
	l, err := s.ledger.Label(r.Context(), id)
	if err != nil {
		return err
	}
	b, err := s.ledger.File(r.Context(), l.Digest)
	if err != nil {
		return err
	}
	return handOut(w, fileOf(labelName(l), "application/pdf", b))
}
