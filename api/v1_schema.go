package api

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"reflect"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/shopspring/decimal"

	"ashbook/ledger/measure"
)

// bodyPatience is how long a body may take to arrive.
const bodyPatience = time.Minute

// huma keeps these in variables of its own, so they are set for the whole program and before anything is served.
func init() {
	huma.NewError = problemFromHuma
	// encoding/json takes keys in any case; the check of a body must then not let a second spelling of a key pass by.
	huma.ValidateStrictCasing = true
}

// problemNameByStatus names the problems that huma finds before a handler runs.
var problemNameByStatus = map[int]string{
	http.StatusBadRequest: "request", http.StatusRequestTimeout: "slow", http.StatusRequestEntityTooLarge: "too-large",
	http.StatusUnsupportedMediaType: "media-type", http.StatusUnprocessableEntity: "invalid",
}

// problemFromHuma makes a problem of what huma found. Values are not echoed: one may be a password.
func problemFromHuma(status int, msg string, errs ...error) huma.StatusError {
	name, ok := problemNameByStatus[status]
	if !ok {
		name = "internal"
	}
	var fields []fieldError
	for _, err := range errs {
		if _, ok := errors.AsType[*http.MaxBytesError](err); ok {
			name = "too-large"
		}
		if d, ok := err.(huma.ErrorDetailer); ok {
			fields = append(fields, fieldError{Location: d.ErrorDetail().Location, Message: d.ErrorDetail().Message})
		}
	}
	if name == "invalid" {
		msg = "the request does not fit what " + openAPIPath + " describes; errors says where"
	}
	p := newProblem(name, msg)
	if name != "internal" {
		p.Errors = fields
	}
	return p
}

// decimalText is how a decimal travels: a string of figures. Powers of ten are refused, since a few characters of them
// stand for a number that fills the memory.
type decimalText struct{}

const decimalPattern = `^-?[0-9]{1,15}(\.[0-9]{1,12})?$`

// Schema describes it.
func (decimalText) Schema(huma.Registry) *huma.Schema {
	return &huma.Schema{Type: huma.TypeString, Pattern: decimalPattern, PatternDescription: "a decimal number", Examples: []any{"12.5"}}
}

// mass is how measure.Mass travels.
type mass struct {
	Typed string          `json:"typed" maxLength:"40" doc:"the figures as the scale showed them"`
	Unit  massUnit        `json:"unit"`
	Grams decimal.Decimal `json:"grams" readOnly:"true" doc:"worked out from what was typed"`
}

type massUnit string

// Schema lists the units.
func (massUnit) Schema(huma.Registry) *huma.Schema {
	s := &huma.Schema{Type: huma.TypeString}
	for _, u := range measure.Units() {
		s.Enum = append(s.Enum, string(u))
	}
	return s
}

func newRegistry() huma.Registry {
	r := huma.NewMapRegistry("#/components/schemas/", huma.DefaultSchemaNamer)
	r.RegisterTypeAlias(reflect.TypeFor[decimal.Decimal](), reflect.TypeFor[decimalText]())
	r.RegisterTypeAlias(reflect.TypeFor[measure.Mass](), reflect.TypeFor[mass]())
	return r
}

// describeNullable says of decimals that may be null that they may. An alias does not carry that over.
func describeNullable(r huma.Registry) {
	for name, schema := range r.Map() {
		t := r.TypeFromRef("#/components/schemas/" + name)
		for i := range t.NumField() {
			key, options, _ := strings.Cut(t.Field(i).Tag.Get("json"), ",")
			if t.Field(i).Type == reflect.TypeFor[*decimal.Decimal]() && !strings.Contains(options, "omitempty") {
				schema.Properties[key].Nullable = true
			}
		}
	}
}

// unmarshal reads JSON that says each thing once: of a key that stands twice, the check could see one value and the
// record take the other. A NUL cannot be kept by the database and is refused here by name.
func unmarshal(data []byte, v any) error {
	if err := eachOnce(json.NewDecoder(bytes.NewReader(data))); err != nil {
		return err
	}
	return json.Unmarshal(data, v)
}

// eachOnce reads one value and refuses keys that stand twice in one object.
func eachOnce(dec *json.Decoder) error {
	var open []map[string]bool // the keys of each object that is open; nil for an array
	key := false
	for {
		token, err := dec.Token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		inObject := len(open) > 0 && open[len(open)-1] != nil
		if text, ok := token.(string); ok {
			if strings.ContainsRune(text, 0) {
				return errors.New("a text holds the character U+0000, which cannot be kept")
			}
			if inObject && key {
				if open[len(open)-1][text] {
					return fmt.Errorf("the key %q stands twice in one object", text)
				}
				open[len(open)-1][text] = true
				key = false
				continue
			}
		}
		switch token {
		case json.Delim('{'):
			open = append(open, map[string]bool{})
		case json.Delim('['):
			open = append(open, nil)
		case json.Delim('}'), json.Delim(']'):
			open = open[:len(open)-1]
		}
		key = len(open) > 0 && open[len(open)-1] != nil
	}
}

// clearReadOnly empties the fields that are worked out by the ledger, so that a record may be sent back as it came
// and nothing in it is believed.
func clearReadOnly(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			clearReadOnly(v.Elem())
		}
	case reflect.Slice:
		for i := range v.Len() {
			clearReadOnly(v.Index(i))
		}
	case reflect.Struct:
		if m, ok := v.Addr().Interface().(*measure.Mass); ok {
			m.Grams = decimal.Zero
			return
		}
		for i := range v.NumField() {
			switch f := v.Type().Field(i); {
			case !f.IsExported():
			case f.Tag.Get("readOnly") == "true":
				v.Field(i).SetZero()
			default:
				clearReadOnly(v.Field(i))
			}
		}
	}
}
