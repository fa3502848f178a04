package blink

import (
	"fmt"
	"math"
	"sort"
)

// Defaults of Known and limits of the search.
const (
	defaultStampStdS = 0.005
	defaultMinHz     = 0.25
	defaultMaxHz     = 3.5
	rateShare        = 0.85  // above this share of the reading rate a pace can't be told from a slow change
	leastFree        = 10    // readings for a free fit
	leastMatch       = 7     // for a comparison with an expected pace
	leastWindowS     = 0.001 // an instantaneous reading is given this window, so that edges stay differentiable
	mostWindowS      = 3600
	maxGrid          = 20000 // frequencies in one scan; a longer trace is cut
	maxReadings      = 100000
	mostAmps         = 1e6   // beyond, it's no current
	modelRel         = 0.002 // model error, fraction of the step
)

// trace is cleaned readings, in time order, times relative to the middle.
type trace struct {
	t, y       []float64
	midS       float64 // what was subtracted from the stamps
	spanS      float64 // first to last stamp
	window     float64
	windowRelU float64
	stampStd   float64
	noise      float64
	noiseKnown bool
	minHz      float64
	maxHz      float64
	mirrorHz   float64 // a mirror of a pace is believed up to here
	mean       float64
	squares    float64 // sum of squares about the mean
	flatMisfit float64 // chi-square of a constant
	highest    float64
	dropped    int
}

func finite(x ...float64) bool {
	for _, v := range x {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// positive returns v if it's finite and above zero, else the default.
func positive(v, otherwise float64) float64 {
	if finite(v) && v > 0 {
		return v
	}
	return otherwise
}

// newTrace sorts the readings, drops what can't be used (not finite, absurd,
// a second reading of the same instant) and fills in defaults. It returns nil
// and a reason when too little is left.
func newTrace(s []Sample, k Known, least int) (*trace, string) {
	kept := make([]Sample, 0, len(s))
	for _, r := range s {
		if finite(r.AtS, r.Amps) && math.Abs(r.AtS) < 1e12 && math.Abs(r.Amps) < mostAmps {
			kept = append(kept, r)
		}
	}
	sort.SliceStable(kept, func(i, j int) bool { return kept[i].AtS < kept[j].AtS })
	n := 0
	for i, r := range kept {
		if i > 0 && r.AtS == kept[n-1].AtS {
			continue
		}
		kept[n] = r
		n++
	}
	kept = kept[:min(n, maxReadings)]
	d := &trace{dropped: len(s) - n}
	if len(kept) < least {
		return nil, fmt.Sprintf("%d usable readings, at least %d are needed", len(kept), least)
	}
	d.window = math.Min(math.Max(positive(k.WindowS, leastWindowS), leastWindowS), mostWindowS)
	d.windowRelU = math.Min(positive(k.WindowRelU, 0), 1)
	d.stampStd = math.Min(positive(k.StampStdS, defaultStampStdS), 60)
	d.minHz = math.Min(math.Max(positive(k.MinHz, defaultMinHz), 1e-4), 1e4)
	asked := math.Min(positive(k.MaxHz, defaultMaxHz), 1e4)
	d.mirrorHz = asked
	for {
		d.spanS = kept[len(kept)-1].AtS - kept[0].AtS
		if d.spanS <= 0 || len(kept) < least {
			return nil, "the readings cover no time"
		}
		rate := float64(len(kept)-1) / d.spanS
		d.maxHz = math.Min(asked, rateShare*rate)
		if (d.maxHz-d.minHz)*5*d.spanS <= maxGrid {
			break
		}
		kept = kept[:len(kept)*3/4]
	}
	d.midS = kept[0].AtS + d.spanS/2
	d.t = make([]float64, len(kept))
	d.y = make([]float64, len(kept))
	for i, r := range kept {
		d.t[i], d.y[i] = r.AtS-d.midS, r.Amps
		d.mean += r.Amps
		d.highest = math.Max(d.highest, r.Amps)
	}
	d.mean /= float64(len(kept))
	for _, y := range d.y {
		d.squares += (y - d.mean) * (y - d.mean)
	}
	d.noise = math.Min(positive(k.NoiseA, 0), mostAmps)
	d.noiseKnown = d.noise > 0
	if !d.noiseKnown {
		d.noise = guessNoise(d.y)
	}
	// A noise below a millionth of the largest reading is beyond any meter here
	// and would only turn rounding into evidence.
	largest := math.Max(math.Abs(d.highest), math.Abs(d.mean))
	d.noise = math.Max(d.noise, math.Max(1e-6*largest, 1e-12))
	d.flatMisfit = d.squares / (d.noise * d.noise)
	return d, ""
}

// guessNoise estimates the standard deviation of one reading where nobody
// stated it: the narrowest interval that holds a quarter of the readings is
// 0.64 standard deviations wide for one level and 1.35 for two that are
// equally often read. It's rather too large than too small, so a verdict
// errs towards "can't tell". A meter's own reading error and resolution bound
// it from below at 0.3 % of the span of the readings and 0.02 % of the largest.
func guessNoise(y []float64) float64 {
	v := append([]float64(nil), y...)
	sort.Float64s(v)
	n := len(v)
	step := max(n/4, 2)
	narrow := math.Inf(1)
	for i := 0; i+step < n; i++ {
		narrow = math.Min(narrow, v[i+step]-v[i])
	}
	guess := narrow / 0.64 // low for few readings: hence the wide limit below
	if n <= step {
		guess = 0
	}
	mean, squares := 0.0, 0.0
	for _, x := range v {
		mean += x / float64(n)
	}
	for _, x := range v {
		squares += (x - mean) * (x - mean)
	}
	if sd := math.Sqrt(squares / float64(n-1)); sd < 4*guess {
		return sd // one level, or no level at all
	}
	largest := math.Max(math.Abs(v[0]), math.Abs(v[n-1]))
	return math.Max(guess, math.Max(0.003*(v[n-1]-v[0]), 2e-4*largest))
}

// cycles returns how many periods the readings cover.
func (d *trace) cycles(hz float64) float64 {
	return (d.spanS + d.window) * hz
}
