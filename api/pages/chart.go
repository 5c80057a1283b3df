package pages

import (
	"html/template"
	"strconv"
	"strings"

	"ashbook/labels/chart"
)

// How a chart is laid out on a page: the drawing then takes the width that its place has. A telephone gets one of its own, whose letters can
// still be read there; the style sheet shows the one that fits.
var chartSizes = []struct {
	name                  string
	width, height, letter float64
}{{"wide", 720, 400, 15}, {"narrow", 330, 360, 13}}

// Drawing is a chart as inline SVG, once for wide pages and once for narrow ones, with a title and a description in words for those who cannot
// see it. Colours come from the style sheet by class, since the pages allow no style of their own. id is unique on the page.
func Drawing(id, title, description string, c chart.Chart) template.HTML {
	var b strings.Builder
	for _, size := range chartSizes {
		own := template.HTMLEscapeString(id + "-" + size.name)
		b.WriteString(`<svg class="chart chart-` + size.name + `" role="img" aria-labelledby="` + own + `-title ` + own + `-desc" viewBox="0 0 ` + place(size.width) + ` ` + place(size.height) + `">`)
		b.WriteString(`<title id="` + own + `-title">` + template.HTMLEscapeString(title) + `</title>`)
		b.WriteString(`<desc id="` + own + `-desc">` + template.HTMLEscapeString(description) + `</desc>`)
		for _, s := range c.Shapes(size.width, size.height, size.letter) {
			shape(&b, s)
		}
		b.WriteString(`</svg>`)
	}
	return template.HTML(b.String()) // all words in it went through HTMLEscapeString; the rest is ours
}

func shape(b *strings.Builder, s chart.Shape) {
	if s.Kind == chart.Text {
		b.WriteString(`<text class="chart-text" x="` + place(s.Points[0].X) + `" y="` + place(s.Points[0].Y) + `" font-size="` + place(s.Size) + `" text-anchor="` + string(s.Anchor) + `">`)
		b.WriteString(template.HTMLEscapeString(s.Words) + `</text>`)
		return
	}
	name, class := "polyline", "chart-"+string(s.Role)
	if s.Kind == chart.Polygon {
		name = "polygon"
	}
	if s.Filled {
		class += " chart-filled"
	}
	if s.Dashed {
		class += " chart-dashed"
	}
	b.WriteString(`<` + name + ` class="` + class + `" stroke-width="` + place(s.Width) + `" points="`)
	for i, p := range s.Points {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(place(p.X) + "," + place(p.Y))
	}
	b.WriteString(`"/>`)
}

// place writes a length to the hundredth.
func place(x float64) string {
	return strings.TrimSuffix(strings.TrimRight(strconv.FormatFloat(x, 'f', 2, 64), "0"), ".")
}
