package compute

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"ashbook/ledger/measure"

	"github.com/shopspring/decimal"
)

// node is one JSON value. Objects keep the order of their fields.
type node struct {
	kind    byte // one of { [ " 0 t n
	text    string
	flag    bool
	names   []string
	members map[string]node
	items   []node
}

// mostDeep is how deep values may lie in one another: twice what the format needs.
const mostDeep = 12

// read fills in a struct from JSON, or says everything that is wrong with it.
func read(data []byte, into any) error {
	if !utf8.Valid(data) {
		return amiss("input", "it is not UTF-8 text; save it as UTF-8")
	}
	if fault := syntax(data); fault != nil {
		return fault
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.UseNumber()
	root, err := parse(dec, "", 0)
	if err != nil {
		return err
	}
	var w WrongInput
	v := reflect.ValueOf(into).Elem()
	shapeOf(v.Type(), "").read(&w, "", root, v)
	return w.failed()
}

// syntax finds what is no JSON, by line.
func syntax(data []byte) error {
	var any json.RawMessage
	err := json.Unmarshal(data, &any)
	at, ok := errors.AsType[*json.SyntaxError](err)
	switch {
	case err == nil:
		return nil
	case ok && len(bytes.TrimSpace(data)) > 0:
		return amiss("input", "line %d is not JSON: %v", 1+bytes.Count(data[:min(int(at.Offset), len(data))], []byte("\n")), err)
	}
	return amiss("input", "it is empty; give a JSON object")
}

// parse reads the value that begins with the next token. The JSON was found valid before.
func parse(dec *json.Decoder, path string, deep int) (node, error) {
	if deep > mostDeep {
		return node{}, amiss(path, "values lie more than %d deep in one another; nothing here needs that", mostDeep)
	}
	token, err := dec.Token()
	if err != nil {
		return node{}, amiss("input", "%v", err)
	}
	switch v := token.(type) {
	case json.Number:
		return node{kind: '0', text: v.String()}, nil
	case string:
		return node{kind: '"', text: v}, nil
	case bool:
		return node{kind: 't', flag: v}, nil
	case json.Delim:
		return parseInside(dec, path, deep, v)
	}
	return node{kind: 'n'}, nil
}

func parseInside(dec *json.Decoder, path string, deep int, open json.Delim) (node, error) {
	n := node{kind: byte(open), members: map[string]node{}}
	for dec.More() {
		if open == '[' {
			item, err := parse(dec, fmt.Sprintf("%s[%d]", here(path), len(n.items)), deep+1)
			if err != nil {
				return node{}, err
			}
			n.items = append(n.items, item)
			continue
		}
		token, err := dec.Token()
		if err != nil {
			return node{}, amiss("input", "%v", err)
		}
		name, _ := token.(string)
		if _, twice := n.members[name]; twice {
			return node{}, amiss(inside(path, name), "given twice; give it once")
		}
		member, err := parse(dec, inside(path, name), deep+1)
		if err != nil {
			return node{}, err
		}
		n.names, n.members[name] = append(n.names, name), member
	}
	_, err := dec.Token() // closes it
	return n, err
}

var plainName = regexp.MustCompile(`^[a-z0-9_]{1,40}$`)

// below1 is the path of a field. A name that is none of ours is quoted, and cut where it is long.
func inside(path, name string) string {
	if !plainName.MatchString(name) {
		if runes := []rune(name); len(runes) > 40 {
			name = string(runes[:40]) + "…"
		}
		name = strconv.Quote(name)
	}
	if path == "" {
		return name
	}
	return path + "." + name
}

var kinds = map[byte]string{'{': "an object", '[': "a list", '"': "text", '0': "a number", 't': "true or false", 'n': "null"}

// wanted says what a shape looks like.
var wanted = map[form]string{object: "an object", list: "a list", whole: "a whole number", text: "text", flag: "true or false",
	day: "a date as 2026-05-04, or a time as 2026-05-04T08:30:00Z"}

func here(path string) string {
	if path == "" {
		return "input"
	}
	return path
}

// read fills in a value from a node, and notes what is wrong.
func (s *shape) read(w *WrongInput, path string, n node, into reflect.Value) {
	if into.Kind() == reflect.Pointer {
		into.Set(reflect.New(into.Type().Elem()))
		into = into.Elem()
	}
	switch s.form {
	case object:
		s.readObject(w, path, n, into)
	case list:
		s.readList(w, path, n, into)
	case number:
		if d, ok := readNumber(w, path, n, s.rule); ok {
			into.Set(reflect.ValueOf(d))
		}
	case measured:
		s.readMeasured(w, path, n, into)
	case flag:
		if n.kind != 't' {
			w.add(path, "%s; give true or false", kinds[n.kind])
		}
		into.SetBool(n.flag)
	case whole:
		d, fits := figureOf(n.text)
		if n.kind != '0' || !fits || !d.IsInteger() || d.IsNegative() || d.GreaterThan(decimal.NewFromInt(mostWhole)) {
			w.add(path, "not a whole number from 0 to %d", mostWhole)
			return
		}
		into.SetInt(d.IntPart())
	case text:
		s.readText(w, path, n, into)
	case day:
		readDay(w, path, n, into)
	}
}

// mostWhole bounds whole numbers, which are days here: ten years.
const mostWhole = 3650

func (s *shape) readObject(w *WrongInput, path string, n node, into reflect.Value) {
	if n.kind != '{' {
		w.add(here(path), "%s; give an object", kinds[n.kind])
		return
	}
	known := map[string]bool{}
	inChoice := map[string]bool{}
	for _, c := range s.choices {
		for _, name := range c.names() {
			inChoice[name] = true
		}
	}
	var names []string
	for _, f := range s.fields {
		known[f.name] = true
		names = append(names, f.name)
		member, given := n.members[f.name]
		switch {
		case given:
			f.shape.read(w, inside(path, f.name), member, into.FieldByIndex(f.index))
		case !f.optional && !inChoice[f.name]:
			w.add(inside(path, f.name), "missing; give it: %s", f.doc)
		}
	}
	for _, name := range n.names {
		if !known[name] {
			w.add(inside(path, name), "unknown field; known here: %s", strings.Join(names, ", "))
		}
	}
	for _, c := range s.choices {
		c.check(w, path, n)
	}
}

// check notes a choice that was not made, or made twice.
func (c choice) check(w *WrongInput, path string, n node) {
	var given []string
	for _, name := range c.names() {
		if _, there := n.members[name]; there {
			given = append(given, name)
		}
	}
	if len(given) == 0 {
		if !c.optional {
			w.add(inside(path, c.alternatives[0][0]), "missing; give %s", c)
		}
		return
	}
	for _, a := range c.alternatives {
		left := slices.DeleteFunc(slices.Clone(a), func(name string) bool { return slices.Contains(given, name) })
		strange := slices.ContainsFunc(given, func(name string) bool { return !slices.Contains(a, name) })
		if strange {
			continue
		}
		if len(left) > 0 {
			w.add(inside(path, left[0]), "missing; it goes with %s: give %s", strings.Join(given, " and "), c)
		}
		return
	}
	w.add(inside(path, given[len(given)-1]), "does not go with %s; give %s", strings.Join(given[:len(given)-1], " and "), c)
}

// String lists the alternatives.
func (c choice) String() string {
	var all []string
	for _, a := range c.alternatives {
		all = append(all, strings.Join(a, " and "))
	}
	text := strings.Join(all, ", or ")
	if c.optional {
		return text + ", or none"
	}
	return text
}

func (s *shape) readList(w *WrongInput, path string, n node, into reflect.Value) {
	switch {
	case n.kind != '[':
		w.add(path, "%s; give a list", kinds[n.kind])
	case len(n.items) == 0:
		w.add(path, "an empty list; give at least one")
	case len(n.items) > s.most:
		w.add(path, "%d are given; give no more than %d at once", len(n.items), s.most)
	default:
		into.Set(reflect.MakeSlice(into.Type(), len(n.items), len(n.items)))
		for i, item := range n.items {
			s.elem.read(w, fmt.Sprintf("%s[%d]", path, i), item, into.Index(i))
		}
	}
}

func readNumber(w *WrongInput, path string, n node, name string) (decimal.Decimal, bool) {
	r := rules[name]
	switch n.kind {
	case '"':
		for _, p := range r.patterns {
			if !p.MatchString(n.text) {
				w.add(path, "%s is not %s%s with at most %d decimal places; correct it", quoted(n.text), r.words, r.limit(), mostPlaces)
				return decimal.Zero, false
			}
		}
		return decimal.RequireFromString(n.text), true
	case '0':
		if d, ok := figureOf(n.text); ok && r.takes(d) {
			return d, true
		}
		w.add(path, "%s is not %s%s with at most %d decimal places; correct it", cut(n.text), r.words, r.limit(), mostPlaces)
		return decimal.Zero, false
	}
	w.add(path, "%s; give %s", kinds[n.kind], r.words)
	return decimal.Zero, false
}

// limit says how large a figure may be, where its words do not.
func (r rule) limit() string {
	if r.most == &largest {
		return " below 1000000000"
	}
	return ""
}

func (s *shape) readMeasured(w *WrongInput, path string, n node, into reflect.Value) {
	if n.kind != '{' {
		if d, ok := readNumber(w, path, n, s.rule); ok {
			into.Set(reflect.ValueOf(measure.Measured{Value: d}))
		}
		return
	}
	var d doubted
	s.elem.read(w, path, n, reflect.ValueOf(&d).Elem())
	into.Set(reflect.ValueOf(d.measured()))
}

// mostRunes is how long a name may be.
const mostRunes = 100

func (s *shape) readText(w *WrongInput, path string, n node, into reflect.Value) {
	switch {
	case n.kind != '"':
		w.add(path, "%s; give text", kinds[n.kind])
	case s.words != nil && !slices.Contains(s.words, n.text):
		w.add(path, "%s is not known; %s", quoted(n.text), s.known())
	case n.text == "" || utf8.RuneCountInString(n.text) > mostRunes || strings.ContainsFunc(n.text, unicode.IsControl):
		w.add(path, "%s; give 1 to %d characters on one line", quoted(n.text), mostRunes)
	default:
		into.SetString(n.text)
	}
}

// known lists the words, where they are few.
func (s *shape) known() string {
	if len(s.words) > 12 {
		return fmt.Sprintf("the schema (--schema) lists the %d names that are", len(s.words))
	}
	return "give one of " + strings.Join(s.words, ", ")
}

const dayPattern = `^[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])(T([01][0-9]|2[0-3]):[0-5][0-9]:[0-5][0-9](Z|[+-](0[0-9]|1[0-4]):[0-5][0-9]))?$`

var dayForm = regexp.MustCompile(dayPattern)

func readDay(w *WrongInput, path string, n node, into reflect.Value) {
	layout := time.DateOnly
	if strings.Contains(n.text, "T") {
		layout = time.RFC3339
	}
	t, err := time.Parse(layout, n.text)
	if n.kind != '"' || err != nil || !dayForm.MatchString(n.text) {
		w.add(path, "%s is not %s; correct it", quoted(n.text), wanted[day])
		return
	}
	into.Set(reflect.ValueOf(t))
}

func cut(s string) string {
	if len(s) > mostCharacters {
		return s[:mostCharacters] + "…"
	}
	return s
}

// quoted is text of the input as an error shows it, on one line and not too long.
func quoted(s string) string {
	if runes := []rune(s); len(runes) > 40 {
		s = string(runes[:40]) + "…"
	}
	return strconv.Quote(s)
}
