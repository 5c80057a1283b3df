package sheet

import (
	"errors"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"ashbook/labels/chart"
)

// Cure is how a batch cures, on A4 paper: finished words, and a chart of each lot of bars. Only Code and Created are required; a character that
// the typefaces lack is printed as "?", since the sheet is a copy of the record and not the record.
type Cure struct {
	Shop    string
	Code    string // of the batch
	Product string
	Lots    []CureLot // each begins on a page of its own
	Created time.Time // the date inside the PDF; the same inputs must carry the same date to give the same bytes
	Footer  string    // stands at the foot of every page
}

// CureLot is one lot of bars.
type CureLot struct {
	Facts     [][2]string // name and value
	Says      string      // whether and when the bars are ready
	Notes     []string    // a paragraph each: why there is no curve, what does not go with the rest
	Chart     *chart.Chart
	Expected  Grid
	Weighings Grid
	After     string // a line below the weighings
}

// Grid is a table. A row that is marked is set in bold, with a sign before it.
type Grid struct {
	Title  string
	Heads  []string
	Shares []float64 // of the width, by column; together one
	Right  []int     // columns of figures, which end at one line
	Rows   []GridRow
}

// GridRow is a row of a table.
type GridRow struct {
	Cells  []string
	Marked bool
}

// A4, ISO 216, in millimetres.
const (
	a4W, a4H                     = 210.0, 297.0
	edge                         = 18.0
	cureW                        = a4W - 2*edge
	cureBottom                   = a4H - 25
	chartTall                    = 88.0
	body, small, big             = 9.2 * mmPerPoint, 7.8 * mmPerPoint, 11 * mmPerPoint
	leading                      = 1.38
	markedSign                   = "» "
	afterBlock, afterRow, indent = 4.5, 1.1, 4.0
	gap                          = 2.0 // between columns
)

// DrawCure returns the sheet as a PDF, of as many pages as it takes.
func DrawCure(c Cure) ([]byte, error) {
	if c.Code == "" || c.Created.IsZero() {
		return nil, errors.New("draw cure sheet: no batch code, or no date of creation; pass both")
	}
	set, err := loadFaces()
	if err != nil {
		return nil, err
	}
	pages := 0
	for { // once to count the pages, once to print the count
		f := &flow{pen: newPen(set, a4W, a4H, "Cure of batch "+c.Code, c.Created), cure: c, pages: pages}
		for i, lot := range c.Lots {
			f.lot(lot, i)
		}
		if len(c.Lots) == 0 {
			f.page()
		}
		if f.at == pages {
			return f.bytes()
		}
		pages = f.at
	}
}

// flow sets blocks one below the other, page after page.
type flow struct {
	pen
	cure      Cure
	y         float64 // where the next block begins
	at, pages int     // the page one is on, and how many there will be
}

func (f *flow) page() {
	f.pdf.AddPage()
	f.at++
	f.pdf.SetLineJoinStyle("round")
	foot := a4H - 17.0
	f.stroke(grey, hairline)
	f.pdf.Line(edge, foot-4, edge+cureW, foot-4)
	of := "Batch " + f.cure.Code + ", page " + strconv.Itoa(f.at) + " of " + strconv.Itoa(f.pages)
	f.text(f.set.text, of, small, 0, tint{}, edge+cureW-f.set.text.width(of, small, 0), foot)
	f.y = foot - 0.8*leading*small
	f.rows(f.set.text, f.cure.Footer, small, tint{}, edge, cureW-f.set.text.width(of, small, 0)-8)
	f.y = edge
	f.head()
}

// head begins a page: in full on the first, in one line on those that follow.
func (f *flow) head() {
	if f.at > 1 {
		f.rows(f.set.text, "Cure of batch "+f.cure.Code+", continued", small, tint{}, edge, cureW)
		f.y += 3
		return
	}
	f.rows(f.set.display, f.cure.Shop, 12*mmPerPoint, tint{}, edge, cureW/2)
	code := 20 * mmPerPoint
	f.text(f.set.bold, f.cure.Code, code, 0, tint{}, edge+cureW-f.set.bold.width(f.cure.Code, code, 0), edge+code*0.8)
	f.y = max(f.y, edge+code*0.8) + 5
	f.rows(f.set.display, "Cure of "+or(f.cure.Product, "a batch"), 22*mmPerPoint, tint{}, edge, cureW)
	f.y += 1.5
	f.stroke(tint{}, 0.35)
	f.pdf.Line(edge, f.y, edge+cureW, f.y)
	f.pdf.Line(edge, f.y+0.9, edge+cureW, f.y+0.9)
	f.y += afterBlock + 1
}

