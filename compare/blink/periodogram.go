package blink

import (
	"fmt"
	"math"
)

type sums struct{ cos, sin float64 }

// sineSums correlates centred readings with a cosine and a sine.
func sineSums(t, y []float64, mean, hz, back float64) sums {
	var a sums
	for i, v := range y {
		sn, cs := math.Sincos(2 * math.Pi * hz * (t[i] - back))
		a.cos += (v - mean) * cs
		a.sin += (v - mean) * sn
	}
	return a
}

// Periodogram returns the Lomb-Scargle periodogram of the readings at the
// frequencies given, as the share of the variance that a sine of that frequency
// explains, 0 to 1. It's a picture of what is periodic in a trace and a
// cross-check of a fit; it knows nothing of windows, so it gives neither duty
// nor levels, and evenly spaced readings give it mirrors of the same height.
// At a frequency of zero, and for readings without variance, it's 0.
//
// Formula: Scargle, ApJ 263 (1982) 835, with the mean taken off first.
func Periodogram(s []Sample, hz []float64) ([]float64, error) {
	if len(s) < 3 {
		return nil, fmt.Errorf("a periodogram needs 3 readings, got %d", len(s))
	}
	mean := 0.0
	for i, r := range s {
		if !finite(r.AtS, r.Amps) {
			return nil, fmt.Errorf("reading %d isn't a number: leave it out", i+1)
		}
		mean += r.Amps / float64(len(s))
	}
	squares := 0.0
	for _, r := range s {
		squares += (r.Amps - mean) * (r.Amps - mean)
	}
	out := make([]float64, len(hz))
	for i, f := range hz {
		if !finite(f) || f < 0 {
			return nil, fmt.Errorf("frequency %d of the periodogram is %g Hz: give it 0 or more", i+1, f)
		}
		if f == 0 || !(squares > 0) {
			continue
		}
		w := 2 * math.Pi * f
		var s2, c2 float64
		for _, r := range s {
			sn, cs := math.Sincos(2 * w * (r.AtS - s[0].AtS))
			s2 += sn
			c2 += cs
		}
		delay := math.Atan2(s2, c2) / (2 * w)
		var yc, ys, cc, ss float64
		for _, r := range s {
			sn, cs := math.Sincos(w * (r.AtS - s[0].AtS - delay))
			v := r.Amps - mean
			yc += v * cs
			ys += v * sn
			cc += cs * cs
			ss += sn * sn
		}
		p := 0.0
		if cc > 1e-9 {
			p += yc * yc / cc
		}
		if ss > 1e-9 {
			p += ys * ys / ss
		}
		if p /= squares; finite(p) {
			out[i] = p
		}
	}
	return out, nil
}
