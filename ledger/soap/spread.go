package soap

import "math"

// spread is the law of the equivalents of alkali less those that oils take, in units of what the oils take at
// their point values. The superfat is below x exactly when alkali > (1-x) oils. That is a linear sum of independent
// inputs, so its law follows without a normal approximation, which would be wrong in the tail when one wide
// range outweighs the rest.
type spread struct {
	superfat   float64
	oils       []float64 // half-widths of the rectangular saponification values
	alkalis    []float64 // half-widths of the rectangular purities
	oilMass    float64   // variance of all oil masses
	alkaliMass float64   // variance of all alkali masses
}

const (
	// reach is how many standard deviations of the law are looked at. A sum of rectangular and normal inputs lies
	// outside with a chance below 2 exp(-reach²/2), 3e-8.
	reach = 6
	// enough is where the terms of the series become too small to count.
	enough = 1e-7
	// maxTerms bounds the series. Only a single rectangular input needs so many; what is left out is then
	// below 1/(π² maxTerms), 1e-4.
	maxTerms = 1000
)

// below returns the chance that the superfat is below x, and about how fast it rises there.
//
// It inverts the characteristic function, a product of sin(at)/(at) for each rectangular half-width a and
// exp(-vt²/2) for the normal part, by the midpoint rule of R. B. Davies (Biometrika 1973, 60, 415; from memory). Its
// error is the chance of lying outside of ±2 limit from here, so a step of π/limit loses nothing.
func (s spread) below(x float64) (chance, density float64) {
	scale := math.Abs(1 - x)
	normal := scale*scale*s.oilMass + s.alkaliMass
	variance, sum := normal, 0.0
	add := func(widths []float64, scale float64) {
		for _, w := range widths {
			variance += scale * scale * w * w / 3
			sum += scale * w
		}
	}
	add(s.oils, scale)
	add(s.alkalis, 1)
	at, limit := x-s.superfat, math.Min(sum+reach*math.Sqrt(normal), reach*math.Sqrt(variance))
	switch {
	case at >= limit && at > 0:
		return 1, 0
	case at <= -limit:
		return 0, 0
	}
	step := math.Pi / limit
	waves := make([]wave, 0, 24) // the waves of a formula of twenty oils stay off the heap
	gather := func(widths []float64, scale float64) {
		for _, w := range widths {
			if angle := scale * w * step; angle > 1e-9 { // below, its factor stays 1 to the last term
				waves = append(waves, newWave(angle))
			}
		}
	}
	gather(s.oils, scale)
	gather(s.alkalis, 1)
	place := newWave(at * step)
	for k := range maxTerms {
		half := float64(k) + 0.5
		t := half * step
		phi, bound := characteristic(waves, half, math.Exp(-normal*t*t/2))
		sin, cos := place.next()
		chance += phi * sin / (math.Pi * half)
		density += phi * cos / limit
		if bound < enough {
			break
		}
	}
	return math.Min(1, math.Max(0, 0.5+chance)), density
}

// wave gives sine and cosine of half its angle, and of each further whole angle, by turning the last ones on: the series asks for
// nothing else, and this costs a fifth of computing them anew. Over the longest series rounding adds up to less than 1e-12.
type wave struct {
	angle            float64
	sin, cos         float64 // of the next place
	turnSin, turnCos float64 // of the angle
}

func newWave(angle float64) wave {
	w := wave{angle: angle}
	w.sin, w.cos = math.Sincos(angle / 2)
	w.turnSin, w.turnCos = math.Sincos(angle)
	return w
}

func (w *wave) next() (sin, cos float64) {
	sin, cos = w.sin, w.cos
	w.sin, w.cos = sin*w.turnCos+cos*w.turnSin, cos*w.turnCos-sin*w.turnSin
	return sin, cos
}

// characteristic returns the characteristic function at a place of the series, given its normal part, and a bound of its size from there on.
func characteristic(waves []wave, half, normal float64) (phi, bound float64) {
	phi, bound = normal, normal
	for i := range waves {
		w := &waves[i]
		a := half * w.angle
		sin, _ := w.next()
		factor := sin / a
		phi *= factor
		if a < 2 { // further on the factor never becomes larger again
			bound *= factor
		} else {
			bound /= a
		}
	}
	return phi, bound
}

// quantile returns the superfat below which the chance is as given: Newton's steps from a first guess, in terms of
// the distance from the point value, kept between ends far outside of the law.
func (s spread) quantile(chance, guess float64) float64 {
	low, high := s.superfat-20*math.Abs(guess), s.superfat+20*math.Abs(guess)
	x := s.superfat + guess
	for range 60 {
		got, density := s.below(x)
		if math.Abs(got-chance) < 1e-5 {
			break
		}
		if got < chance {
			low = x
		} else {
			high = x
		}
		x -= (got - chance) / density
		if !(x > low && x < high) { // also when the density is nil
			x = (low + high) / 2
		}
	}
	return x
}
