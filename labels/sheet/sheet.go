// Package sheet draws the label of a bar as a PDF page: a paper band that wraps round the bar, with crop marks and fold
// ticks, to be printed at full size on A4 or US Letter. It alone imports the PDF library.
//
// What is printed comes in as finished words; this package decides where and how large. Two promises bind it.
// Required text is never smaller than the height asked for, measured on the glyphs of the typeface itself (the
// lower-case o, the digits), and text that does not fit at that height is an error, never cut and never squeezed.
// And the same label gives the same bytes, in every process, so that a printed label can be told by its digest.
package sheet

import (
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"

	"github.com/shopspring/decimal"
	"golang.org/x/text/unicode/norm"
)

// Label is all that is printed on a band. Lines may hold any text of the typefaces (Latin, Greek, Cyrillic) but no
// control or invisible characters. Product, Identity, Net, Maker, BatchCode and Created are required.
type Label struct {
	Identity    string   // what it is, in common words: "Handmade soap" (21 CFR 701.11 [from memory])
	Product     string   // the product's own name
	Net         string   // the net quantity declaration, from package netcontents
	Ingredients string   // the ingredient statement, from package statement; may be empty where none is asked for
	Maker       []string // name, address lines, contact
	BatchCode   string
	BestBefore  string   // the date alone, "05/2029"; printed after "Best used before the end of"; may be empty
	Cautions    []string // one paragraph each
	Origin      string   // "Made in ..."; may be empty
	Shop        string   // short shop name; may be empty
	Proof       bool     // the lot is not released: PROOF - NOT FOR SALE is printed across the panels

	// DigitHeightMM is the least height in millimetres of the net quantity: of its digits, and of its lower-case o
	// as well, because United States law measures that one. Zero where the law sets none.
	DigitHeightMM decimal.Decimal
	// TextHeightMM is the least height in millimetres of the lower-case o of all other required text: identity,
	// ingredients, maker, cautions, origin, batch code and date. Zero where the law sets none.
	TextHeightMM decimal.Decimal

	Footer  string    // tiny print outside the trim, cut off with it: product, code, digest; may be empty
	Created time.Time // the date inside the PDF; the same inputs must carry the same date to give the same bytes
	Band    Band      // zero for DefaultBand
}

// TooLongError says that a text cannot be printed at its least lawful height.
type TooLongError struct {
	Text   string  // which text: "ingredient statement"
	Panel  string  // where: "back panel"
	OverMM float64 // how much too long, in millimetres, at least 0.1
	Across bool    // true: too wide by that much; false: too tall
	Advice string  // what to do
}

// Error says which text, on which panel, how much too long, and what to do.
func (e *TooLongError) Error() string {
	way := "tall"
	if e.Across {
		way = "wide"
	}
	return fmt.Sprintf("draw label: the %s is %.1f mm too %s for the %s at its least height; %s", e.Text, e.OverMM, way, e.Panel, e.Advice)
}

// Draw returns the label as a PDF of one page. It fails, naming the text, when a required text is missing, holds a
// character that cannot be printed, or (as a *TooLongError) does not fit at its least height. It may be called from
// many goroutines at once.
func Draw(l Label) ([]byte, error) {
	set, err := loadFaces()
	if err != nil {
		return nil, err
	}
	if l, err = check(l, set); err != nil {
		return nil, err
	}
	p, err := layOut(l, set)
	if err != nil {
		return nil, err
	}
	return ink(l, p, set)
}

// check refuses what cannot be printed, and returns the label with its texts in composed form (NFC), so that an accent
// typed as a character of its own finds the one glyph it has in the typefaces.
func check(l Label, set *faces) (Label, error) {
	if l.Band == (Band{}) {
		l.Band = DefaultBand
	}
	if err := l.Band.check(); err != nil {
		return l, err
	}
	if err := required(l); err != nil {
		return l, err
	}
	l.Maker = append([]string(nil), l.Maker...)
	l.Cautions = append([]string(nil), l.Cautions...)
	for _, t := range l.texts() {
		*t.text = norm.NFC.String(strings.TrimSpace(*t.text))
		if err := printable(t.name, *t.text, set); err != nil {
			return l, err
		}
	}
	return l, nil
}

// named is a printed text and the name that errors give it.
type named struct {
	name string
	text *string
}

// texts are all printed texts of a label.
func (l *Label) texts() []named {
	list := []named{
		{"product name", &l.Product}, {"identity", &l.Identity}, {"net quantity", &l.Net},
		{"ingredient statement", &l.Ingredients}, {"batch code", &l.BatchCode}, {"best-before date", &l.BestBefore},
		{"origin", &l.Origin}, {"shop name", &l.Shop}, {"footer", &l.Footer},
	}
	for i := range l.Maker {
		list = append(list, named{"maker's name and address", &l.Maker[i]})
	}
	for i := range l.Cautions {
		list = append(list, named{"cautions", &l.Cautions[i]})
	}
	return list
}

// required names the first text that every label must carry and this one does not.
func required(l Label) error {
	for _, r := range []struct{ name, text string }{
		{"product name", l.Product}, {"identity", l.Identity}, {"net quantity", l.Net},
		{"maker's name and address", strings.Join(l.Maker, "")}, {"batch code", l.BatchCode},
	} {
		if strings.TrimSpace(r.text) == "" {
			return fmt.Errorf("draw label: the %s is empty; every label must carry it", r.name)
		}
	}
	if l.Created.IsZero() {
		return errors.New("draw label: no date of creation; pass the date on which the label was issued")
	}
	if l.DigitHeightMM.IsNegative() || l.TextHeightMM.IsNegative() {
		return errors.New("draw label: a least height of type is negative; pass zero where the law sets none")
	}
	return nil
}

// printable refuses control and invisible characters, which could hide or reorder what a reader sees, and characters
// that the typefaces lack.
func printable(name, text string, set *faces) error {
	for i, r := range text {
		if unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp) || r == unicode.ReplacementChar {
			return fmt.Errorf("draw label: the %s holds the control or invisible character %U at byte %d; remove it", name, r, i)
		}
	}
	for _, f := range []*face{set.display, set.italic, set.text, set.bold} {
		if r := f.lacks(text); r != 0 {
			return fmt.Errorf("draw label: the %s holds %q (%U), which the label's typefaces cannot draw; spell it in Latin letters", name, r, r)
		}
	}
	return nil
}
