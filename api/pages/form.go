package pages

import (
	"crypto/rand"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"ashbook/ledger"
)

// The ways in which a field is typed.
const (
	Text     = "text"
	Decimal  = "decimal" // a number with a decimal point or comma
	Count    = "count"   // a whole number
	Date     = "date"
	Moment   = "moment" // day and time of day in the shop's zone
	Select   = "select"
	Choice   = "choice" // a few options, all of them to be seen
	Check    = "check"
	Area     = "area"
	Secret   = "secret"
	Upload   = "upload"
	Hidden   = "hidden"
	OnePass  = "current" // the password one has
	LoginBox = "login"
)

// Option is one of the values that a field may take.
type Option struct {
	Value string
	Label string
	Note  string // a second line, for choices
}

// Field is one input with its label, its hint, what was typed, and what is wrong with that.
type Field struct {
	Name     string
	Label    string
	Kind     string
	Hint     string
	Value    string
	Options  []Option
	Required bool
	Big      bool   // large enough to be read at arm's length from a scale
	Folded   bool   // few need it: it stands under a fold
	Usual    string // what a folded field holds when nobody asked for it
	Fault    string
	Form     string // id of the form; set by the form
}

// ID is the field's id in the document.
func (f Field) ID() string { return f.Form + "-" + f.Name }

// Input is the type of the input element.
func (f Field) Input() string {
	switch f.Kind {
	case Date:
		return "date"
	case Moment:
		return "datetime-local"
	case Secret, OnePass:
		return "password"
	case Upload:
		return "file"
	case Hidden:
		return "hidden"
	}
	return "text"
}

// Mode is the keyboard that a telephone shows.
func (f Field) Mode() string {
	switch f.Kind {
	case Decimal:
		return "decimal"
	case Count:
		return "numeric"
	}
	return ""
}

// Complete tells a password manager what the field is.
func (f Field) Complete() string {
	switch f.Kind {
	case LoginBox:
		return "username"
	case OnePass:
		return "current-password"
	case Secret:
		return "new-password"
	}
	return "off"
}

// Table is a part of a form that has the same fields in every row.
type Table struct {
	Name   string // as in the record, for example lines; fields are called lines.0.material and so on
	Legend string
	Hint   string
	Rows   [][]Field
	Fault  string
	Grows  bool // a button asks for more rows
}

// Form is something that can be sent: its fields, what was typed, and what came of it.
type Form struct {
	ID        string
	Action    string
	Button    string
	Key       string // makes one entry of a form that is sent twice
	Fields    []Field
	Tables    []*Table
	Fault     string // what is wrong with the whole
	Findings  []ledger.Finding
	MayPass   bool // the person may go on against the gate
	Pass      string
	Danger    bool // the button undoes or stops something
	Earlier   bool // it may have happened earlier: offers the time
	Multipart bool
	Open      bool // shown unfolded
}

// NewForm makes an empty form with a key of its own.
func NewForm(id, action, button string, fields ...Field) *Form {
	f := &Form{ID: id, Action: action, Button: button, Key: rand.Text(), Fields: fields}
	for i := range f.Fields {
		f.Fields[i].Form = id
		f.Multipart = f.Multipart || f.Fields[i].Kind == Upload
	}
	return f
}

// WithTime lets the person say that it happened earlier.
func (f *Form) WithTime() *Form {
	f.Earlier = true
	f.Fields = append(f.Fields, Field{Name: "happened_at", Label: "When did it happen?", Kind: Moment, Form: f.ID,
		Hint: "Leave empty for now. What is recorded late is marked as late."})
	return f
}

// AddTable adds rows of equal fields. row makes the fields of one row; their names get the table and the number put
// before them.
func (f *Form) AddTable(t *Table, rows int, row func(i int) []Field) {
	for i := range rows {
		fields := row(i)
		for j := range fields {
			fields[j].Name = fmt.Sprintf("%s.%d.%s", t.Name, i, fields[j].Name)
			fields[j].Form = f.ID
		}
		t.Rows = append(t.Rows, fields)
	}
	f.Tables = append(f.Tables, t)
}

// Get gives a field by its name; a template that asks for one that is not there fails its test.
func (f *Form) Get(name string) (Field, error) {
	if p := f.find(name); p != nil {
		return *p, nil
	}
	return Field{}, fmt.Errorf("the form %s has no field %q", f.ID, name)
}

