package sheet

import (
	_ "embed" // the font files below
	"fmt"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// The typefaces, unmodified, under the SIL Open Font License (see the licence files beside them).
var (
	//go:embed fonts/EBGaramond12-Regular.ttf
	garamondTTF []byte
	//go:embed fonts/EBGaramond12-Italic.ttf
	garamondItalicTTF []byte
	//go:embed fonts/Lato-Regular.ttf
	latoTTF []byte
	//go:embed fonts/Lato-Bold.ttf
	latoBoldTTF []byte
)

// mmPerPoint is one typographic point of PDF, 1/72 inch, in millimetres.
const mmPerPoint = 25.4 / 72

// face is one typeface with the heights of its glyphs, as fractions of its size.
type face struct {
	family string // name inside the PDF
	data   []byte
	font   *sfnt.Font

	oHeight     float64 // top of the lower-case o above the baseline
	digitHeight float64 // top of the lowest digit
	capHeight   float64 // top of the capital H
	ascent      float64 // top of an accented capital
	descent     float64 // depth of p, q, y, j and cedillas below the baseline

	latin [latinEnd]letter // the letters of nearly every label, looked up once
	kerns sync.Map         // [2]rune of Latin letters to float64: reading the typeface's kerning is slow
}

// latinEnd is the first rune after Latin Extended-B.
const latinEnd = 0x250

// letter is one rune in a face.
type letter struct {
	glyph   sfnt.GlyphIndex // 0: the face has none
	advance float64         // as a fraction of the size
}

// faces are the four faces of a label.
type faces struct {
	display, italic, text, bold *face
}

// loadFaces parses the typefaces once in the life of the process; a face is then only read.
var loadFaces = sync.OnceValues(func() (*faces, error) {
	var set faces
	for _, f := range []struct {
		into   **face
		family string
		data   []byte
	}{
		{&set.display, "display", garamondTTF}, {&set.italic, "italic", garamondItalicTTF},
		{&set.text, "text", latoTTF}, {&set.bold, "bold", latoBoldTTF},
	} {
		parsed, err := parseFace(f.family, f.data)
		if err != nil {
			return nil, fmt.Errorf("load the label's typeface %s: %w; the program was built wrongly", f.family, err)
		}
		*f.into = parsed
	}
	return &set, nil
})

// parseFace reads a TrueType file and measures the glyphs that the law and the layout ask about.
func parseFace(family string, data []byte) (*face, error) {
	parsed, err := sfnt.Parse(data)
	if err != nil {
		return nil, err
	}
	f := &face{family: family, data: data, font: parsed}
	var buf sfnt.Buffer
	for r := range f.latin {
		f.latin[r] = f.lookUp(&buf, rune(r))
	}
	f.oHeight, _ = f.extent("o")
	f.capHeight, _ = f.extent("H")
	f.ascent, _ = f.extent("ÅŐŽ")
	_, f.descent = f.extent("pqyjgçş,;()")
	f.digitHeight = f.capHeight
	for _, digit := range "0123456789" {
		top, _ := f.extent(string(digit))
		f.digitHeight = min(f.digitHeight, top)
	}
	return f, nil
}

// extent is how far the glyphs of a text reach above and below the baseline, as fractions of the size.
func (f *face) extent(text string) (above, below float64) {
	var buf sfnt.Buffer
	for _, r := range text {
		bounds, _, err := f.font.GlyphBounds(&buf, f.letter(&buf, r).glyph, f.em(), font.HintingNone)
		if err != nil {
			continue
		}
		above = max(above, f.fraction(-bounds.Min.Y))
		below = max(below, f.fraction(bounds.Max.Y))
	}
	return above, below
}

// em is the size at which one font unit is one whole unit, so that nothing is rounded.
func (f *face) em() fixed.Int26_6 { return fixed.I(int(f.font.UnitsPerEm())) }

func (f *face) fraction(v fixed.Int26_6) float64 {
	return float64(v) / float64(f.em())
}

// letter is a rune as the face has it.
func (f *face) letter(buf *sfnt.Buffer, r rune) letter {
	if r >= 0 && r < latinEnd {
		return f.latin[r]
	}
	return f.lookUp(buf, r)
}

// lookUp reads a rune from the typeface.
func (f *face) lookUp(buf *sfnt.Buffer, r rune) letter {
	glyph, err := f.font.GlyphIndex(buf, r)
	if err != nil {
		return letter{}
	}
	advance, err := f.font.GlyphAdvance(buf, glyph, f.em(), font.HintingNone)
	if err != nil {
		return letter{}
	}
	return letter{glyph, f.fraction(advance)}
}

// lacks returns the first rune that the face cannot draw, or 0. The PDF library knows no rune past U+FFFF.
func (f *face) lacks(text string) rune {
	var buf sfnt.Buffer
	for _, r := range text {
		if r > 0xFFFF || f.letter(&buf, r).glyph == 0 {
			return r
		}
	}
	return 0
}

// run is a piece of text that is drawn in one stroke, and how far from the start it stands, as a fraction of the size.
type run struct {
	text   string
	offset float64
}

// runs cuts a text where the face kerns two letters, or between all letters when it is tracked, and returns its whole
// width, as a fraction of the size. Tracking is added between letters only.
func (f *face) runs(text string, track float64) ([]run, float64) {
	var (
		buf   sfnt.Buffer
		out   []run
		width float64
		last  rune
	)
	for i, r := range text {
		shift := 0.0
		if i > 0 {
			shift = track + f.kern(&buf, last, r)
		}
		width += shift
		if i == 0 || shift != 0 {
			out = append(out, run{offset: width})
		}
		out[len(out)-1].text += string(r)
		width += f.letter(&buf, r).advance
		last = r
	}
	return out, width
}

// kern is the correction between two letters, zero where the face has none. Pairs of Latin letters are kept, so what is
// kept cannot grow past their number.
func (f *face) kern(buf *sfnt.Buffer, a, b rune) float64 {
	pair := [2]rune{a, b}
	if known, ok := f.kerns.Load(pair); ok {
		return known.(float64)
	}
	k := 0.0
	read, err := f.font.Kern(buf, f.letter(buf, a).glyph, f.letter(buf, b).glyph, f.em(), font.HintingNone)
	if err == nil {
		k = f.fraction(read)
	}
	if a < latinEnd && b < latinEnd {
		f.kerns.Store(pair, k)
	}
	return k
}

// width is the width of a text in millimetres at a size in millimetres.
func (f *face) width(text string, size, track float64) float64 {
	_, w := f.runs(text, track)
	return w * size
}
