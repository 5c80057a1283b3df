// Package chart turns series of figures into lines, outlines and words at places, for whatever draws them: a page or a sheet of
// paper. It knows no colours, only what each shape is for, and every difference shows in black and white: a mark by its form,
// a limit by its dashes, a band by being filled.
package chart

import (
	"math"
	"slices"
)

// Point is a place: in the units of the axes, or in those of the drawing with y downwards.
type Point struct{ X, Y float64 }

// Span is what lies between two figures at X.
type Span struct{ X, Low, High float64 }

// Series are points that belong together, with the name that the legend gives them.
type Series struct {
	Name   string
	Points []Point
}

// Limit is a line right across the chart.
type Limit struct {
	At      float64
	Upright bool // at a place of the x axis; otherwise of the y axis
	Label   string
}

// Chart is what is to be drawn. Any part may be empty; figures that are not finite are left out.
type Chart struct {
	X, Y   string   // what the axes show, with the unit
	Points []Series // told apart by their marks
	Curve  []Point  // a line through places in the order of x
	Band   []Span   // an outline about the curve, in the order of x
	Limits []Limit
	Odd    []Point // places of points that are pointed at: each gets a ring
	Names  Names
}

// Names are what the legend calls the curve, the band and the rings; an empty name has no place in it.
type Names struct{ Curve, Band, Odd string }

// Role says what a shape is for; who draws gives it a colour.
type Role string

// The roles.
const (
	Ink  Role = "ink"  // axes, words, the curve, limits
	Band Role = "band" // filled, behind everything
	Grid Role = "grid" // thin
	Mark Role = "mark" // a measured point
)

// Kind is the form of a shape.
type Kind string

// The forms.
const (
	Line    Kind = "line"    // open, through all its points
	Polygon Kind = "polygon" // closed
	Text    Kind = "text"    // words at its one point, which is on their base line
)

// Anchor says which part of the words stands at the point.
type Anchor string

// The anchors.
const (
	Start  Anchor = "start"
	Middle Anchor = "middle"
	End    Anchor = "end"
)

// Shape is one thing to draw, after those before it.
type Shape struct {
	Kind   Kind
	Role   Role
	Points []Point
	Width  float64 // of the line; zero: no outline
	Filled bool
	Dashed bool

	Words  string
	Anchor Anchor
	Size   float64 // height of the letters
}

// Shapes lays the chart out in a drawing of a width and a height, with letters of a height, all in one unit of length; y runs
// downwards. The same chart gives the same shapes.
func (c Chart) Shapes(width, height, letter float64) []Shape {
	p := c.plan(width, height, letter)
	shapes := p.band(c.Band)
	shapes = append(shapes, p.axes(c)...)
	for i, l := range c.Limits {
		shapes = append(shapes, p.limit(l, i)...)
	}
	if curve := p.places(c.Curve); len(curve) > 1 {
		shapes = append(shapes, Shape{Kind: Line, Role: Ink, Points: curve, Width: letter * 0.14})
	}
	for i, s := range c.Points {
		for _, at := range p.places(s.Points) {
			shapes = append(shapes, mark(i, at, letter))
		}
	}
	for _, at := range p.places(c.Odd) {
		shapes = append(shapes, ring(at, letter))
	}
	return append(shapes, p.legend(c)...)
}

// plan is where things go: the corners of the field inside the axes, and what the axes run over.
type plan struct {
	left, right, top, bottom float64
	x, y                     scale
	letter                   float64
}

func (c Chart) plan(width, height, letter float64) plan {
	p := plan{letter: letter, right: width - letter, x: c.extent(true), y: c.extent(false)}
	p.top = letter * (2 + legendRow*float64(rows(c.entries(), width-2*letter, letter)))
	p.bottom = max(height-letter*3.6, p.top+letter)
	p.y = p.y.marked(int((p.bottom - p.top) / (2.5 * letter)))
	widest := 0.0
	for _, v := range p.y.ticks() {
		widest = max(widest, wide(p.y.words(v), letter))
	}
	p.left = min(widest+letter*1.2, p.right-letter)
	p.x = p.x.marked(int((p.right - p.left) / (4 * letter)))
	return p
}

