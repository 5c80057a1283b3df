package sheet

import (
	"math"
	"strings"
)

// block is one text on a panel: rows of one size.
type block struct {
	name  string
	size  float64 // of the type, in millimetres
	track float64 // letterspacing as a fraction of the size
	tint  tint
	rows  []row
}

// row is one line of a block, placed on its panel.
type row struct {
	spans   []span
	x, base float64 // start and baseline, in the panel's frame
	width   float64
}

// span is a stretch of a row in one face.
type span struct {
	face   *face
	text   string
	offset float64 // from the start of the row
}

// word is the smallest piece of text that is kept on one row.
type word struct {
	face *face
	text string
}

// words cuts a text at its spaces.
func words(f *face, text string) []word {
	var out []word
	for _, w := range strings.Fields(text) {
		out = append(out, word{f, w})
	}
	return out
}

// leadIn sets the words up to and including the first that ends in a colon in the second face.
func leadIn(ws []word, f *face) []word {
	for i, w := range ws {
		if strings.HasSuffix(w.text, ":") {
			for j := range ws[:i+1] {
				ws[j].face = f
			}
			return ws
		}
	}
	return ws
}

// wrap fills rows with words up to a width. A word that is wider than that stands alone on a row that is too wide.
func wrap(ws []word, size, track, width float64) []row {
	var rows []row
	for len(ws) > 0 {
		n := 1
		for n < len(ws) && setRow(ws[:n+1], size, track).width <= width {
			n++
		}
		rows = append(rows, setRow(ws[:n], size, track))
		ws = ws[n:]
	}
	return rows
}

// balance wraps into as few rows as wrap does, but of even length, as a title wants.
func balance(ws []word, size, track, width float64) []row {
	rows := wrap(ws, size, track, width)
	if len(rows) < 2 {
		return rows
	}
	for narrow := widest(rows); narrow > 0; narrow -= size / 10 {
		tighter := wrap(ws, size, track, narrow)
		if len(tighter) > len(rows) || widest(tighter) > narrow {
			break
		}
		rows = tighter
	}
	return rows
}

// setRow puts words side by side; neighbours in one face become one span.
func setRow(ws []word, size, track float64) row {
	var r row
	for i := 0; i < len(ws); {
		f := ws[i].face
		text := ws[i].text
		for i++; i < len(ws) && ws[i].face == f; i++ {
			text += " " + ws[i].text
		}
		if len(r.spans) > 0 {
			r.width += f.width(" ", size, track)
		}
		r.spans = append(r.spans, span{f, text, r.width})
		r.width += f.width(text, size, track)
	}
	return r
}

// widest is the width of the widest row.
func widest(rows []row) float64 {
	w := 0.0
	for _, r := range rows {
		w = max(w, r.width)
	}
	return w
}

// points rounds a size in millimetres up to the hundredth of a point, the finest that the PDF library writes, so that no
// glyph ends up below its least height.
func points(size float64) float64 { return math.Ceil(size/mmPerPoint*100-1e-9) / 100 }

// sizeFor is the type size in millimetres at which a glyph of the given height (a fraction of the size) is at least mm tall.
func sizeFor(mm, height float64) float64 { return points(mm/height) * mmPerPoint }

// box is a rectangle in a panel's frame, downwards from its left upper corner.
type box struct{ left, top, right, bottom float64 }

// boxes is the paper that the ink of each row covers.
func (b block) boxes() []box {
	var out []box
	for _, r := range b.rows {
		above, below := r.extent()
		out = append(out, box{r.x, r.base - above*b.size, r.x + r.width, r.base + below*b.size})
	}
	return out
}

// extent is how far the ink of a row reaches above and below its baseline, as fractions of the size.
func (r row) extent() (above, below float64) {
	for _, s := range r.spans {
		up, down := s.face.extent(s.text)
		above, below = max(above, up), max(below, down)
	}
	return above, below
}

// tightLeading is the least distance of baselines, as a fraction of the size, at which no row touches the next.
func tightLeading(rows []row) float64 {
	leading := 0.95
	for i := 1; i < len(rows); i++ {
		_, below := rows[i-1].extent()
		above, _ := rows[i].extent()
		leading = max(leading, below+above+0.04)
	}
	return leading
}

// bottom is the lowest ink of a block.
func (b block) bottom() float64 {
	lowest := 0.0
	for _, at := range b.boxes() {
		lowest = max(lowest, at.bottom)
	}
	return lowest
}

// centre places rows round the middle of a width, the first on a baseline, the rest below it.
func centre(rows []row, width, base, leading float64) []row {
	for i := range rows {
		rows[i].x, rows[i].base = (width-rows[i].width)/2, base+float64(i)*leading
	}
	return rows
}

// left places rows along a left edge.
func left(rows []row, x, base, leading float64) []row {
	for i := range rows {
		rows[i].x, rows[i].base = x, base+float64(i)*leading
	}
	return rows
}

// right places rows along a right edge.
func right(rows []row, x, base, leading float64) []row {
	for i := range rows {
		rows[i].x, rows[i].base = x-rows[i].width, base+float64(i)*leading
	}
	return rows
}
