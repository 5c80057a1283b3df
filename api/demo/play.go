package demo

import (
	"context"
	"errors"
	"fmt"
	"time"

	"ashbook/api"
	"ashbook/labels"
	"ashbook/ledger"
)

// named is a thing of a scenario by what it is and how the files call it.
type named struct{ what, name string }

// player records a scenario, event after event, through the same door as a user's data.
type player struct {
	ledger    *ledger.Ledger
	scenario  *scenario
	now       time.Time
	ids       map[named]int64
	actors    map[string]ledger.Actor
	lines     map[int64][]ledger.PlanLine // weigh list by batch
	materials map[int64]int64             // material by lot; none of soap
	makes     map[int64]int64             // material by the batch that makes it
	entries   int64
	people    []Person
	label     *labels.Issued
}

func newPlayer(s *scenario) *player {
	return &player{scenario: s, ids: map[named]int64{}, actors: map[string]ledger.Actor{}, lines: map[int64][]ledger.PlanLine{},
		materials: map[int64]int64{}, makes: map[int64]int64{}}
}

// find gives the number of a named thing.
func (p *player) find(what, name string) (int64, error) {
	id, ok := p.ids[named{what, name}]
	if !ok {
		return 0, fmt.Errorf("there is no %s named %q by then", what, name)
	}
	return id, nil
}

// give names a thing.
func (p *player) give(what, name string, id int64) error {
	if name == "" {
		return nil
	}
	if _, taken := p.ids[named{what, name}]; taken {
		return fmt.Errorf("the name %q is given twice", name)
	}
	p.ids[named{what, name}] = id
	return nil
}

func (p *player) play(ctx context.Context) error {
	if err := p.refuseOthers(ctx); err != nil {
		return err
	}
	for i, e := range p.scenario.events {
		p.now = e.recorded
		if err := p.playOne(ctx, e, keyOf(i)); err != nil {
			return e.place.of(explain(err))
		}
	}
	p.now = p.scenario.today
	return nil
}

// refuseOthers keeps the demonstration out of a shop's own records, before anything is written: a journal either is
// empty or begins with the scenario's first entry.
func (p *player) refuseOthers(ctx context.Context) error {
	first, err := p.ledger.Journal(ctx, ledger.JournalQuery{Limit: 1, Oldest: true})
	if err != nil || len(first) == 0 {
		return err
	}
	begun, err := p.ledger.Recorded(ctx, ledger.System, keyOf(0))
	if err == nil && (begun == nil || begun.Entry != first[0].ID) {
		return &ledger.Error{Fault: ledger.Conflict, Message: "the database holds records of its own, and the demonstration never goes among them: start with an empty one"}
	}
	return err
}

func keyOf(event int) string { return fmt.Sprintf("demo-%04d", event+1) }

// explain adds what a gate found, and what a conflict most likely means here.
func explain(err error) error {
	if e, ok := errors.AsType[*ledger.Error](err); ok {
		for _, f := range e.Findings {
			err = fmt.Errorf("%w; %s: %s", err, f.Rule, f.Text)
		}
	}
	if ledger.FaultOf(err) == ledger.Conflict {
		return fmt.Errorf("%w; a database with other records, or with another version of the demonstration, cannot take it: start with an empty one", err)
	}
	return err
}

func (p *player) playOne(ctx context.Context, e event, key string) error {
	by, err := p.actor(e.by)
	if err != nil {
		return err
	}
	w, err := p.write(e)
	if err != nil {
		return err
	}
	if e.kind == "label.issued" {
		return p.issue(ctx, by, w, key)
	}
	req := ledger.Request{Key: key, HappenedAt: e.at, Reason: e.reason, Override: e.override, Body: w.body, Contact: w.contact}
	if e.corrects != "" {
		if req.Corrects, err = p.find("entry", e.corrects); err != nil {
			return err
		}
	}
	if d, ok := w.body.(*ledger.DocumentFiled); ok {
		content := []byte(w.beside["content"])
		req.Body, req.Files = ledger.FileDocument(d.Lot, d.Type, d.Title, d.ExpiresOn, content), [][]byte{content}
	}
	r, err := p.ledger.Record(ctx, by, req)
	if err != nil {
		return err
	}
	p.entries++
	if e.override != "" { // the passing of the gate is an entry beside
		p.entries++
	}
	return p.note(ctx, w, r)
}

func (p *player) actor(name string) (ledger.Actor, error) {
	if name == "ashbook" {
		return ledger.System, nil
	}
	a, ok := p.actors[name]
	if !ok {
		return a, fmt.Errorf("there is no person named %q by then", name)
	}
	return a, nil
}

func (p *player) issue(ctx context.Context, by ledger.Actor, w *written, key string) error {
	l := w.body.(*ledger.LabelIssued)
	issued, err := labels.Issue(ctx, p.ledger, by, labels.Request{Key: key, Lot: l.Lot, Copies: l.Copies, Style: l.Style})
	if err != nil {
		return err
	}
	p.entries++
	if w.as != "" && w.as == p.scenario.label {
		p.label = issued
	}
	return nil
}

// note remembers by name what an entry made.
func (p *player) note(ctx context.Context, w *written, r *ledger.Receipt) error {
	if err := p.give("entry", w.as, r.Entry); err != nil {
		return err
	}
	switch b := r.Record.(type) {
	case *ledger.PersonAdded:
		return p.noteMade(ctx, w, b)
	case *ledger.SupplierAdded:
		return p.give("supplier", w.as, b.ID)
	case *ledger.MaterialDefined:
		return p.give("material", w.as, b.ID)
	case *ledger.LotReceived:
		p.materials[b.ID] = b.Material
		return p.give("lot", w.as, b.ID)
	case *ledger.FormulaDefined:
		return errors.Join(p.give("formula", w.as, b.Formula), p.give("formula version", w.as, b.ID))
	case *ledger.BatchPlanned:
		p.lines[b.ID] = b.Lines
		p.makes[b.ID] = b.Material
		return p.give("batch", w.as, b.ID)
	case *ledger.BatchYielded:
		return p.noteOutputs(w, b)
	case *ledger.DeviationOpened:
		return p.give("deviation", w.as, b.ID)
	case *ledger.BuyerAdded:
		return p.give("buyer", w.as, b.ID)
	case *ledger.DispatchSent:
		return p.give("dispatch", w.as, b.ID)
	}
	return nil
}

// noteMade lets a person record, and sign in with the password of the demonstration unless there is one already.
func (p *player) noteMade(ctx context.Context, w *written, b *ledger.PersonAdded) error {
	a, err := p.ledger.Actor(ctx, b.ID)
	if err != nil {
		return err
	}
	p.actors[w.as] = a
	p.people = append(p.people, Person{Login: b.Login, Name: b.Name, Role: b.Role, Password: w.beside["password"]})
	if err := p.give("person", w.as, b.ID); err != nil {
		return err
	}
	_, err = p.ledger.Credential(ctx, b.Login)
	if ledger.FaultOf(err) != ledger.NotFound {
		return err
	}
	return api.SetPassword(ctx, p.ledger, b.ID, w.beside["password"], false)
}

func (p *player) noteOutputs(w *written, b *ledger.BatchYielded) error {
	if len(w.outputs) != len(b.Outputs) {
		return errors.New("every output has a name: add as to each")
	}
	for i, o := range b.Outputs {
		p.materials[o.ID] = p.makes[b.Batch]
		if err := p.give("lot", w.outputs[i], o.ID); err != nil {
			return err
		}
	}
	return nil
}
