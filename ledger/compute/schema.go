package compute

import (
	"reflect"
	"slices"
)

const draft = "https://json-schema.org/draft/2020-12/schema"

// InputSchema returns the JSON Schema of what the command reads.
func (c Command) InputSchema() ([]byte, error) { return c.schema(c.in, false) }

// OutputSchema returns the JSON Schema of what it answers.
func (c Command) OutputSchema() ([]byte, error) { return c.schema(c.out, true) }

type schema = map[string]any

func (c Command) schema(t reflect.Type, answer bool) ([]byte, error) {
	d := describer{answer: answer, used: schema{}}
	s := d.of(shapeOf(t, ""))
	s["$schema"], s["description"] = draft, "ashbook compute "+c.Name+": "+c.Does
	s["title"] = "what ashbook compute " + c.Name + " reads"
	if answer {
		s["title"] = "what ashbook compute " + c.Name + " answers"
	}
	s["$defs"] = d.used
	return indented(s)
}

// describer turns shapes into schemas. Kinds of numbers are put under $defs, once.
type describer struct {
	answer bool
	used   schema
}

func (d describer) of(s *shape) schema {
	switch s.form {
	case object:
		return d.ofObject(s)
	case list:
		out := schema{"type": "array", "items": d.of(s.elem)}
		if !d.answer {
			out["minItems"], out["maxItems"] = 1, s.most
		}
		return out
	case measured:
		return schema{"anyOf": []any{d.number(s.rule), d.of(s.elem)}}
	case number:
		return d.number(s.rule)
	case whole:
		return schema{"type": "integer", "minimum": 0, "maximum": mostWhole}
	case flag:
		return schema{"type": "boolean"}
	case day:
		return schema{"type": "string", "pattern": dayPattern}
	}
	switch {
	case s.words != nil:
		return schema{"enum": s.words}
	case d.answer:
		return schema{"type": "string"}
	}
	return schema{"type": "string", "minLength": 1, "maxLength": mostRunes, "pattern": `^\P{Cc}*$`}
}

func (d describer) ofObject(s *shape) schema {
	properties, required, inChoice := schema{}, []string{}, []string{}
	var all []any
	for _, c := range s.choices {
		all = append(all, c.schema())
		inChoice = append(inChoice, c.names()...)
	}
	for _, f := range s.fields {
		p := d.of(f.shape)
		p["description"] = f.doc
		properties[f.name] = p
		if !f.optional && !slices.Contains(inChoice, f.name) {
			required = append(required, f.name)
		}
	}
	out := schema{"type": "object", "properties": properties, "required": required, "additionalProperties": false}
	if all != nil {
		out["allOf"] = all
	}
	return out
}

// schema allows exactly one alternative, and all of it.
func (c choice) schema() schema {
	alternatives := slices.Clone(c.alternatives)
	if c.optional {
		alternatives = append(alternatives, []string{})
	}
	var ways []any
	for _, a := range alternatives {
		others := schema{}
		for _, name := range c.names() {
			if !slices.Contains(a, name) {
				others[name] = false
			}
		}
		ways = append(ways, schema{"required": a, "properties": others})
	}
	return schema{"oneOf": ways}
}

// number refers to the definition of a kind of number.
func (d describer) number(name string) schema {
	r := rules[name]
	if d.answer {
		d.used["decimal"] = schema{"type": "string", "pattern": `^-?[0-9]+(\.[0-9]+)?$`, "description": "a decimal figure"}
		return schema{"$ref": "#/$defs/decimal"}
	}
	if d.used[r.definition] == nil {
		d.used[r.definition] = r.schema()
	}
	return schema{"$ref": "#/$defs/" + r.definition}
}

func (r rule) schema() schema {
	asNumber, asText := schema{"type": "number"}, schema{"type": "string", "pattern": r.patterns[0].String()}
	least, most := "minimum", "maximum"
	if r.openLeast {
		least = "exclusiveMinimum"
	}
	if r.openMost {
		most = "exclusiveMaximum"
	}
	asNumber[least], asNumber[most] = r.least.IntPart(), r.most.IntPart()
	if len(r.patterns) > 1 {
		asText["allOf"] = []any{schema{"pattern": r.patterns[1].String()}}
	}
	return schema{"description": r.words + ", as number or decimal string, with at most 12 decimal places", "anyOf": []any{asNumber, asText}}
}
