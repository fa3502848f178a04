// Package words is how findings speak: numbers with no more digits than they carry,
// names in quotes, lists, and the sentences themselves.
package words

import (
	"fmt"
	"math"
	"strconv"
)

// Milliamps writes a current as a maker reads it, with no more digits than its
// standard uncertainty u carries: two digits of u decide the last place
// (JCGM 100:2008, 7.2.6). u of zero or less writes three digits.
func Milliamps(amps, u float64) string {
	return Number(amps*1e3, u*1e3) + " mA"
}

// Number writes x to the last place that u justifies.
func Number(x, u float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "?"
	}
	n := places(x, u)
	s := strconv.FormatFloat(x, 'f', n, 64)
	if z := strconv.FormatFloat(0, 'f', n, 64); s == "-"+z {
		return z
	}
	return s
}

// places are the decimals of x that u justifies.
func places(x, u float64) int {
	n := 2
	switch {
	case u > 0 && !math.IsInf(u, 0):
		// One digit of u, two when it begins with 1: more would be read as precision.
		e := math.Floor(math.Log10(u))
		n = int(-e)
		if u/math.Pow(10, e) < 2 {
			n++
		}
	case math.Abs(x) >= 100:
		n = 0
	case math.Abs(x) >= 10:
		n = 1
	}
	return min(max(n, 0), 4)
}

// MilliampBand writes a band, "35.1 to 43.2 mA", rounded outwards: what lies in it lies
// between the figures shown.
func MilliampBand(lowA, highA float64) string {
	return Band(lowA*1e3, highA*1e3) + " mA"
}

// Band writes a band, "35.1 to 43.2", rounded outwards as MilliampBand does.
func Band(low, high float64) string {
	u := (high - low) / 4
	outwards := func(x float64, round func(float64) float64) string {
		last := math.Pow(10, float64(places(x, u)))
		return Number(round(x*last)/last, u)
	}
	const exact = 1e-6 // a figure that is one already stays
	return fmt.Sprintf("%s to %s",
		outwards(low, func(x float64) float64 { return math.Floor(x + exact) }),
		outwards(high, func(x float64) float64 { return math.Ceil(x - exact) }))
}
