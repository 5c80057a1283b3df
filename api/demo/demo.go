// Package demo plays the demonstration: half a year of an invented workshop, from the files in testdata/demo. Every
// entry goes through the same door as a user's data, under a clock that stands where the story does.
package demo

import (
	"context"
	"fmt"
	"io/fs"
	"strings"
	"time"

	"ashbook/ledger"
	workshop "ashbook/testdata/demo"
)

// Person is one of the people of the demonstration, who signs in with a password that everyone can read here.
type Person struct {
	Login    string
	Name     string
	Role     ledger.Role
	Password string
}

// Result is what the demonstration shows.
type Result struct {
	Batch     string         // code of the batch to look at first
	LotQuery  string         // a supplier's lot number to ask about
	LabelPDF  []byte         // a label that was issued
	LabelCode string         // code of the bars that it is for
	Answer    *ledger.Answer // to LotQuery, as of Today
	Entries   int64          // entries that the scenario makes, those of passed gates included
	Today     time.Time      // the scenario's today, in the workshop's own zone
	People    []Person       // in the order in which they came
}

// Load plays the scenario into a migrated database. A database that has it already is left as it is and gives the
// same result; one that holds another version of it is refused with Conflict.
func Load(ctx context.Context, url string) (*Result, error) {
	return load(ctx, url, workshop.Files)
}

func load(ctx context.Context, url string, files fs.FS) (*Result, error) {
	s, err := parse(files)
	if err != nil {
		return nil, fmt.Errorf("the scenario cannot be read: %w", err)
	}
	p := newPlayer(s)
	if p.ledger, err = ledger.Open(ctx, url, func() time.Time { return p.now }); err != nil {
		return nil, err
	}
	defer p.ledger.Close()
	if err := p.play(ctx); err != nil {
		return nil, fmt.Errorf("the scenario cannot be played: %w", err)
	}
	return p.result(ctx)
}

func (p *player) result(ctx context.Context) (*Result, error) {
	if p.label == nil {
		return nil, fmt.Errorf("the scenario issues no label named %q", p.scenario.label)
	}
	id, err := p.find("batch", p.scenario.batch)
	if err != nil {
		return nil, err
	}
	batch, err := p.ledger.Batch(ctx, id)
	if err != nil {
		return nil, err
	}
	bars, err := p.ledger.Lot(ctx, p.label.Receipt.Record.(*ledger.LabelIssued).Lot)
	if err != nil {
		return nil, err
	}
	answer, err := p.ledger.Ask(ctx, p.scenario.question)
	if err != nil {
		return nil, err
	}
	return &Result{Batch: batch.Code, LotQuery: p.scenario.question, LabelPDF: p.label.PDF, LabelCode: bars.Code, Answer: answer,
		Entries: p.entries, Today: p.scenario.today, People: p.people}, nil
}

// Text tells a person at a terminal what was loaded; labelFile is where the label was written.
func (r *Result) Text(labelFile string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "An invented workshop: its people, shops, lots and places exist nowhere. Its today is %s.\n", r.Today.Format(time.DateOnly))
	fmt.Fprintf(&b, "%d entries are in its journal. The batch to look at first is %s.\n", r.Entries, r.Batch)
	fmt.Fprintf(&b, "The label of its bars (%s) is in %s\n\n", r.LabelCode, labelFile)
	b.WriteString("People, with passwords for this demonstration only, which everyone can read; use none of them for anything else\n")
	for _, p := range r.People {
		fmt.Fprintf(&b, "  %-6s  %-28s  %s (%s)\n", p.Login, p.Password, p.Name, p.Role)
	}
	fmt.Fprintf(&b, "\nA supplier calls about lot %s. Where is it?\n\n%s", r.LotQuery, r.Answer.Text())
	return b.String()
}
