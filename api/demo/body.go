package demo

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"ashbook/ledger"
	"ashbook/ledger/measure"
)

// kinds makes an empty body of each kind of entry that a scenario may hold.
var kinds = map[string]func() ledger.Body{
	"shop.set":          func() ledger.Body { return &ledger.ShopSet{} },
	"person.added":      func() ledger.Body { return &ledger.PersonAdded{} },
	"supplier.added":    func() ledger.Body { return &ledger.SupplierAdded{} },
	"material.defined":  func() ledger.Body { return &ledger.MaterialDefined{} },
	"lot.received":      func() ledger.Body { return &ledger.LotReceived{} },
	"lot.held":          func() ledger.Body { return &ledger.LotHeld{} },
	"lot.freed":         func() ledger.Body { return &ledger.LotFreed{} },
	"document.filed":    func() ledger.Body { return &ledger.DocumentFiled{} },
	"formula.defined":   func() ledger.Body { return &ledger.FormulaDefined{} },
	"batch.planned":     func() ledger.Body { return &ledger.BatchPlanned{} },
	"weighing.taken":    func() ledger.Body { return &ledger.WeighingTaken{} },
	"reading.taken":     func() ledger.Body { return &ledger.ReadingTaken{} },
	"step.taken":        func() ledger.Body { return &ledger.StepTaken{} },
	"portions.split":    func() ledger.Body { return &ledger.PortionsSplit{} },
	"batch.yielded":     func() ledger.Body { return &ledger.BatchYielded{} },
	"deviation.opened":  func() ledger.Body { return &ledger.DeviationOpened{} },
	"deviation.decided": func() ledger.Body { return &ledger.DeviationDecided{} },
	"release.decided":   func() ledger.Body { return &ledger.ReleaseDecided{} },
	"stock.moved":       func() ledger.Body { return &ledger.StockMoved{} },
	"buyer.added":       func() ledger.Body { return &ledger.BuyerAdded{} },
	"dispatch.sent":     func() ledger.Body { return &ledger.DispatchSent{} },
	"dispatch.returned": func() ledger.Body { return &ledger.DispatchReturned{} },
	"label.issued":      func() ledger.Body { return &ledger.LabelIssued{} },
	"drill.recorded":    func() ledger.Body { return &ledger.DrillRecorded{} },
}

// refers tells for each field that names a thing what kind of thing that is.
var refers = map[string]string{
	"lot": "lot", "batch": "batch", "material": "material", "alkali": "material", "water": "material", "stock_lye": "material",
	"supplier": "supplier", "formula": "formula", "formula_version": "formula version", "checked_by": "person", "buyer": "buyer",
	"dispatch": "dispatch", "deviation": "deviation",
}

// beside are the fields that a scenario adds to those of the entry, by kind of entry; as is allowed everywhere.
var beside = map[string][]string{
	"person.added":   {"password"},
	"buyer.added":    {"contact"},
	"document.filed": {"content"},
	"weighing.taken": {"unplanned"},
}

// written is a body as the files say it, with names turned into numbers.
type written struct {
	body    ledger.Body
	as      string            // name for what the entry makes
	outputs []string          // names for the lots that a batch gives, in their order
	beside  map[string]string // what is said beside the entry
	contact *ledger.Contact
}

// write reads the body of an event.
func (p *player) write(e event) (*written, error) {
	r := reader{player: p, event: e, out: &written{body: kinds[e.kind](), beside: map[string]string{}}}
	body, err := r.mapping(e.node, true)
	if err != nil {
		return nil, err
	}
	if e.kind == "weighing.taken" {
		if err := r.chooseLine(body); err != nil {
			return nil, err
		}
	}
	return r.out, strict(body, r.out.body)
}

// strict fills a body, or a part of one, with fields; a field that it does not have is an error.
func strict(fields, to any) error {
	b, err := json.Marshal(fields)
	if err != nil {
		return err
	}
	dec := json.NewDecoder(bytes.NewReader(b))
	dec.DisallowUnknownFields()
	if err := dec.Decode(to); err != nil {
		return errors.New(strings.TrimPrefix(err.Error(), "json: "))
	}
	return nil
}

