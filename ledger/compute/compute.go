// Package compute offers the calculations to anybody who wants to check our numbers: JSON in, JSON out, no database.
//
// Each Command reads one JSON object and answers with one. Field names are in lower case with underscores; units stand in
// the names or in the description of the field, which the JSON Schema (draft 2020-12) of each command carries. Masses are grams, volumes
// millilitres, temperatures degrees Celsius, all shares fractions (5 % is 0.05). Figures may be JSON numbers or decimal strings and are
// answered as decimal strings. A field that is not known is refused, for a misspelt one would be a silent default.
//
// The structs of this package are the format: Read, the schemas and the answer all follow from their tags. What the schema cannot
// say, such as that shares sum to one, the command checks itself; so all that a command reads, its schema accepts.
//
// The arithmetic is that of the packages below, and lye burns: an answer informs, it does not certify.
package compute

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"reflect"
	"strings"
)

// Version is that of the calculations: it rises when the same input gives another answer.
const Version = "3"

// Command is one calculation.
type Command struct {
	Name, Does string
	in, out    reflect.Type
	run        func(data []byte) (any, error)
}

// Commands lists the calculations.
func Commands() []Command {
	return []Command{
		command("lye", "alkali and water for oils, the superfat, and how well it is known", workLye),
		command("solution", "strength of a lye by mass and by density, and how hot it gets", workSolution),
		command("titration", "alkali, fat, chloride or moisture from the readings of a test, held against limits", workTitration),
		command("cure", "drying curve of weighed bars, and whether they are ready", workCure),
		command("composition", "what lots are made of, as added and as made", workComposition),
	}
}

func command[In, Out any](name, does string, work func(In) (Out, error)) Command {
	return Command{name, does, reflect.TypeFor[In](), reflect.TypeFor[Out](), func(data []byte) (any, error) {
		var in In
		if err := read(data, &in); err != nil {
			return nil, err
		}
		return work(in)
	}}
}

// mostBytes is the largest input that is read: far more than the longest lists take.
const mostBytes = 4 << 20

// Run reads one JSON object and returns the answer as indented JSON. Every fault of the input is in a *WrongInput; another error
// means that the input could not be read at all.
func (c Command) Run(input io.Reader) ([]byte, error) {
	data, err := io.ReadAll(io.LimitReader(input, mostBytes+1))
	if err != nil {
		return nil, err
	}
	if len(data) > mostBytes {
		return nil, amiss("input", "more than %d bytes; ask in parts", mostBytes)
	}
	answer, err := c.run(data)
	if err != nil {
		return nil, err
	}
	return indented(answer)
}

func indented(v any) ([]byte, error) {
	var out bytes.Buffer
	enc := json.NewEncoder(&out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	err := enc.Encode(v)
	return out.Bytes(), err
}

// Fault is what is wrong with one field, and what to do.
type Fault struct {
	Field string // its path, as oils[1].sap_max
	Text  string
}

// WrongInput says what is wrong with an input, field by field.
type WrongInput struct{ Faults []Fault }

// mostFaults is how many are said; whoever has more has one cause for them.
const mostFaults = 20

func (w *WrongInput) Error() string {
	var lines []string
	for i, f := range w.Faults {
		if i == mostFaults {
			lines = append(lines, fmt.Sprintf("input: %d more; correct these first", len(w.Faults)-mostFaults))
			break
		}
		lines = append(lines, f.Field+": "+f.Text)
	}
	return strings.Join(lines, "\n")
}

// add notes a fault.
func (w *WrongInput) add(field, format string, args ...any) {
	w.Faults = append(w.Faults, Fault{field, oneLine(fmt.Sprintf(format, args...))})
}

// failed is the error, if there is any fault.
func (w *WrongInput) failed() error {
	if len(w.Faults) == 0 {
		return nil
	}
	return w
}

func amiss(field, format string, args ...any) error {
	w := &WrongInput{}
	w.add(field, format, args...)
	return w
}

// refused is a kernel's refusal of a field.
func refused(field string, err error) error {
	return amiss(field, "%s", strings.TrimPrefix(err.Error(), "cannot compute: "))
}

func oneLine(s string) string {
	return strings.Join(strings.FieldsFunc(s, func(r rune) bool { return r == '\n' || r == '\r' }), " ")
}

// About is in every answer.
type About struct {
	Calculation string   `json:"calculation" doc:"the command that was asked"`
	Version     string   `json:"version" doc:"of the calculation; it rises when the same input gives another answer"`
	Sources     []string `json:"sources" doc:"what the figures rest on, and how well it is known"`
	Cautions    []string `json:"cautions" doc:"what to mind"`
}

// informs ends the cautions of every answer.
const informs = "This informs; it does not certify that anything is safe or lawful. That is for you and, where the law asks for it, for a qualified person to decide."

const (
	lyeBurns   = "Lye burns skin and eyes, and can blind."
	sheetFirst = "The supplier's safety data sheet and local law go before this; in an accident call your local emergency number or poison centre."
)

func about(name string, sources []string, cautions ...string) About {
	return About{"ashbook compute " + name, Version, sources, append(cautions, informs)}
}
