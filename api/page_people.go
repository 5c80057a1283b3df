package api

import (
	"net/http"

	"ashbook/api/pages"
	"ashbook/ledger"
)

func roleOptions() []pages.Option {
	notes := map[ledger.Role]string{ledger.Owner: "everything, people and settings included", ledger.Maker: "batches, stock, sales",
		ledger.Reviewer: "what a maker may, and releases", ledger.Seller: "sells, takes back, answers", ledger.Visitor: "reads only"}
	var list []pages.Option
	for _, role := range ledger.Roles {
		list = append(list, pages.Option{Value: string(role), Label: string(role), Note: notes[role]})
	}
	return list
}

func personForm() *pages.Form {
	return pages.NewForm("person", "/people", "Add, and make a one-time password",
		pages.In(pages.Text, "login", "Name to sign in with", "2 to 40 small letters, digits, dots or hyphens.").Must(),
		pages.In(pages.Text, "name", "Name", "As it stands beside what the person recorded.").Must(),
		pages.In(pages.Choice, "role", "Role", "").Must().Of(roleOptions()...))
}

func changePersonForm(p ledger.Person) *pages.Form {
	active := ""
	if p.Active {
		active = "yes"
	}
	return pages.NewForm("person-"+digits(p.ID), "/people/"+digits(p.ID), "Change",
		pages.In(pages.Select, "role", "Role", "").Is(string(p.Role)).Of(roleOptions()...),
		pages.In(pages.Check, "active", "May sign in", "").Is(active))
}

func resetForm(p ledger.Person) *pages.Form {
	return pages.NewForm("reset-"+digits(p.ID), "/people/"+digits(p.ID)+"/password", "Make a new one-time password")
}

func (s *Server) peoplePage(r *http.Request) (*pages.People, error) {
	b, err := s.base(r, "People")
	var people []ledger.Person
	keep(&err, &people)(s.ledger.People(r.Context()))
	p := &pages.People{Base: b}
	for _, person := range people {
		row := pages.PersonRow{Person: person}
		if b.May("manage") {
			row.Change, row.Password = changePersonForm(person), resetForm(person)
		}
		p.People = append(p.People, row)
	}
	if b.May("manage") {
		p.Add = personForm()
	}
	return p, err
}

func (s *Server) getPeople(w http.ResponseWriter, r *http.Request) error {
	p, err := s.peoplePage(r)
	if err != nil {
		return err
	}
	return show(w, http.StatusOK, p)
}

func (s *Server) postPerson(w http.ResponseWriter, r *http.Request) error {
	in, err := s.read(r, personForm())
	if err != nil {
		return err
	}
	in.req.Body = &ledger.PersonAdded{Login: in.text("login"), Name: in.text("name"), Role: ledger.Role(in.text("role"))}
	receipt, err := s.ledger.Record(r.Context(), s.actor(r.Context()), in.req)
	if err != nil {
		status, err := in.blame(err)
		if err != nil {
			return err
		}
		p, err := s.peoplePage(r)
		if err != nil {
			return err
		}
		p.Add = in.form
		return show(w, status, p)
	}
	added := receipt.Record.(*ledger.PersonAdded)
	return s.givePassword(w, r, added.ID, added.Login)
}

// givePassword makes a one-time password and shows it on this answer only: a redirect would have to keep it somewhere.
func (s *Server) givePassword(w http.ResponseWriter, r *http.Request, person int64, login string) error {
	plain := oneTimePassword()
	if err := SetPassword(r.Context(), s.ledger, person, plain, true); err != nil {
		return err
	}
	p, err := s.peoplePage(r)
	if err != nil {
		return err
	}
	p.Once, p.OnceLogin = plain, login
	return show(w, http.StatusOK, p)
}

func (s *Server) person(r *http.Request) (ledger.Person, error) {
	id, err := number(r, "id")
	if err != nil {
		return ledger.Person{}, err
	}
	people, err := s.ledger.People(r.Context())
	if err != nil {
		return ledger.Person{}, err
	}
	for _, p := range people {
		if p.ID == id {
			return p, nil
		}
	}
	return ledger.Person{}, newProblem("not-found", "there is no person "+digits(id))
}

func (s *Server) postPersonChange(w http.ResponseWriter, r *http.Request) error {
	person, err := s.person(r)
	if err != nil {
		return err
	}
	in, err := s.read(r, changePersonForm(person))
	if err != nil {
		return err
	}
	body := &ledger.PersonChanged{ID: person.ID, Role: ledger.Role(in.text("role")), Active: in.yes("active")}
	page := func() (pages.Page, error) {
		p, err := s.peoplePage(r)
		for i := range p.People {
			if p.People[i].ID == person.ID {
				p.People[i].Change = in.form
			}
		}
		return p, err
	}
	return in.record(w, body, page, func(ledger.Body) (string, string) { return "/people", person.Name + " is changed." })
}

func (s *Server) postPersonPassword(w http.ResponseWriter, r *http.Request) error {
	person, err := s.person(r)
	if err != nil {
		return err
	}
	return s.givePassword(w, r, person.ID, person.Login)
}