// reader turns the YAML of one body into the JSON of the entry.
type reader struct {
	player *player
	event  event
	out    *written
}

// mapping reads fields; top says that they are those of the body itself.
func (r *reader) mapping(n *yaml.Node, top bool) (map[string]any, error) {
	out := map[string]any{}
	err := fields(r.event.place.file, n, func(key string, v *yaml.Node) error {
		if took, err := r.aside(key, v, top); took || err != nil {
			return err
		}
		value, err := r.value(key, v)
		out[key] = value
		return err
	})
	return out, err
}

// aside takes what is no field of the entry.
func (r *reader) aside(key string, v *yaml.Node, top bool) (took bool, err error) {
	switch {
	case key == "as" && top:
		return true, text(v, &r.out.as)
	case key == "as" && r.event.kind == "batch.yielded":
		r.out.outputs = append(r.out.outputs, v.Value)
		return true, nil
	case !top || !slices.Contains(beside[r.event.kind], key):
		return false, nil
	case key == "contact":
		contact, err := r.mapping(v, false)
		if err != nil {
			return true, err
		}
		r.out.contact = &ledger.Contact{}
		return true, strict(contact, r.out.contact)
	}
	var said string
	err = text(v, &said)
	r.out.beside[key] = said
	return true, err
}

func (r *reader) value(key string, v *yaml.Node) (any, error) {
	switch v.Kind {
	case yaml.MappingNode:
		return r.mapping(v, false)
	case yaml.SequenceNode:
		var list []any
		for _, item := range v.Content {
			value, err := r.value(key, item)
			if err != nil {
				return nil, place{r.event.place.file, item.Line}.of(err)
			}
			list = append(list, value)
		}
		return list, nil
	case yaml.ScalarNode:
		return r.scalar(key, v)
	}
	return nil, errors.New("anchors and aliases are not used here; write it out")
}

func (r *reader) scalar(key string, v *yaml.Node) (any, error) {
	if what, ok := refers[key]; ok && (key != "alkali" || r.event.kind != "material.defined") { // there it is NaOH or KOH
		return r.player.find(what, v.Value)
	}
	switch key {
	case "mass", "waste":
		return mass(v.Value)
	case "started_at", "ended_at":
		return clockTime(v.Value, r.player.scenario.zone)
	case "typed": // figures as read are kept as text
		return v.Value, nil
	}
	switch v.ShortTag() {
	case "!!int", "!!float":
		return json.Number(v.Value), nil
	case "!!bool":
		return v.Value == "true", nil
	}
	return v.Value, nil
}

// mass reads 700.2 g, 4 3/8 tsp, or 2 lb 8 oz.
func mass(s string) (measure.Mass, error) {
	if strings.Contains(s, " lb ") {
		return measure.Mass{Typed: s, Unit: measure.PoundOunce}, nil
	}
	at := strings.LastIndexByte(s, ' ')
	if at < 0 {
		return measure.Mass{}, fmt.Errorf("%q is no mass; write a number and its unit, such as 700.2 g", s)
	}
	return measure.Mass{Typed: s[:at], Unit: measure.Unit(s[at+1:])}, nil
}

// chooseLine finds the line of the weigh list that asks for what the lot is, unless the scenario says that the weighing
// was not planned.
func (r *reader) chooseLine(body map[string]any) error {
	if r.out.beside["unplanned"] == "true" {
		return nil
	}
	lot, _ := body["lot"].(int64)
	batch, _ := body["batch"].(int64)
	portion, _ := body["portion"].(string)
	for i, line := range r.player.lines[batch] {
		if line.Material == r.player.materials[lot] && (portion == "" || portion == line.Portion) {
			body["line"] = i + 1
			return nil
		}
	}
	return errors.New("the weigh list of that batch asks for no such lot; add unplanned: true if it went in all the same")
}