func or(s, other string) string {
	if s == "" {
		return other
	}
	return s
}

// room begins a new page unless that much is left on this one.
func (f *flow) room(tall float64) bool {
	if f.y+tall <= cureBottom {
		return false
	}
	f.page()
	return true
}

func (f *flow) lot(lot CureLot, n int) {
	f.page()
	if n > 0 {
		f.y += 2
	}
	f.facts(lot.Facts)
	f.paragraph(f.set.text, lot.Says, big, true)
	for _, note := range lot.Notes {
		f.paragraph(f.set.text, note, body, false)
	}
	if lot.Chart != nil {
		f.room(chartTall)
		f.chart(*lot.Chart)
	}
	f.grid(lot.Expected)
	f.grid(lot.Weighings)
	f.paragraph(f.set.text, lot.After, small, false)
}

// facts are names over values, side by side, each as wide as its words ask for.
func (f *flow) facts(facts [][2]string) {
	wide := func(fact [2]string) float64 {
		return min(8+max(f.set.text.width(fact[0], small, 0), f.set.bold.width(fact[1], body, 0)), 0.45*cureW)
	}
	total := 0.0
	for _, fact := range facts {
		total += wide(fact)
	}
	top, lowest, x := f.y, f.y, edge
	for _, fact := range facts {
		share := wide(fact) * min(1.2, cureW/total)
		f.y = top
		f.rows(f.set.text, fact[0], small, tint{}, x, share-gap)
		f.rows(f.set.bold, fact[1], body, tint{}, x, share-gap)
		lowest, x = max(lowest, f.y), x+share
	}
	f.y = lowest + 3.5
}

// paragraph is a text over the whole width; one that leads has a bar at its side.
func (f *flow) paragraph(face *face, text string, size float64, leads bool) {
	if text == "" {
		return
	}
	lines := f.wrapped(face, text, size, cureW-indent)
	f.room(float64(len(lines)) * leading * size)
	top := f.y
	x := edge
	if leads {
		x += indent
	}
	f.rows(face, text, size, tint{}, x, cureW-indent)
	if leads {
		f.stroke(tint{}, 1)
		f.pdf.Line(edge+0.6, top, edge+0.6, f.y)
	}
	f.y += afterBlock
}

// rows prints a text in rows of a width and goes on below it.
func (f *flow) rows(face *face, text string, size float64, t tint, x, width float64) {
	for _, line := range f.wrapped(face, text, size, width) {
		f.text(face, line, size, 0, t, x, f.y+0.95*size)
		f.y += leading * size
	}
}

// wrapped cuts a text into rows; a word that is too wide by itself is cut too.
func (f *flow) wrapped(face *face, text string, size, width float64) []string {
	var out []string
	for _, r := range wrap(words(face, f.legible(text)), size, 0, width) {
		line := r.spans[0].text
		for face.width(line, size, 0) > width {
			n := 1
			letters := []rune(line)
			for n < len(letters) && face.width(string(letters[:n+1]), size, 0) <= width {
				n++
			}
			out, line = append(out, string(letters[:n])), string(letters[n:])
			if n == len(letters) {
				break
			}
		}
		if line != "" {
			out = append(out, line)
		}
	}
	return out
}

// legible puts "?" for what the typefaces cannot draw, and for what does not show.
func (f *flow) legible(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp) {
			return ' '
		}
		for _, face := range []*face{f.set.display, f.set.text, f.set.bold} {
			if face.lacks(string(r)) != 0 {
				return '?'
			}
		}
		return r
	}, norm.NFC.String(text))
}