func (f *Form) find(name string) *Field {
	for i := range f.Fields {
		if f.Fields[i].Name == name {
			return &f.Fields[i]
		}
	}
	for _, t := range f.Tables {
		for _, row := range t.Rows {
			for i := range row {
				if row[i].Name == name {
					return &row[i]
				}
			}
		}
	}
	return nil
}

// Fill puts in what was typed. Passwords and files are not given back.
func (f *Form) Fill(v url.Values) {
	if k := v.Get("key"); k != "" {
		f.Key = k
	}
	f.Pass, f.Open = v.Get("override"), true
	f.each(func(field *Field) {
		if field.Kind != Secret && field.Kind != OnePass && field.Kind != Upload {
			field.Value = v.Get(field.Name)
		}
	})
}

// Set puts a value into a field that is there.
func (f *Form) Set(name, value string) {
	if p := f.find(name); p != nil {
		p.Value = value
	}
}

// Offer adds an option to a field unless it is offered already.
func (f *Form) Offer(name string, o Option) {
	p := f.find(name)
	if p == nil || slices.ContainsFunc(p.Options, func(have Option) bool { return have.Value == o.Value }) {
		return
	}
	p.Options = append(p.Options, o)
}

func (f *Form) each(do func(*Field)) {
	for i := range f.Fields {
		do(&f.Fields[i])
	}
	for _, t := range f.Tables {
		for _, row := range t.Rows {
			for i := range row {
				do(&row[i])
			}
		}
	}
}

// Blame says what is wrong, at the field where it is, or at the table, or above the whole form when no field of it is
// to blame. The first word about a field stands.
func (f *Form) Blame(name, text string) {
	f.Open = true
	if p := f.find(name); p != nil && p.Kind != Hidden {
		if p.Fault == "" {
			p.Fault = text
		}
		return
	}
	table, _, _ := strings.Cut(name, ".")
	for _, t := range f.Tables {
		if t.Name == table {
			t.Fault = text
			return
		}
	}
	if f.Fault == "" {
		f.Fault = text
	}
}

// Faulty tells whether anything is wrong.
func (f *Form) Faulty() bool {
	bad := f.Fault != "" || len(f.Findings) > 0
	f.each(func(field *Field) { bad = bad || field.Fault != "" })
	for _, t := range f.Tables {
		bad = bad || t.Fault != ""
	}
	return bad
}

// Body are the fields without the time, which has a place of its own.
func (f *Form) Body() []Field {
	var list []Field
	for _, field := range f.Fields {
		if field.Name != "happened_at" && !field.Folded {
			list = append(list, field)
		}
	}
	return list
}

// Seldom are the fields that few need: they stand under a fold.
func (f *Form) Seldom() []Field {
	return slices.DeleteFunc(slices.Clone(f.Fields), func(field Field) bool { return !field.Folded })
}

// SeldomOpen tells that one of them is filled in or wrong, so that the fold has to be open.
func (f *Form) SeldomOpen() bool {
	return slices.ContainsFunc(f.Seldom(), func(field Field) bool { return field.Fault != "" || field.Value != field.Usual })
}

// In makes a field.
func In(kind, name, label, hint string) Field {
	return Field{Kind: kind, Name: name, Label: label, Hint: hint}
}

// Must makes the field one that has to be filled in.
func (f Field) Must() Field { f.Required = true; return f }

// Is puts a value in.
func (f Field) Is(value string) Field { f.Value = value; return f }

// Of gives the options.
func (f Field) Of(options ...Option) Field { f.Options = options; return f }

// Large makes it readable at arm's length.
func (f Field) Large() Field { f.Big = true; return f }

// Under folds the field away. It opens by itself when it holds anything but the usual value.
func (f Field) Under(usual string) Field { f.Folded, f.Usual = true, usual; return f }

// Same makes options whose label is their value.
func Same(values ...string) []Option {
	list := make([]Option, len(values))
	for i, v := range values {
		list[i] = Option{Value: v, Label: v}
	}
	return list
}

// OrNone puts a first option in front that stands for none.
func OrNone(label string, options []Option) []Option {
	return append([]Option{{Label: label}}, options...)
}
