package sheet

import (
	"bytes"
	"errors"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// laidOut lays out a label that is known to fit.
func laidOut(t *testing.T, l Label) page {
	set, err := loadFaces()
	require.NoError(t, err)
	l, err = check(l, set)
	require.NoError(t, err)
	p, err := layOut(l, set)
	require.NoError(t, err)
	return p
}

// apart says whether two boxes share no paper.
func apart(a, b box) bool {
	return a.right <= b.left || b.right <= a.left || a.bottom <= b.top || b.bottom <= a.top
}

// requireApart checks that the texts of every panel stay inside its frame, off each other and off all ornament. A Bézier curve
// lies within the box of its four points.
func requireApart(t require.TestingT, p page) {
	for _, panel := range p.panels {
		var taken []box
		for _, b := range panel.blocks {
			for _, at := range b.boxes() {
				require.GreaterOrEqual(t, at.left, frameInset, "%s: %s", panel.name, b.name)
				require.GreaterOrEqual(t, at.top, frameInset, "%s: %s", panel.name, b.name)
				require.LessOrEqual(t, at.right, panel.w-frameInset, "%s: %s", panel.name, b.name)
				require.LessOrEqual(t, at.bottom, panel.h-frameInset, "%s: %s", panel.name, b.name)
				for _, other := range taken {
					require.True(t, apart(at, other), "%s: the %s lies over other text", panel.name, b.name)
				}
				taken = append(taken, at)
			}
		}
		for _, c := range panel.curves {
			line := box{min(c.x0, c.x1, c.x2, c.x3), min(c.y0, c.y1, c.y2, c.y3), max(c.x0, c.x1, c.x2, c.x3), max(c.y0, c.y1, c.y2, c.y3)}
			for _, text := range taken {
				require.True(t, apart(line, text), "%s: a hairline %v crosses text %v", panel.name, line, text)
			}
		}
	}
}

// requireNetPlaced checks the place of the net quantity: in the lowest 30 % of the panel, one letter height of clear
// space above and below, nothing beside it (21 CFR 701.13(f), 16 CFR 500.6(b) [from memory]).
func requireNetPlaced(t require.TestingT, front *panel) {
	for _, net := range front.blocks {
		if net.name != "net quantity" {
			continue
		}
		letter := net.rows[0].spans[0].face.capHeight * net.size
		top := net.rows[0].base - letter
		last := net.rows[len(net.rows)-1].base
		require.GreaterOrEqual(t, top, 0.7*front.h-slack)
		require.GreaterOrEqual(t, front.h-last, letter, "clear space to the edge")
		for _, other := range front.blocks {
			if other.name != net.name {
				require.LessOrEqual(t, other.bottom(), top-letter+slack, other.name)
			}
		}
		return
	}
	require.Fail(t, "no net quantity on the front panel")
}

// printed is the text of a block, read from its rows.
func printed(b block) string {
	var out []string
	for _, r := range b.rows {
		for _, s := range r.spans {
			out = append(out, s.text)
		}
	}
	return strings.Join(out, " ")
}

func TestWorkedLabelsLayOut(t *testing.T) {
	for _, l := range []Label{invented(), inventedEU()} {
		p := laidOut(t, l)
		requireApart(t, p)
		requireNetPlaced(t, p.panels[1])
	}
}

// Whatever the texts: either the label is laid out whole, with nothing cut, overlapping or too small, or the error says
// which text is too long.
func TestLayoutProperties(t *testing.T) {
	set, err := loadFaces()
	require.NoError(t, err)
	fitted := 0
	rapid.Check(t, func(t *rapid.T) {
		text := func(name string, most int) string {
			w := rapid.SampledFrom([]string{"Ash", "Óxido", "SODIUM", "gjpqy", "of", "Ž", "Łódź", "OIL/EXTRACT,", "4.2", "(Olive)", "Butyrospermum"})
			return strings.Join(rapid.SliceOfN(w, 1, most).Draw(t, name), " ")
		}
		l := Label{
			Identity: text("identity", 5), Product: text("product", 5), Net: text("net", 5), Ingredients: text("ingredients", 50),
			Maker: []string{text("maker", 4), text("address", 6)}, BatchCode: text("code", 2), Cautions: []string{text("caution", 12)},
			Created: invented().Created, Shop: text("shop", 3),
			DigitHeightMM: decimal.New(rapid.Int64Range(0, 40).Draw(t, "digit height"), -1),
			TextHeightMM:  decimal.New(rapid.Int64Range(0, 20).Draw(t, "text height"), -1),
			Band: Band{FrontW: rapid.Float64Range(60, 95).Draw(t, "width"), FrontH: rapid.Float64Range(45, 90).Draw(t, "height"),
				Side: rapid.Float64Range(18, 28).Draw(t, "side"), Flap: 10},
		}
		if rapid.Bool().Draw(t, "origin") {
			l.Origin, l.BestBefore = text("from", 6), "05/2029"
		}
		l, err := check(l, set)
		require.NoError(t, err)
		p, err := layOut(l, set)
		if err != nil {
			var long *TooLongError
			require.True(t, errors.As(err, &long), "%v", err)
			return
		}
		requireApart(t, p)
		requireNetPlaced(t, p.panels[1])
		requireWhole(t, p, l)
		fitted++
	})
	t.Logf("%d of the invented labels fitted", fitted)
	require.Positive(t, fitted)
}

// requireWhole checks that nothing required was cut and that its lower-case o is tall enough.
func requireWhole(t *rapid.T, p page, l Label) {
	want := map[string]string{
		"identity": l.Identity, "net quantity": l.Net, "ingredient statement": l.Ingredients, "origin": l.Origin,
		"cautions": strings.Join(l.Cautions, " "), "maker's name and address": strings.Join(l.Maker, " "), "batch code": "Batch " + l.BatchCode,
	}
	for _, panel := range p.panels {
		for _, b := range panel.blocks {
			text, required := want[b.name]
			if !required {
				continue
			}
			require.Equal(t, text, printed(b))
			delete(want, b.name)
			height := l.TextHeightMM
			if b.name == "net quantity" {
				height = l.DigitHeightMM
			}
			for _, r := range b.rows {
				for _, s := range r.spans {
					require.GreaterOrEqual(t, s.face.oHeight*b.size, height.InexactFloat64()-slack, b.name)
				}
			}
		}
	}
	if l.Origin == "" {
		delete(want, "origin")
	}
	require.Empty(t, want, "every required text is printed")
}

// picture is a grey picture of a part of the page.
type picture struct {
	w, h int
	grey []byte
}

// render draws a part of the page with poppler.
func render(t *testing.T, pdf []byte, dpi int, zone box) picture {
	px := func(mm float64) string { return strconv.Itoa(int(mm * float64(dpi) / 25.4)) }
	cmd := exec.Command("pdftoppm", "-gray", "-r", strconv.Itoa(dpi), "-x", px(zone.left), "-y", px(zone.top),
		"-W", px(zone.right-zone.left), "-H", px(zone.bottom-zone.top), "-")
	cmd.Stdin = bytes.NewReader(pdf)
	out, err := cmd.Output()
	require.NoError(t, err, "pdftoppm (poppler-utils) must be installed")
	head := bytes.SplitN(out, []byte("\n"), 4)
	require.Len(t, head, 4)
	size := strings.Fields(string(head[1]))
	w, err := strconv.Atoi(size[0])
	require.NoError(t, err)
	h, err := strconv.Atoi(size[1])
	require.NoError(t, err)
	return picture{w, h, head[3]}
}

// count is the number of pixels darker than a grey.
func count(p picture, below byte) int {
	n := 0
	for _, g := range p.grey {
		if g < below {
			n++
		}
	}
	return n
}

// inkHeight is the height of the first unbroken run of rows with dark pixels, in pixels.
func inkHeight(p picture) int {
	height := 0
	for y := range p.h {
		dark := count(picture{p.w, 1, p.grey[y*p.w : (y+1)*p.w]}, 128) > 0
		if dark {
			height++
		} else if height > 0 {
			return height
		}
	}
	return height
}

// Heights measured on the page as another program draws it, at 1200 dots per inch: the lower-case o of the net quantity
// and of the ingredients, and the lowest digits, are at least as tall as asked and at most a tenth taller.
func TestHeightsAsDrawn(t *testing.T) {
	const dpi = 1200
	l := invented()
	l.Net = "ooo"
	l.Ingredients = "ooo ooo"
	pdf, err := Draw(l)
	require.NoError(t, err)
	_, front, _, back := DefaultBand.place()
	mm := func(px int) float64 { return float64(px) * 25.4 / dpi }
	const pixel = 25.4 / dpi
	net := render(t, pdf, dpi, box{front.x + 10, front.y + 0.71*front.h, front.x + front.w - 10, front.y + front.h - 4})
	require.InDelta(t, 3.175*1.05, mm(inkHeight(net)), 3.175*0.05+pixel)
	list := render(t, pdf, dpi, box{back.x + backMargin, back.y + 4.5, back.x + back.w - 10, back.y + 15})
	require.InDelta(t, 1.5875*1.05, mm(inkHeight(list)), 1.5875*0.05+pixel)

	l.Net = "1 0"
	pdf, err = Draw(l)
	require.NoError(t, err)
	digits := render(t, pdf, dpi, box{front.x + 10, front.y + 0.71*front.h, front.x + front.w - 10, front.y + front.h - 4})
	require.GreaterOrEqual(t, mm(inkHeight(digits)), 3.175)
}
