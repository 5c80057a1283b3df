package compute

import (
	"reflect"
	"strconv"
	"strings"
	"time"

	"ashbook/ledger/measure"
	"ashbook/ledger/soap"

	"github.com/shopspring/decimal"
)

// form is what kind of JSON a shape is.
type form int

const (
	object form = iota
	list
	number
	measured // a number, or an object with its uncertainty
	whole
	text
	flag
	day
)

// shape is how a Go type looks in JSON. Tags of a struct's fields say the rest: json names the field (omitempty or omitzero: it may be
// left out), doc describes it with its unit, is names the rule of a number, of lists the words that a text may be (published: the names of the table), most is how
// long a list may get.
type shape struct {
	form    form
	typ     reflect.Type // without pointer
	fields  []field
	choices []choice
	elem    *shape
	most    int
	rule    string
	words   []string
}

type field struct {
	name, doc string
	optional  bool
	index     []int
	shape     *shape
}

// choice is fields of an object of which exactly one alternative is given, all of it.
type choice struct {
	alternatives [][]string
	optional     bool // none may be given, too
}

// names are the fields of a choice, each once.
func (c choice) names() []string {
	var names []string
	seen := map[string]bool{}
	for _, a := range c.alternatives {
		for _, name := range a {
			if !seen[name] {
				names = append(names, name)
			}
			seen[name] = true
		}
	}
	return names
}

func oneOf(alternatives ...string) choice {
	var c choice
	for _, a := range alternatives {
		c.alternatives = append(c.alternatives, strings.Fields(a))
	}
	return c
}

func oneOrNone(alternatives ...string) choice {
	c := oneOf(alternatives...)
	c.optional = true
	return c
}

var choices = map[reflect.Type][]choice{
	reflect.TypeFor[SAPRange]():      {oneOf("sap_min sap_max", "published", "sap sap_half")},
	reflect.TypeFor[LyeOil]():        {oneOf("grams", "share")},
	reflect.TypeFor[LyeInput]():      {oneOf("superfat", "alkali_grams"), oneOf("concentration", "water_ratio", "water_grams"), oneOrNone("koh_share koh_share_by")},
	reflect.TypeFor[SolutionInput](): {oneOf("by_mass", "by_density", "by_mass by_density")},
	reflect.TypeFor[CureInput]():     {oneOrNone("rules today")},
	reflect.TypeFor[Resize]():        {oneOf("oil_grams", "mould_ml batter_celsius", "mould_ml batter_density")},
	reflect.TypeFor[doubted]():       {oneOrNone("u", "half")},
	reflect.TypeFor[LotInput]():      {oneOf("oil", "alkali", "water", "acid", "other")},
	reflect.TypeFor[LotAsked]():      {oneOrNone("grams_poured grams_now", "water_share")},
	reflect.TypeFor[HoldInput]():     {oneOf("at_most", "at_least")},
	reflect.TypeFor[TitrationInput](): {oneOf("caustic_by_ethanol", "caustic_by_barium", "free_alkali", "whole_alkali", "fatty_matter", "chloride", "moisture",
		"saponification_value", "two_indicators")},
}

// doubted is the long form of a reading with its standard uncertainty, measure.Measured; the short one is a number alone.
type doubted struct {
	Value decimal.Decimal  `json:"value" doc:"the reading"`
	U     *decimal.Decimal `json:"u,omitempty" is:"zero or more" doc:"its standard uncertainty, in the unit of the reading"`
	Half  *decimal.Decimal `json:"half,omitempty" is:"zero or more" doc:"it lies within this to each side, anywhere with equal right, in the unit of the reading"`
}

// shapeOf panics on a type that has no place in the format: it is part of the program.
func shapeOf(t reflect.Type, tag reflect.StructTag) *shape {
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	s := &shape{typ: t, rule: tag.Get("is")}
	if s.rule == "" {
		s.rule = "number"
	}
	switch {
	case t == reflect.TypeFor[decimal.Decimal]():
		s.form = number
	case t == reflect.TypeFor[measure.Measured]():
		s.form = measured
		s.elem = shapeOf(reflect.TypeFor[doubted](), "")
		s.elem.fields[0].shape.rule = s.rule
	case t == reflect.TypeFor[time.Time]():
		s.form = day
	case t.Kind() == reflect.Int:
		s.form = whole
	case t.Kind() == reflect.Bool:
		s.form = flag
	case t.Kind() == reflect.String:
		s.form = text
		switch of := tag.Get("of"); of {
		case "":
		case "published":
			for _, p := range soap.Published() {
				s.words = append(s.words, p.Name)
			}
		default:
			s.words = strings.Split(of, "|")
		}
	case t.Kind() == reflect.Slice:
		s.form, s.elem = list, shapeOf(t.Elem(), "")
		s.most, _ = strconv.Atoi(tag.Get("most"))
	case t.Kind() == reflect.Struct:
		s.form = object
		s.gather(t, nil)
	default:
		panic("compute: no JSON for " + t.String())
	}
	return s
}

// gather lists the fields of a struct, those of embedded ones among them.
func (s *shape) gather(t reflect.Type, at []int) {
	s.choices = append(s.choices, choices[t]...)
	for i := range t.NumField() {
		f := t.Field(i)
		index := append(append([]int{}, at...), i)
		if f.Anonymous {
			s.gather(f.Type, index)
			continue
		}
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		s.fields = append(s.fields, field{name, f.Tag.Get("doc"), options != "", index, shapeOf(f.Type, f.Tag)})
	}
}
