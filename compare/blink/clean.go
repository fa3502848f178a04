package blink

import (
	"math"
	"sort"
)

// Defaults of Known and limits of the search.
const (
	defaultStampStdS = 0.005
	defaultMinHz     = 0.25
	defaultMaxHz     = 3.5
	rateShare        = 0.85 // above this share of the reading rate a pace can't be told from a slow change
	minReadings      = 10
	leastWindowS     = 0.001 // an instantaneous reading is given this window, so that edges stay differentiable
	maxGrid          = 20000 // frequencies in one scan; a longer trace is cut
	maxReadings      = 100000
	modelRel         = 0.002 // model error, fraction of the step
)

// trace is cleaned readings, in time order, times relative to the middle.
type trace struct {
	t, y       []float64
	midS       float64 // what was subtracted from the stamps
	spanS      float64 // first to last stamp
	window     float64
	stampStd   float64
	noise      float64
	minHz      float64
	maxHz      float64
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
func newTrace(s []Sample, k Known) (*trace, string) {
	kept := make([]Sample, 0, len(s))
	for _, r := range s {
		if finite(r.AtS, r.Amps) && math.Abs(r.AtS) < 1e12 && math.Abs(r.Amps) < 1e6 {
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
	if len(kept) < minReadings {
		return nil, "fewer than 10 usable readings"
	}
	d.window = math.Min(math.Max(positive(k.WindowS, leastWindowS), leastWindowS), 3600)
	d.stampStd = math.Min(positive(k.StampStdS, defaultStampStdS), 60)
	d.minHz = math.Max(positive(k.MinHz, defaultMinHz), 1e-4)
	asked := positive(k.MaxHz, defaultMaxHz)
	for {
		d.spanS = kept[len(kept)-1].AtS - kept[0].AtS
		if d.spanS <= 0 || len(kept) < minReadings {
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
	// A noise below a millionth of the largest reading is beyond any meter here
	// and would only turn rounding into evidence.
	largest := math.Max(math.Abs(d.highest), math.Abs(d.mean))
	d.noise = math.Max(positive(k.NoiseA, guessNoise(d.y)), math.Max(1e-6*largest, 1e-12))
	d.flatMisfit = d.squares / (d.noise * d.noise)
	return d, ""
}

// guessNoise estimates the standard deviation of one reading where nobody
// stated it: the narrowest interval that holds a quarter of the readings is
// 1.35 standard deviations wide for two equally long levels and 0.64 for one.
// It's good to a factor of about 1.5 where the window is shorter than the
// flashes, and too large (so cautious) where it isn't.
func guessNoise(y []float64) float64 {
	v := append([]float64(nil), y...)
	sort.Float64s(v)
	step := max(len(v)/4, 2)
	best := math.Inf(1)
	for i := 0; i+step < len(v); i++ {
		best = math.Min(best, v[i+step]-v[i])
	}
	if !finite(best) {
		return 0
	}
	return best
}

// cycles returns how many periods the readings cover.
func (d *trace) cycles(hz float64) float64 {
	return (d.spanS + d.window) * hz
}