// extent is what an axis has to hold.
func (c Chart) extent(upright bool) scale {
	var all []float64
	add := func(at Point) {
		v := at.Y
		if upright {
			v = at.X
		}
		if at.finite() {
			all = append(all, v)
		}
	}
	for _, s := range c.Points {
		for _, at := range s.Points {
			add(at)
		}
	}
	for _, at := range slices.Concat(c.Curve, c.Odd) {
		add(at)
	}
	for _, s := range c.Band {
		add(Point{s.X, s.Low})
		add(Point{s.X, s.High})
	}
	for _, l := range c.Limits {
		if l.Upright == upright {
			add(Point{l.At, l.At})
		}
	}
	if len(all) == 0 {
		return scale{0, 1, 1}
	}
	return scale{from: slices.Min(all), to: slices.Max(all)}
}

// at is where a point goes in the drawing.
func (p plan) at(v Point) Point {
	return Point{p.left + p.x.share(v.X)*(p.right-p.left), p.bottom - p.y.share(v.Y)*(p.bottom-p.top)}
}

func (p plan) places(points []Point) []Point {
	var out []Point
	for _, v := range points {
		if v.finite() {
			out = append(out, p.at(v))
		}
	}
	return out
}

// finite leaves out figures too large to reckon with, too.
func (v Point) finite() bool { return math.Abs(v.X) < 1e15 && math.Abs(v.Y) < 1e15 }

func (p plan) band(spans []Span) []Shape {
	var low, high []Point
	for _, s := range spans {
		if a, b := (Point{s.X, s.Low}), (Point{s.X, s.High}); a.finite() && b.finite() {
			low, high = append(low, p.at(a)), append(high, p.at(b))
		}
	}
	if len(low) < 2 {
		return nil
	}
	slices.Reverse(high)
	return []Shape{{Kind: Polygon, Role: Band, Points: append(low, high...), Filled: true}}
}

func (p plan) axes(c Chart) []Shape {
	var out []Shape
	thin := p.letter * 0.05
	for _, v := range p.x.ticks() {
		at := p.at(Point{v, p.y.from})
		out = append(out, Shape{Kind: Line, Role: Grid, Points: []Point{{at.X, p.top}, {at.X, p.bottom}}, Width: thin},
			p.words(Point{at.X, p.bottom + 1.3*p.letter}, Middle, p.x.words(v)))
	}
	for _, v := range p.y.ticks() {
		at := p.at(Point{p.x.from, v})
		out = append(out, Shape{Kind: Line, Role: Grid, Points: []Point{{p.left, at.Y}, {p.right, at.Y}}, Width: thin},
			p.words(Point{p.left - 0.5*p.letter, at.Y + 0.35*p.letter}, End, p.y.words(v)))
	}
	frame := Shape{Kind: Line, Role: Ink, Points: []Point{{p.left, p.top}, {p.left, p.bottom}, {p.right, p.bottom}}, Width: 2 * thin}
	return append(out, frame, p.words(Point{p.right, p.bottom + 2.9*p.letter}, End, c.X), p.words(Point{0.2 * p.letter, p.top - 0.8*p.letter}, Start, c.Y))
}

// limit draws its line, with its words above it at the right end, or beside its top on the side that has more room; there each has a row of its own,
// by its place among the limits.
func (p plan) limit(l Limit, place int) []Shape {
	if !(Point{l.At, l.At}).finite() {
		return nil
	}
	at := p.at(Point{l.At, l.At})
	line := Shape{Kind: Line, Role: Ink, Width: p.letter * 0.1, Dashed: true, Points: []Point{{p.left, at.Y}, {p.right, at.Y}}}
	words := p.words(Point{p.right, at.Y - 0.4*p.letter}, End, l.Label)
	if l.Upright {
		line.Points = []Point{{at.X, p.top}, {at.X, p.bottom}}
		row := min(p.top+p.letter*(1+1.3*float64(place)), p.bottom)
		words = p.words(Point{at.X + 0.4*p.letter, row}, Start, l.Label)
		if at.X-p.left > p.right-at.X {
			words = p.words(Point{at.X - 0.4*p.letter, row}, End, l.Label)
		}
	}
	return []Shape{line, words}
}

func (p plan) words(at Point, anchor Anchor, words string) Shape {
	return Shape{Kind: Text, Role: Ink, Points: []Point{at}, Words: words, Anchor: anchor, Size: p.letter}
}
