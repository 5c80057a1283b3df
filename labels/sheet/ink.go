package sheet

import (
	"bytes"
	"fmt"
	"time"

	"github.com/jung-kurt/gofpdf"
)

// tint is a colour of ink; its zero is black. Required text is plain black, so that small type is printed solid and not as dots.
type tint struct{ r, g, b int }

var (
	leaf  = tint{72, 88, 70}    // ornament and shop name
	grey  = tint{110, 110, 110} // marks outside the trim
	wash  = tint{236, 239, 232} // ground of the side panels
	rose  = tint{240, 202, 195} // the proof mark under the text
	alarm = tint{176, 42, 28}   // the proof mark outside the trim
)

const hairline = 0.16 // mm

// pen draws a laid out label with the PDF library.
type pen struct {
	pdf *gofpdf.Fpdf
	set *faces
}

// ink turns a laid out label into PDF bytes. Dates and the order of objects are fixed: same label, same bytes.
func ink(l Label, p page, set *faces) ([]byte, error) {
	d := newPen(set, pageW, pageH, l.Product+", batch "+l.BatchCode, l.Created)
	d.pdf.AddPage()
	d.ground(p)
	if l.Proof {
		d.proof(p)
	}
	for _, panel := range p.panels {
		d.panel(panel)
	}
	d.marks(l)
	return d.bytes()
}

// newPen starts a PDF of pages of a size in millimetres.
func newPen(set *faces, w, h float64, title string, created time.Time) pen {
	pdf := gofpdf.NewCustom(&gofpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: gofpdf.SizeType{Wd: w, Ht: h}})
	pdf.SetCreationDate(created.UTC())
	pdf.SetModificationDate(created.UTC())
	pdf.SetCatalogSort(true)
	pdf.SetTitle(title, true)
	pdf.SetCreator("ashbook", true)
	pdf.SetMargins(0, 0, 0)
	pdf.SetAutoPageBreak(false, 0)
	for _, f := range []*face{set.display, set.italic, set.text, set.bold} {
		// A copy, because the library writes a checksum into the bytes it is given.
		pdf.AddUTF8FontFromBytes(f.family, "", bytes.Clone(f.data))
	}
	return pen{pdf, set}
}

// bytes ends the PDF.
func (d pen) bytes() ([]byte, error) {
	var out bytes.Buffer
	if err := d.pdf.Output(&out); err != nil {
		return nil, fmt.Errorf("write the PDF: %w", err)
	}
	return out.Bytes(), nil
}

// panel draws the hairlines and texts of a panel, turned where it is turned.
func (d pen) panel(p *panel) {
	x, y := p.x, p.y
	if p.turned {
		d.pdf.TransformBegin()
		// The panel's own upper left corner is the lower left corner on the band.
		x, y = p.x, p.y+p.w
		d.pdf.TransformRotate(90, x, y)
	}
	d.stroke(leaf, hairline)
	for _, c := range p.curves {
		d.curve(c, x, y)
	}
	for _, b := range p.blocks {
		d.block(b, x, y)
	}
	if p.turned {
		d.pdf.TransformEnd()
	}
}

// ground washes the side panels with colour, over the trim by the bleed, so that a cut a little off leaves no white edge.
func (d pen) ground(p page) {
	const bleed = 1.8
	d.pdf.SetFillColor(wash.r, wash.g, wash.b)
	for _, s := range p.panels {
		if s.washed {
			d.pdf.Rect(s.x, s.y-bleed, s.h, s.w+2*bleed, "F")
		}
	}
}

func (d pen) stroke(t tint, width float64) {
	d.pdf.SetDrawColor(t.r, t.g, t.b)
	d.pdf.SetLineWidth(width)
}

func (d pen) curve(c curve, x, y float64) {
	d.pdf.MoveTo(x+c.x0, y+c.y0)
	d.pdf.CurveBezierCubicTo(x+c.x1, y+c.y1, x+c.x2, y+c.y2, x+c.x3, y+c.y3)
	d.pdf.DrawPath("D")
}

func (d pen) block(b block, x, y float64) {
	for _, r := range b.rows {
		for _, s := range r.spans {
			d.text(s.face, s.text, b.size, b.track, b.tint, x+r.x+s.offset, y+r.base)
		}
	}
}

// text draws a text run by run, kerned and tracked as it was measured.
func (d pen) text(f *face, text string, size, track float64, t tint, x, base float64) {
	d.pdf.SetFont(f.family, "", points(size))
	d.pdf.SetTextColor(t.r, t.g, t.b)
	runs, _ := f.runs(text, track)
	for _, r := range runs {
		d.pdf.Text(x+r.offset*size, base, r.text)
	}
}
