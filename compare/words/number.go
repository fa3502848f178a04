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
	places := 2
	switch {
	case u > 0 && !math.IsInf(u, 0):
		// One digit of u, two when it begins with 1: more would be read as precision.
		e := math.Floor(math.Log10(u))
		places = int(-e)
		if u/math.Pow(10, e) < 2 {
			places++
		}
	case math.Abs(x) >= 100:
		places = 0
	case math.Abs(x) >= 10:
		places = 1
	}
	places = min(max(places, 0), 4)
	s := strconv.FormatFloat(x, 'f', places, 64)
	if z := strconv.FormatFloat(0, 'f', places, 64); s == "-"+z {
		return z
	}
	return s
}

// MilliampBand writes a band: "35.1 to 43.2 mA".
func MilliampBand(lowA, highA float64) string {
	u := (highA - lowA) / 4
	return fmt.Sprintf("%s to %s mA", Number(lowA*1e3, u*1e3), Number(highA*1e3, u*1e3))
}
