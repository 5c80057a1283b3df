package sheet

import (
	"bytes"
	"testing"

	"github.com/jung-kurt/gofpdf"
)

// BenchmarkDraw is a whole label: check, layout, ink.
func BenchmarkDraw(b *testing.B) {
	l := invented()
	for b.Loop() {
		if _, err := Draw(l); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkLayOut is the part of Draw that is ours: check and layout, without the PDF library.
func BenchmarkLayOut(b *testing.B) {
	set, err := loadFaces()
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		l, err := check(invented(), set)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := layOut(l, set); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkGofpdfAlone is the floor: the same texts in the same typefaces, drawn by the PDF library with its own line
// breaking and none of our layout. The library parses a typeface once for each document and cannot share it.
func BenchmarkGofpdfAlone(b *testing.B) {
	set, err := loadFaces()
	if err != nil {
		b.Fatal(err)
	}
	l := invented()
	for b.Loop() {
		pdf := gofpdf.New("L", "mm", "A4", "")
		for _, f := range []*face{set.display, set.italic, set.text, set.bold} {
			pdf.AddUTF8FontFromBytes(f.family, "", bytes.Clone(f.data))
		}
		pdf.AddPage()
		for _, part := range []struct {
			family string
			texts  []string
		}{
			{"display", []string{l.Product, l.Product}}, {"italic", []string{l.Identity}}, {"bold", []string{l.BatchCode, l.Maker[0]}},
			{"text", append([]string{l.Shop, l.Net, l.Ingredients, l.Origin, l.BestBefore, l.Footer, disclaimer}, append(l.Maker[1:], l.Cautions...)...)},
		} {
			pdf.SetFont(part.family, "", 9)
			for _, text := range part.texts {
				pdf.MultiCell(80, 4, text, "", "L", false)
			}
		}
		var out bytes.Buffer
		if err := pdf.Output(&out); err != nil {
			b.Fatal(err)
		}
	}
}
