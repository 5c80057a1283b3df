package pages

import (
	"encoding/xml"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"ashbook/labels/chart"
)

// A drawing is well-formed, says what it shows in words, keeps what people typed as words, and brings no style of its own,
// which the pages' policy would refuse.
func TestDrawing(t *testing.T) {
	c := chart.Chart{X: "days", Y: "g", Points: []chart.Series{{Name: `<b>"A" & co</b>`, Points: []chart.Point{{X: 0, Y: 100}, {X: 7, Y: 95}}}},
		Curve: []chart.Point{{X: 0, Y: 100}, {X: 10, Y: 94}}, Band: []chart.Span{{X: 0, Low: 99, High: 101}, {X: 10, Low: 92, High: 96}},
		Limits: []chart.Limit{{At: 5, Upright: true, Label: "day 5"}}}
	drawn := string(Drawing("cure", "Cure of <batch>", "Two weighings & a curve", c))
	var texts []string
	names := map[string]int{}
	in := ""
	for dec := xml.NewDecoder(strings.NewReader(drawn)); ; {
		token, err := dec.Token()
		if err == io.EOF {
			break
		}
		require.NoError(t, err, drawn)
		switch token := token.(type) {
		case xml.StartElement:
			in = token.Name.Local
			names[in]++
			for _, a := range token.Attr {
				require.NotEqual(t, "style", a.Name.Local)
				require.NotContains(t, a.Value, "NaN")
			}
			if in == "svg" {
				require.Contains(t, token.Attr, xml.Attr{Name: xml.Name{Local: "role"}, Value: "img"})
				own := "cure-" + []string{"wide", "narrow"}[names[in]-1]
				require.Contains(t, token.Attr, xml.Attr{Name: xml.Name{Local: "aria-labelledby"}, Value: own + "-title " + own + "-desc"})
			}
		case xml.CharData:
			texts = append(texts, in+": "+string(token))
		}
	}
	require.Subset(t, texts, []string{"title: Cure of <batch>", "desc: Two weighings & a curve", `text: <b>"A" & co</b>`, "text: day 5"})
	require.Zero(t, names["b"])
	require.Equal(t, 2, names["svg"], "one for wide pages, one for narrow ones")
	require.Equal(t, 2*(1+3), names["polygon"], "in each the band, two marks, and one in the legend")
}

// Every class that a drawing uses is in the style sheet.
func TestDrawingIsStyled(t *testing.T) {
	css, err := static.ReadFile("static/ashbook.css")
	require.NoError(t, err)
	for _, class := range []string{".chart ", ".chart-wide", ".chart-narrow", ".chart-text", ".chart-filled", ".chart-dashed", ".chart-" + string(chart.Ink), ".chart-" + string(chart.Band), ".chart-" + string(chart.Grid), ".chart-" + string(chart.Mark)} {
		require.Contains(t, string(css), class)
	}
}

func TestPlaceIsShort(t *testing.T) {
	for x, want := range map[float64]string{720: "720", 0.5: "0.5", 12.345: "12.35", 0: "0", -3.1: "-3.1"} {
		require.Equal(t, want, place(x))
	}
}
