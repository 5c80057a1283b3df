package chart

import (
	"math"
	"strconv"
	"unicode/utf8"
)

// scale is one axis: from, to, and the step between its marks.
type scale struct{ from, to, step float64 }

// marked widens a scale to whole steps of 1, 2 or 5 times a power of ten, with no more than about most marks.
func (s scale) marked(most int) scale {
	span := s.to - s.from
	if !(span > 1e-9*max(math.Abs(s.from), math.Abs(s.to), 1e-3)) { // a single figure
		half := max(math.Abs(s.from)*0.05, 0.5)
		s.from, s.to, span = s.from-half, s.to+half, 2*half
	}
	rough := span / float64(max(most, 2))
	ten := math.Pow(10, math.Floor(math.Log10(rough)))
	s.step = 10 * ten
	for _, nice := range []float64{1, 2, 5} {
		if nice*ten >= rough {
			s.step = nice * ten
			break
		}
	}
	s.from, s.to = s.step*math.Floor(s.from/s.step+1e-9), s.step*math.Ceil(s.to/s.step-1e-9)
	return s
}

// share is how far along the axis a figure lies.
func (s scale) share(v float64) float64 { return (v - s.from) / (s.to - s.from) }

func (s scale) ticks() []float64 {
	var out []float64
	n := int(math.Round((s.to - s.from) / s.step))
	for i := range n + 1 {
		out = append(out, s.from+float64(i)*s.step)
	}
	return out
}

// words writes a figure with the decimals that the step has.
func (s scale) words(v float64) string {
	places := max(0, int(-math.Floor(math.Log10(s.step)+1e-9)))
	text := strconv.FormatFloat(v, 'f', places, 64)
	if zero, err := strconv.ParseFloat(text, 64); err == nil && zero == 0 {
		return strconv.FormatFloat(0, 'f', places, 64) // never minus nought
	}
	return text
}

// wide is about how wide words are: most letters of most faces take less than 0.6 of their height.
func wide(words string, letter float64) float64 {
	return 0.6 * letter * float64(utf8.RuneCountInString(words))
}
