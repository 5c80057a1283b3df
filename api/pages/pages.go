// Package pages draws what a person sees: one struct per page, one template per struct, one style sheet and one small
// script, all embedded. Every page does its whole work without the script.
//
// A page struct embeds Base and names its template. Forms are values (see Form), so that every field, its hint and its
// fault are drawn by one template.
package pages

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"
	"time"

	"ashbook/ledger"
)

//go:embed html/*.html html/parts/*.html
var files embed.FS

//go:embed static
var static embed.FS

// Static holds the style sheet, the script and the icon, to be served under /static.
func Static() fs.FS {
	sub, err := fs.Sub(static, "static")
	if err != nil {
		panic(err) // the folder is embedded: this cannot fail in a program that was built
	}
	return sub
}

// Page is a page that can be drawn.
type Page interface {
	// Template names the file below html, without its ending.
	Template() string
	base() *Base
}

// All has an empty value of every page. A template without a page here, or a page without a template, fails the start.
var All = []Page{
	&SignIn{}, &Password{}, &Problem{}, &Home{}, &More{}, &Shop{}, &People{}, &Suppliers{}, &Materials{}, &Material{}, &Define{}, &Receive{},
	&Stock{}, &Lot{}, &Formulas{}, &Formula{}, &FormulaEdit{}, &Batches{}, &Plan{}, &Batch{}, &Correct{}, &Buyers{}, &Dispatches{},
	&Dispatch{}, &Send{}, &Ask{}, &Journal{}, &Drills{},
}

var templates = parse()

// parse reads every template with the frame and the parts that all share.
func parse() map[string]*template.Template {
	shared := template.Must(template.New("").Funcs(functions).ParseFS(files, "html/parts/*.html"))
	set := map[string]*template.Template{}
	for _, p := range All {
		file := p.Template() + ".html"
		set[p.Template()] = template.Must(template.Must(shared.Clone()).ParseFS(files, "html/"+file))
	}
	if err := undeclared(set); err != nil {
		panic(err)
	}
	return set
}

// undeclared finds a template that no page uses.
func undeclared(set map[string]*template.Template) error {
	entries, err := fs.Glob(files, "html/*.html")
	if err != nil {
		return err
	}
	for _, name := range entries {
		if set[strings.TrimSuffix(path.Base(name), ".html")] == nil {
			return fmt.Errorf("the template %s belongs to no page; add its struct to pages.All", name)
		}
	}
	return nil
}

// Render draws a page. Nothing is written when it cannot be drawn whole.
func Render(w io.Writer, p Page) error {
	p.base().Name = p.Template()
	var out bytes.Buffer
	if err := templates[p.Template()].ExecuteTemplate(&out, "frame", p); err != nil {
		return fmt.Errorf("draw the page %s: %w", p.Template(), err)
	}
	_, err := out.WriteTo(w)
	return err
}

// Base is what every page has: who looks, in which shop, when.
type Base struct {
	Name   string // of the template; set by Render
	Title  string
	Shop   string // the shop's name; empty before it is set up
	Zone   *time.Location
	Now    time.Time
	Person ledger.Actor // ID 0: nobody is signed in
	Flash  string       // what was just done
	Asked  string       // words that stand in the ask box
	Leave  *Form        // signs out
}

func (b *Base) base() *Base { return b }

// May tells whether the person at the page has a right.
func (b *Base) May(right string) bool { return b.Person.ID != 0 && b.Person.May(ledger.Right(right)) }

// In tells whether the page is one of those named, for the mark in the menu.
func (b *Base) In(names ...string) bool { return slices.Contains(names, b.Name) }

func (b *Base) zone() *time.Location {
	if b.Zone == nil {
		return time.UTC
	}
	return b.Zone
}

// When writes a moment in the shop's zone.
func (b *Base) When(t time.Time) string { return t.In(b.zone()).Format("2 Jan 2006, 15:04") }

// On writes the day of a moment in the shop's zone.
func (b *Base) On(t time.Time) string { return t.In(b.zone()).Format("2 Jan 2006") }

// Stamp writes a moment for the machine-readable attribute of a time element.
func (b *Base) Stamp(t time.Time) string { return t.In(b.zone()).Format(time.RFC3339) }

// Late tells whether something was recorded more than a day after it happened.
func (b *Base) Late(happened, recorded time.Time) bool { return recorded.Sub(happened) > 24*time.Hour }

// Took writes how long something lasted, in minutes and seconds.
func (b *Base) Took(from, to time.Time) string { return to.Sub(from).Round(time.Second).String() }
