package api

import (
	"net/http"
	"strconv"
	"strings"

	"ashbook/api/pages"
	"ashbook/ledger"
)

func shopForm(shop *ledger.Shop) *pages.Form {
	if shop == nil {
		shop = &ledger.Shop{Timezone: "Europe/Vienna", Currency: "EUR", LabelStyle: "EU", CureDays: 28}
		usual := ledger.UsualLimits()
		shop.ScaleStep, shop.FineStep, shop.LyeWarn, shop.LyeStop = usual.ScaleStep, usual.FineStep, usual.LyeWarn, usual.LyeStop
		shop.FreeAlkali = ledger.UsualFreeAlkali()
	}
	loss := "0.5"
	if shop.LossPerWeek.IsPositive() {
		loss = shop.LossPerWeek.String()
	}
	return pages.NewForm("shop", "/shop", "Keep these",
		pages.In(pages.Text, "name", "Name of the shop", "").Is(shop.Name).Must(),
		pages.In(pages.Area, "address", "Address", "As it stands on a label, one line below the other.").Is(strings.Join(shop.Address, "\n")).Must(),
		pages.In(pages.Text, "contact", "Contact", "How a buyer reaches you: telephone, mail or site.").Is(shop.Contact).Must(),
		pages.In(pages.Text, "timezone", "Time zone", "For example Europe/Vienna or America/Chicago. Days are counted in it.").Is(shop.Timezone).Must(),
		pages.In(pages.Text, "currency", "Currency", "Three capitals, for example EUR or USD.").Is(shop.Currency).Must(),
		pages.In(pages.Choice, "label_style", "Whose rules do your labels follow?", "").Is(shop.LabelStyle).Must().
			Of(pages.Option{Value: "US", Label: "United States"}, pages.Option{Value: "EU", Label: "European Union"}),
		pages.In(pages.Count, "cure_days", "Least days from cutting to release", "").Is(strconv.Itoa(shop.CureDays)).Must(),
		pages.In(pages.Decimal, "loss_per_week", "A bar counts as steady when it loses less than this, % a week", "").Is(loss).Must(),
		pages.In(pages.Decimal, "scale_step", "Step of the bench scale, g", "Plans are rounded to it.").Is(shop.ScaleStep.String()).Must(),
		pages.In(pages.Decimal, "fine_step", "Step of the scale for less than 10 g, g", "The same when there is only one.").Is(shop.FineStep.String()).Must(),
		pages.In(pages.Decimal, "lye_warn", "Warn above this chance of lye-heavy soap, %", "Published saponification ranges are wide; a certificate of the lot narrows them.").
			Is(shop.LyeWarn.Shift(2).String()).Must(),
		pages.In(pages.Decimal, "lye_stop", "Stop above this chance, %", "").Is(shop.LyeStop.Shift(2).String()).Must(),
		pages.In(pages.Decimal, "free_alkali_limit", "Most free alkali that a titration may find, % as NaOH", "0.05 is that of milled toilet soap (from memory). The rule of your place goes before it.").
			Is(shop.FreeAlkali.String()).Must())
}

func (s *Server) getShop(w http.ResponseWriter, r *http.Request) error {
	b, err := s.base(r, "The shop")
	if err != nil {
		return err
	}
	p := &pages.Shop{Base: b}
	if p.Set, err = s.shop(r); err != nil {
		return err
	}
	if b.May("manage") {
		p.Form = shopForm(p.Set)
	}
	return show(w, http.StatusOK, p)
}

func (s *Server) postShop(w http.ResponseWriter, r *http.Request) error {
	in, err := s.read(r, shopForm(nil))
	if err != nil {
		return err
	}
	body := &ledger.ShopSet{Name: in.text("name"), Contact: in.text("contact"), Timezone: in.text("timezone"), Currency: in.text("currency"),
		LabelStyle: in.text("label_style"), CureDays: int(in.count("cure_days")), LossPerWeek: in.number("loss_per_week"),
		ScaleStep: in.number("scale_step"), FineStep: in.number("fine_step"), LyeWarn: in.share("lye_warn"), LyeStop: in.share("lye_stop"), FreeAlkali: in.number("free_alkali_limit")}
	for _, line := range strings.Split(in.text("address"), "\n") {
		if line = strings.TrimSpace(line); line != "" {
			body.Address = append(body.Address, line)
		}
	}
	page := func() (pages.Page, error) {
		b, err := s.base(r, "The shop")
		return &pages.Shop{Base: b, Form: in.form}, err
	}
	return in.record(w, body, page, func(ledger.Body) (string, string) { return "/", "The shop is set up as " + body.Name + "." })
}

func supplierForm() *pages.Form {
	return pages.NewForm("supplier", "/suppliers", "Add the supplier",
		pages.In(pages.Text, "name", "Name", "").Must(), pages.In(pages.Area, "note", "Note", "Whom to call, customer number, delivery days."))
}

func (s *Server) suppliersPage(r *http.Request, add *pages.Form) (pages.Page, error) {
	b, err := s.base(r, "Suppliers")
	p := &pages.Suppliers{Base: b}
	keep(&err, &p.Suppliers)(s.ledger.Suppliers(r.Context()))
	if b.May("make") {
		p.Add = add
	}
	return p, err
}

func (s *Server) getSuppliers(w http.ResponseWriter, r *http.Request) error {
	p, err := s.suppliersPage(r, supplierForm())
	if err != nil {
		return err
	}
	return show(w, http.StatusOK, p)
}

func (s *Server) postSupplier(w http.ResponseWriter, r *http.Request) error {
	in, err := s.read(r, supplierForm())
	if err != nil {
		return err
	}
	body := &ledger.SupplierAdded{Name: in.text("name"), Note: in.text("note")}
	page := func() (pages.Page, error) { return s.suppliersPage(r, in.form) }
	return in.record(w, body, page, func(ledger.Body) (string, string) { return "/suppliers", body.Name + " is added." })
}

func buyerForm() *pages.Form {
	return pages.NewForm("buyer", "/buyers", "Add the buyer",
		pages.In(pages.Choice, "type", "What kind of buyer?", "").Must().Of(pages.Same(ledger.BuyerKinds...)...),
		pages.In(pages.Text, "name", "Name", "Kept apart from the journal, so that it can be erased.").Must(),
		pages.In(pages.Area, "address", "Address", ""),
		pages.In(pages.Text, "email", "Mail", ""),
		pages.In(pages.Text, "phone", "Telephone", ""))
}

func (s *Server) buyersPage(r *http.Request, add *pages.Form) (pages.Page, error) {
	b, err := s.base(r, "Buyers")
	p := &pages.Buyers{Base: b}
	keep(&err, &p.Buyers)(s.ledger.Buyers(r.Context()))
	if b.May("sell") {
		p.Add = add
	}
	return p, err
}

func (s *Server) getBuyers(w http.ResponseWriter, r *http.Request) error {
	p, err := s.buyersPage(r, buyerForm())
	if err != nil {
		return err
	}
	return show(w, http.StatusOK, p)
}

func (s *Server) postBuyer(w http.ResponseWriter, r *http.Request) error {
	in, err := s.read(r, buyerForm())
	if err != nil {
		return err
	}
	in.req.Contact = &ledger.Contact{Name: in.text("name"), Address: in.text("address"), Email: in.text("email"), Phone: in.text("phone")}
	page := func() (pages.Page, error) { return s.buyersPage(r, in.form) }
	return in.record(w, &ledger.BuyerAdded{Type: in.text("type")}, page, func(ledger.Body) (string, string) {
		return "/buyers", in.req.Contact.Name + " is added."
	})
}
