package sheet

import "math"

// curve is one hairline: a cubic Bézier curve in a panel's frame, in millimetres.
type curve struct{ x0, y0, x1, y1, x2, y2, x3, y3 float64 }

// straight is a curve that goes straight.
func straight(x0, y0, x3, y3 float64) curve { return curve{x0, y0, x0, y0, x3, y3, x3, y3} }

// frame is a hairline frame whose corners are cut out in quarter circles, as on old paper labels.
func frame(w, h, inset float64) []curve {
	const r = 2.6          // of the corners
	const k = 0.5522847498 // of a Bézier quarter circle
	a, b, c, d := inset, inset, w-inset, h-inset
	return []curve{
		straight(a+r, b, c-r, b), straight(c, b+r, c, d-r), straight(c-r, d, a+r, d), straight(a, d-r, a, b+r),
		{a, b + r, a + k*r, b + r, a + r, b + k*r, a + r, b},
		{c - r, b, c - r, b + k*r, c - k*r, b + r, c, b + r},
		{c, d - r, c - k*r, d - r, c - r, d - k*r, c - r, d},
		{a + r, d, a + r, d - k*r, a + k*r, d - r, a, d - r},
	}
}

// sprigAt is an ash twig lying level, of a length, round a point: two feathered leaves that meet in the middle, each of
// opposite leaflets and one at the tip.
func sprigAt(x, y, length float64) []curve {
	var out []curve
	for _, side := range []float64{-1, 1} {
		out = append(out, ashLeaf(x+side*1.6, y, side*(length/2-1.6))...)
	}
	return append(out, leaflet(x, y+1.05, -math.Pi/2, 2.1, 0.36)...)
}

// ashLeaf is a stem that rises a little to its end, with pairs of leaflets. A negative length goes to the left.
func ashLeaf(x, y, length float64) []curve {
	const pairs = 4
	rise := -0.06 * math.Abs(length)
	out := []curve{{x, y, x + length/3, y, x + 2*length/3, y + rise*0.4, x + length*0.82, y + rise}}
	direction := 0.0
	if length < 0 {
		direction = math.Pi
	}
	turn := math.Copysign(1, length)
	for i := range pairs {
		t := 0.2 + 0.16*float64(i)
		px, py := x+length*t, y+rise*t*t*1.3
		size := 2.9 - 0.28*float64(i)
		out = append(out, leaflet(px, py, direction-turn*0.72, size, 0.22)...)
		out = append(out, leaflet(px, py, direction+turn*0.72, size, 0.22)...)
	}
	return append(out, leaflet(x+length*0.82, y+rise, direction-turn*0.1, 2.4, 0.22)...)
}

// leaflet is a pointed oval from a point in a direction (radians, clockwise from the right, as y goes down), as two
// curves; fat is its half width as a part of its length.
func leaflet(x, y, direction, length, fat float64) []curve {
	dx, dy := math.Cos(direction)*length, math.Sin(direction)*length
	nx, ny := -dy*fat, dx*fat
	tipX, tipY := x+dx, y+dy
	return []curve{
		{x, y, x + dx*0.25 + nx, y + dy*0.25 + ny, x + dx*0.75 + nx*0.8, y + dy*0.75 + ny*0.8, tipX, tipY},
		{x, y, x + dx*0.25 - nx, y + dy*0.25 - ny, x + dx*0.75 - nx*0.8, y + dy*0.75 - ny*0.8, tipX, tipY},
	}
}
