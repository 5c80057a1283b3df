package sheet

import (
	"math"

	"golang.org/x/image/font/sfnt"
)

// ProofText is the mark on the label of a lot that is not released.
const ProofText = "PROOF - NOT FOR SALE"

// disclaimer is printed outside the trim of every label.
const disclaimer = "Record of the maker; not a safety assessment. Local law and the maker's own checks decide."

const (
	tiny       = 6.5 * mmPerPoint // type outside the trim
	footerDrop = 24.0             // from the band to the first baseline of the footer
	footerMost = 3                // rows
)

// footerRows breaks the footer into rows as long as the band.
func footerRows(l Label, set *faces) []row {
	return wrap(words(set.text, l.Footer), tiny, 0, l.Band.length())
}

// checkFooter reports a footer that needs more rows than there are, or a word longer than the band.
func checkFooter(l Label, set *faces) error {
	rows := footerRows(l, set)
	const name, where = "footer", "strip under the band"
	if err := tooWide(name, where, rows, l.Band.length(), adviceShorten); err != nil {
		return err
	}
	return tooTall(name, where, float64(len(rows)-footerMost)*1.4*tiny, adviceShorten)
}

// marks draws what is cut off: crop marks at the corners, ticks at the folds, a length to check the printer by, words.
func (d pen) marks(l Label) {
	band := l.Band
	spine, front, code, back := band.place()
	x0, y0 := spine.x, spine.y
	x1, y1 := x0+band.length(), y0+band.FrontH
	d.stroke(grey, 0.15)
	for _, x := range []float64{x0, x1} {
		d.pdf.Line(x, y0-8, x, y0-3)
		d.pdf.Line(x, y1+3, x, y1+8)
	}
	for _, y := range []float64{y0, y1} {
		d.pdf.Line(x0-8, y, x0-3, y)
		d.pdf.Line(x1+3, y, x1+8, y)
	}
	d.pdf.SetDashPattern([]float64{0.8, 0.6}, 0)
	for _, x := range []float64{front.x, code.x, back.x, back.x + back.w} {
		d.pdf.Line(x, y0-6.6, x, y0-2)
		d.pdf.Line(x, y1+2, x, y1+6.6)
	}
	d.pdf.SetDashPattern(nil, 0)
	d.words(l, x0, x1, y0, y1)
}

// words draws the lines above and below the band, and the glue mark on the flap.
func (d pen) words(l Label, x0, x1, y0, y1 float64) {
	const small = 7.5 * mmPerPoint
	d.note("Print at full size (100 %). Cut at the corner marks, fold at the dashed ticks, glue the flap under the first side.",
		small, grey, x0, y0-15)
	if l.Proof {
		d.note(ProofText+". The lot is not released.", 1.6*small, alarm, x0, y0-21)
	}
	flap := x1 - l.Band.Flap/2
	width := d.set.text.width("glue", tiny, 0)
	d.note("glue", tiny, grey, flap-width/2, (y0+y1)/2)
	d.ruler(x0, y1+16)
	base := y1 + footerDrop
	rows := append(footerRows(l, d.set), setRow(words(d.set.text, disclaimer), tiny, 0))
	d.block(block{size: tiny, tint: grey, rows: left(rows, x0, base, 1.4*tiny)}, 0, 0)
}

// note draws one line outside the trim.
func (d pen) note(text string, size float64, t tint, x, base float64) {
	d.text(d.set.text, text, size, 0, t, x, base)
}

// ruler is a length that shows whether the printer kept the size: the heights of type that the law asks for hold only
// then.
func (d pen) ruler(x, y float64) {
	const length = 50
	d.stroke(grey, 0.2)
	d.pdf.Line(x, y, x+length, y)
	for i := 0; i <= length; i += 10 {
		tick := 1.0
		if i%length == 0 {
			tick = 1.8
		}
		d.pdf.Line(x+float64(i), y-tick, x+float64(i), y)
	}
	d.note("This line is 50 mm long when printed at full size; if it is not, the type may be smaller than the law asks.",
		tiny, grey, x+length+4, y)
}

// proof draws the proof mark across the front and the back, under the text. It is drawn as outlines, not as text, so that
// it cannot be mistaken for the label's words when the page is read by a machine.
func (d pen) proof(p page) {
	for _, panel := range p.panels {
		if panel.turned {
			continue
		}
		angle := math.Atan2(panel.h, panel.w) * 180 / math.Pi * 0.8
		size := 0.86 * panel.w / d.set.bold.width(ProofText, 1, 0.04)
		cx, cy := panel.x+panel.w/2, panel.y+panel.h/2
		d.pdf.TransformBegin()
		d.pdf.TransformRotate(angle, cx, cy)
		d.outline(d.set.bold, ProofText, size, cx, cy+d.set.bold.capHeight*size/2)
		d.pdf.TransformEnd()
	}
}

// outline fills the shapes of a text's glyphs, centred on x.
func (d pen) outline(f *face, text string, size, x, base float64) {
	d.pdf.SetFillColor(rose.r, rose.g, rose.b)
	runs, width := f.runs(text, 0.04)
	x -= width * size / 2
	var buf sfnt.Buffer
	for _, r := range runs {
		segments, err := f.font.LoadGlyph(&buf, f.letter(&buf, []rune(r.text)[0]).glyph, f.em(), nil)
		if err != nil || len(segments) == 0 {
			continue
		}
		at := func(i int, s sfnt.Segment) (float64, float64) {
			return x + (r.offset+f.fraction(s.Args[i].X))*size, base + f.fraction(s.Args[i].Y)*size
		}
		for i, s := range segments {
			if s.Op == sfnt.SegmentOpMoveTo && i > 0 {
				d.pdf.ClosePath()
			}
			d.segment(s, at)
		}
		d.pdf.ClosePath()
		d.pdf.DrawPath("F")
	}
}

// segment adds one segment of a glyph to the current path.
func (d pen) segment(s sfnt.Segment, at func(int, sfnt.Segment) (float64, float64)) {
	x0, y0 := at(0, s)
	switch s.Op {
	case sfnt.SegmentOpMoveTo:
		d.pdf.MoveTo(x0, y0)
	case sfnt.SegmentOpLineTo:
		d.pdf.LineTo(x0, y0)
	case sfnt.SegmentOpQuadTo:
		x1, y1 := at(1, s)
		d.pdf.CurveTo(x0, y0, x1, y1)
	case sfnt.SegmentOpCubeTo:
		x1, y1 := at(1, s)
		x2, y2 := at(2, s)
		d.pdf.CurveBezierCubicTo(x0, y0, x1, y1, x2, y2)
	}
}
