package chart

import "math"

// corners of a mark, from its middle, by series: a filled square, an open diamond, a filled triangle, an open square, a filled
// diamond, an open triangle; then over again. They differ in form, not only in colour.
var corners = [][]Point{
	{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}},
	{{0, -1.4}, {1.4, 0}, {0, 1.4}, {-1.4, 0}},
	{{0, -1.3}, {1.3, 1}, {-1.3, 1}},
}

func mark(series int, at Point, letter float64) Shape {
	form := corners[series%len(corners)]
	s := Shape{Kind: Polygon, Role: Mark, Width: letter * 0.12, Filled: series%2 == 0}
	for _, c := range form {
		s.Points = append(s.Points, Point{at.X + c.X*letter*0.27, at.Y + c.Y*letter*0.27})
	}
	return s
}

// ring is a circle of twenty-four corners.
func ring(at Point, letter float64) Shape {
	s := Shape{Kind: Polygon, Role: Ink, Width: letter * 0.12}
	for i := range 24 {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 24)
		s.Points = append(s.Points, Point{at.X + cos*letter*0.7, at.Y + sin*letter*0.7})
	}
	return s
}

const legendRow = 1.6 // heights of a letter from one row of the legend to the next

// entry is a name in the legend with what draws its sign about a place.
type entry struct {
	name string
	sign func(at Point, letter float64) Shape
}

func (c Chart) entries() []entry {
	var out []entry
	add := func(name string, sign func(Point, float64) Shape) {
		if name != "" {
			out = append(out, entry{name, sign})
		}
	}
	for i, s := range c.Points {
		add(s.Name, func(at Point, letter float64) Shape { return mark(i, at, letter) })
	}
	dash := func(at Point, l float64) []Point { return []Point{{at.X - 0.7*l, at.Y}, {at.X + 0.7*l, at.Y}} }
	add(c.Names.Curve, func(at Point, l float64) Shape {
		return Shape{Kind: Line, Role: Ink, Points: dash(at, l), Width: l * 0.14}
	})
	add(c.Names.Band, func(at Point, l float64) Shape {
		return Shape{Kind: Polygon, Role: Band, Filled: true, Points: []Point{{at.X - 0.7*l, at.Y - 0.4*l}, {at.X + 0.7*l, at.Y - 0.4*l}, {at.X + 0.7*l, at.Y + 0.4*l}, {at.X - 0.7*l, at.Y + 0.4*l}}}
	})
	if len(c.Odd) > 0 {
		add(c.Names.Odd, ring)
	}
	return out
}

// length is what an entry takes of a row.
func (e entry) length(letter float64) float64 { return wide(e.name, letter) + 3*letter }

// rows counts the rows that a legend takes.
func rows(entries []entry, width, letter float64) int {
	n := 0
	place(entries, width, letter, func(_ entry, row int, _ float64) { n = row + 1 })
	return n
}

// place goes through the entries in reading order, each with its row and where it begins.
func place(entries []entry, width, letter float64, do func(e entry, row int, x float64)) {
	row, x := 0, 0.0
	for _, e := range entries {
		if x > 0 && x+e.length(letter) > width {
			row, x = row+1, 0
		}
		do(e, row, x)
		x += e.length(letter)
	}
}

// legend stands above the field.
func (p plan) legend(c Chart) []Shape {
	var out []Shape
	place(c.entries(), p.right-p.letter, p.letter, func(e entry, row int, x float64) {
		at := Point{x + p.letter, p.letter * (0.8 + legendRow*float64(row))}
		out = append(out, e.sign(at, p.letter), p.words(Point{at.X + p.letter, at.Y + 0.35*p.letter}, Start, e.name))
	})
	return out
}
