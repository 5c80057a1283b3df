package sheet

import (
	"fmt"

	"github.com/shopspring/decimal"
)

// Band is the size of the paper band, in millimetres. It wraps round the long way of a bar: front, side, back, side.
type Band struct {
	FrontW, FrontH float64 // the front and back panels: the bar's large face
	Side           float64 // the width of the two side panels: the bar's thickness
	Flap           float64 // the strip that is glued under the first side
}

// DefaultBand fits a bar of 90 x 60 x 25 mm.
var DefaultBand = Band{FrontW: 90, FrontH: 60, Side: 25, Flap: 12}

// The page is what A4 (297 x 210) and US Letter (279.4 x 215.9), both lying, have in common, so that either paper takes
// it at full size.
const (
	pageW = 279.0
	pageH = 210.0
	// markRoom is what crop marks need on every side of the band.
	markRoom = 9.0
	// textRoom is what the words above and below the band need.
	textRoom = 34.0
)

// check refuses a band that no bar has or that does not fit the page.
func (b Band) check() error {
	if b.FrontW < 40 || b.FrontH < 30 || b.Side < 10 || b.Flap < 5 {
		return fmt.Errorf("draw label: a band of %.0f x %.0f mm with sides of %.0f and a flap of %.0f mm is too small; at least 40 x 30, 10 and 5 mm", b.FrontW, b.FrontH, b.Side, b.Flap)
	}
	if over := b.length() + 2*markRoom - pageW; over > 0 {
		return fmt.Errorf("draw label: the band is %.1f mm too long for A4 and US Letter; make the band for a smaller bar", over)
	}
	if over := b.FrontH + 2*textRoom - pageH; over > 0 {
		return fmt.Errorf("draw label: the band is %.1f mm too tall for A4 and US Letter; make the band for a smaller bar", over)
	}
	return nil
}

// length is the whole strip of paper.
func (b Band) length() float64 { return 2*b.FrontW + 2*b.Side + b.Flap }

// FrontAreaSqIn is the area of the principal display panel in square inches, the whole side of the package
// (16 CFR 500.21(a) [retrieved]), rounded up to a thousandth so that the type is never too small for it.
func (b Band) FrontAreaSqIn() decimal.Decimal {
	inch := decimal.RequireFromString("25.4")
	mm := decimal.NewFromFloat(b.FrontW).Mul(decimal.NewFromFloat(b.FrontH))
	return mm.Div(inch.Mul(inch)).RoundUp(3)
}

// panel is one face of the band. Blocks are placed in its own frame: from its left upper corner, to the right and
// downwards; a turned panel reads from the bottom of the band to its top.
type panel struct {
	name   string
	x, y   float64 // left upper corner on the page
	w, h   float64 // in its own frame
	turned bool
	washed bool // on a pale ground
	blocks []block
	curves []curve
}

// place puts an empty band on the page: first side, front, second side, back. The flap follows the back.
func (b Band) place() (spine, front, code, back *panel) {
	x, y := (pageW-b.length())/2, (pageH-b.FrontH)/2-5
	spine = &panel{name: "first side", x: x, y: y, w: b.FrontH, h: b.Side, turned: true, washed: true}
	x += b.Side
	front = &panel{name: "front panel", x: x, y: y, w: b.FrontW, h: b.FrontH}
	x += b.FrontW
	code = &panel{name: "second side", x: x, y: y, w: b.FrontH, h: b.Side, turned: true, washed: true}
	x += b.Side
	back = &panel{name: "back panel", x: x, y: y, w: b.FrontW, h: b.FrontH}
	return spine, front, code, back
}
