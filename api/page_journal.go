package api

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"ashbook/api/pages"
	"ashbook/ledger"
)

func queryOf(words string) string { return url.QueryEscape(words) }

const pageOfEntries = 100

func (s *Server) getJournal(w http.ResponseWriter, r *http.Request) error {
	p := &pages.Journal{}
	var list []ledger.JournalEntry
	var err error
	keep(&err, &p.Base)(s.base(r, "Journal"))
	keep(&err, &list)(s.ledger.Journal(r.Context(), ledger.JournalQuery{Before: asked(r, "before"), Limit: pageOfEntries}))
	if err != nil {
		return err
	}
	for _, e := range list {
		p.Lines = append(p.Lines, journalLine(s.actor(r.Context()), e))
	}
	if len(list) == pageOfEntries {
		p.Next = list[len(list)-1].ID
	}
	return show(w, http.StatusOK, p)
}

// kindWords are the kinds of entry as a person would say them.
var kindWords = map[string]string{
	"shop.set": "Shop set up", "person.added": "Person added", "person.changed": "Person changed", "supplier.added": "Supplier added",
	"material.defined": "Material described", "lot.received": "Lot received", "lot.held": "Lot put on hold", "lot.freed": "Lot freed",
	"document.filed": "Paper filed", "formula.defined": "Formula defined", "batch.planned": "Batch planned", "weighing.taken": "Weighed",
	"reading.taken": "Read", "step.taken": "Step", "portions.split": "Pot divided", "batch.yielded": "Came out", "gate.passed": "Gate passed against its word",
	"deviation.opened": "Deviation opened", "deviation.decided": "Deviation decided", "release.decided": "Decided", "stock.moved": "Stock moved",
	"buyer.added": "Buyer added", "dispatch.sent": "Sent", "dispatch.returned": "Came back", "label.issued": "Label drawn",
	"drill.recorded": "Drill recorded", "entry.struck": "Entry struck",
}

// told is what a line of the journal takes from the body of an entry.
type told struct {
	Code      string
	Name      string
	Login     string
	Step      string
	Type      string
	Typed     string
	Unit      string
	Decision  string
	Way       string
	What      string
	Title     string
	Reason    string
	Statement string
	Note      string
	Notes     string
	Gate      string
	Subject   string
	Occasion  string
	Copies    int
	Mass      struct{ Typed, Unit string }
	Outputs   []struct{ Code string }

	ID, Batch, Lot, Material, Dispatch int64
}

func journalLine(by ledger.Actor, e ledger.JournalEntry) pages.JournalLine {
	line := pages.JournalLine{Entry: e.ID, Kind: kindWords[e.Kind], Person: e.Person, HappenedAt: e.HappenedAt, RecordedAt: e.RecordedAt,
		Corrects: e.Corrects, CorrectedBy: e.CorrectedBy, Reason: e.Reason, Strikable: e.Correctable() && by.May(e.Body.Right())}
	if line.Kind == "" {
		line.Kind = e.Kind
	}
	var t told
	if err := json.Unmarshal([]byte(e.Text), &t); err != nil {
		return line // the kind, the person and the times stand; the journal itself is checked by verify
	}
	line.What, line.Link = t.words(), t.link(e.Kind)
	return line
}

// words are the telling parts of a body, in the order of a sentence.
func (t told) words() string {
	parts := []string{t.Code, t.Name, t.Login, t.Step, t.Type, measured(t.Typed, t.Unit), measured(t.Mass.Typed, t.Mass.Unit), t.Way, t.Gate, t.Decision, t.What,
		t.Title, t.Subject, t.Occasion, t.Statement, t.Note, t.Notes, t.Reason}
	for _, o := range t.Outputs {
		parts = append(parts, o.Code)
	}
	if t.Copies > 0 {
		parts = append(parts, fmt.Sprintf("%d copies", t.Copies))
	}
	var said []string
	for _, p := range parts {
		if p != "" {
			said = append(said, p)
		}
	}
	text := []rune(strings.Join(said, ", "))
	if len(text) > 160 {
		text = append(text[:160], '…')
	}
	return string(text)
}

func measured(typed, unit string) string {
	if typed == "" {
		return ""
	}
	return strings.TrimSpace(typed + " " + unit)
}

// link is the page of what the entry is about.
func (t told) link(kind string) string {
	own := map[string]string{"material.defined": "/materials/", "lot.received": "/lots/", "formula.defined": "/formulas/", "batch.planned": "/batches/", "dispatch.sent": "/dispatches/"}
	if room, ok := own[kind]; ok && t.ID != 0 {
		return room + digits(t.ID)
	}
	switch {
	case t.Batch != 0:
		return "/batches/" + digits(t.Batch)
	case t.Dispatch != 0:
		return "/dispatches/" + digits(t.Dispatch)
	case t.Lot != 0:
		return "/lots/" + digits(t.Lot)
	}
	return ""
}
