package demo

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"time"

	"go.yaml.in/yaml/v3"
)

// scenario is what the files say, its events in the order in which they are recorded.
type scenario struct {
	zone     *time.Location
	today    time.Time
	batch    string // name of the batch to show
	label    string // name of the label to show
	question string // what to ask the ledger
	events   []event
}

// event is one entry to be: what happened, when, on whose word.
type event struct {
	place    place
	at       time.Time
	recorded time.Time
	by       string
	kind     string
	node     *yaml.Node
	corrects string
	reason   string
	override string
}

// place is where in the files something stands.
type place struct {
	file string
	line int
}

// wrong is an error about a place in the files.
func (p place) wrong(format string, args ...any) error { return p.of(fmt.Errorf(format, args...)) }

// of says where an error stands in the files, unless it says so already.
func (p place) of(err error) error {
	if _, ok := errors.AsType[placed](err); ok || err == nil {
		return err
	}
	return placed{fmt.Errorf("%s:%d: %w", p.file, p.line, err)}
}

// placed is an error that says where in the files it stands.
type placed struct{ error }

func (p placed) Unwrap() error { return p.error }

const (
	timeLayout = "2006-01-02 15:04"
	apart      = time.Minute     // between two entries of one list
	later      = 2 * time.Minute // between what happens and its entry, where nothing else is said
)

// head is scenario.yaml.
type head struct {
	Zone     string   `yaml:"zone"`
	Today    string   `yaml:"today"`
	Batch    string   `yaml:"batch"`
	Label    string   `yaml:"label"`
	Question string   `yaml:"question"`
	Files    []string `yaml:"files"`
}

// parse reads scenario.yaml and the files that it names. Whatever it does not know is an error.
func parse(files fs.FS) (*scenario, error) {
	const name = "scenario.yaml"
	b, err := fs.ReadFile(files, name)
	if err != nil {
		return nil, err
	}
	var h head
	dec := yaml.NewDecoder(bytes.NewReader(b))
	dec.KnownFields(true)
	if err := dec.Decode(&h); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	s := &scenario{batch: h.Batch, label: h.Label, question: h.Question}
	if s.zone, err = time.LoadLocation(h.Zone); err != nil {
		return nil, fmt.Errorf("%s: zone: %w", name, err)
	}
	if s.today, err = clockTime(h.Today, s.zone); err != nil {
		return nil, fmt.Errorf("%s: today: %w", name, err)
	}
	for _, f := range h.Files {
		if err := s.read(files, f); err != nil {
			return nil, err
		}
	}
	slices.SortStableFunc(s.events, func(a, b event) int { return a.recorded.Compare(b.recorded) })
	return s, nil
}

// clockTime reads a moment in the scenario's zone.
func clockTime(s string, zone *time.Location) (time.Time, error) {
	t, err := time.ParseInLocation(timeLayout, s, zone)
	if err != nil {
		return t, fmt.Errorf("%q is not a time; write it as 2026-11-20 09:15", s)
	}
	return t, nil
}

// fields calls f for each field of a mapping. An error of f gets the field's place.
func fields(file string, n *yaml.Node, f func(key string, v *yaml.Node) error) error {
	if n.Kind != yaml.MappingNode {
		return place{file, n.Line}.wrong("fields are wanted here, written as name: value")
	}
	seen := map[string]bool{}
	for i := 0; i < len(n.Content); i += 2 {
		at, key, v := place{file, n.Content[i].Line}, n.Content[i].Value, n.Content[i+1]
		if seen[key] {
			return at.wrong("%s is there twice", key)
		}
		seen[key] = true
		if err := f(key, v); err != nil {
			return at.of(err)
		}
	}
	return nil
}

func text(v *yaml.Node, to *string) error {
	if v.Kind != yaml.ScalarNode || v.Value == "" {
		return errors.New("a word or words are wanted here")
	}
	*to = v.Value
	return nil
}

// read adds the events of a file.
func (s *scenario) read(files fs.FS, name string) error {
	b, err := fs.ReadFile(files, name)
	if err != nil {
		return err
	}
	var doc yaml.Node
	if err := yaml.Unmarshal(b, &doc); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if len(doc.Content) != 1 || doc.Content[0].Kind != yaml.SequenceNode {
		return place{name, doc.Line}.wrong("a list of events is wanted here")
	}
	for _, n := range doc.Content[0].Content {
		if err := s.readEvent(name, n); err != nil {
			return err
		}
	}
	return nil
}

func (s *scenario) readEvent(file string, n *yaml.Node) error {
	e := event{place: place{file, n.Line}}
	var body *yaml.Node
	err := fields(file, n, func(key string, v *yaml.Node) (err error) {
		switch key {
		case "at":
			e.at, err = clockTime(v.Value, s.zone)
		case "recorded":
			e.recorded, err = clockTime(v.Value, s.zone)
		case "by":
			err = text(v, &e.by)
		case "corrects":
			err = text(v, &e.corrects)
		case "reason":
			err = text(v, &e.reason)
		case "override":
			err = text(v, &e.override)
		default:
			if _, known := kinds[key]; !known {
				return fmt.Errorf("unknown field or kind of entry %q", key)
			}
			if body != nil {
				return fmt.Errorf("an event is of one kind; %s and %s are two", e.kind, key)
			}
			e.kind, body = key, v
		}
		return err
	})
	if err != nil {
		return err
	}
	if e.at.IsZero() || e.by == "" || body == nil {
		return e.place.wrong("an event has at, by, and a kind of entry")
	}
	if e.recorded.IsZero() {
		e.recorded = e.at.Add(later)
	}
	return s.add(e, body)
}

// add adds an event; one whose kind is followed by a list is several, a minute apart.
func (s *scenario) add(e event, body *yaml.Node) error {
	bodies := []*yaml.Node{body}
	if body.Kind == yaml.SequenceNode {
		bodies = body.Content
	}
	for _, b := range bodies {
		e.place.line, e.node = b.Line, b
		if e.recorded.Before(e.at) || e.recorded.After(s.today) {
			return e.place.wrong("it is recorded before it happens, or after the scenario's today")
		}
		s.events = append(s.events, e)
		e.at, e.recorded = e.at.Add(apart), e.recorded.Add(apart)
	}
	return nil
}