// grid sets a table; its head stands again on every page that it goes on to.
func (f *flow) grid(g Grid) {
	if len(g.Rows) == 0 {
		return
	}
	f.room(20 + 4*min(3, float64(len(g.Rows)))) // no head with but a row or two below it
	f.rows(f.set.display, g.Title, 13*mmPerPoint, tint{}, edge, cureW)
	f.y += 0.8
	f.gridHead(g)
	for _, row := range g.Rows {
		face, cells := f.set.text, row.Cells
		if row.Marked {
			face, cells = f.set.bold, append([]string{markedSign + row.Cells[0]}, row.Cells[1:]...)
		}
		if f.room(f.tall(g, cells, face, body) + afterRow) {
			f.gridHead(g)
		}
		f.gridRow(g, cells, face, body)
		f.stroke(tint{190, 190, 190}, hairline)
		f.pdf.Line(edge, f.y, edge+cureW, f.y)
		f.y += afterRow / 2
	}
	f.y += afterBlock
}

func (f *flow) gridHead(g Grid) {
	f.gridRow(g, g.Heads, f.set.text, small)
	f.stroke(tint{}, 0.3)
	f.pdf.Line(edge, f.y, edge+cureW, f.y)
	f.y += afterRow / 2
}

// tall is how high a row of a table is.
func (f *flow) tall(g Grid, cells []string, face *face, size float64) float64 {
	most := 1
	for i, cell := range cells {
		most = max(most, len(f.wrapped(face, cell, size, g.Shares[i]*cureW-gap)))
	}
	return float64(most) * leading * size
}

func (f *flow) gridRow(g Grid, cells []string, face *face, size float64) {
	top, x := f.y, edge
	for i, cell := range cells {
		f.y = top
		width := g.Shares[i]*cureW - gap
		at := x
		if lines := f.wrapped(face, cell, size, width); slices.Contains(g.Right, i) && len(lines) == 1 {
			at = x + width - face.width(lines[0], size, 0)
			if i < len(g.Heads)-1 {
				at -= gap
			} else {
				at += gap
			}
		}
		f.rows(face, cell, size, tint{}, at, width)
		x += g.Shares[i] * cureW
	}
	f.y = top + f.tall(g, cells, face, size) + afterRow/2
}

// Inks of a chart: grey enough for a copy, black where it matters.
var chartInks = map[chart.Role]tint{chart.Ink: {}, chart.Mark: {}, chart.Grid: {205, 205, 205}, chart.Band: {224, 224, 224}}

func (f *flow) chart(c chart.Chart) {
	for _, s := range c.Shapes(cureW, chartTall, 8.4*mmPerPoint) {
		f.shape(s, edge, f.y)
	}
	f.y += chartTall + afterBlock
}

// shape draws a shape of a chart whose left upper corner is at x, y.
func (d pen) shape(s chart.Shape, x, y float64) {
	colour := chartInks[s.Role]
	if s.Kind == chart.Text {
		left := s.Points[0].X - map[chart.Anchor]float64{chart.Middle: 0.5, chart.End: 1}[s.Anchor]*d.set.text.width(s.Words, s.Size, 0)
		d.text(d.set.text, s.Words, s.Size, 0, colour, x+left, y+s.Points[0].Y)
		return
	}
	d.stroke(colour, s.Width)
	if s.Dashed {
		d.pdf.SetDashPattern([]float64{1.6, 1.1}, 0)
		defer d.pdf.SetDashPattern(nil, 0)
	}
	for i, p := range s.Points {
		if i == 0 {
			d.pdf.MoveTo(x+p.X, y+p.Y)
		} else {
			d.pdf.LineTo(x+p.X, y+p.Y)
		}
	}
	if s.Kind == chart.Line {
		d.pdf.DrawPath("D")
		return
	}
	d.pdf.ClosePath()
	style := "D"
	d.pdf.SetFillColor(colour.r, colour.g, colour.b)
	switch {
	case s.Filled && s.Width == 0:
		style = "F"
	case s.Filled:
		style = "DF"
	case s.Role == chart.Mark: // open marks hide the lines under them
		d.pdf.SetFillColor(255, 255, 255)
		style = "DF"
	}
	d.pdf.DrawPath(style)
}
