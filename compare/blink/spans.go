package blink

import "math"

// LitOf is the part of the window from x-w to x in which something is lit that is
// lit in spans of each period; all in periods. A window of 0 sees a moment.
func LitOf(spans [][2]float64, x, w float64) float64 {
	sum := 0.0
	for _, s := range spans {
		d := s[1] - s[0]
		upTo := func(x float64) float64 {
			whole := math.Floor(x)
			return d*whole + math.Min(x-whole, d)
		}
		at := x - s[0]
		if w <= 0 {
			if at-math.Floor(at) < d {
				sum++
			}
			continue
		}
		sum += (upTo(at) - upTo(at-w)) / w
	}
	return sum
}
