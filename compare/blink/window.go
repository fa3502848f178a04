package blink

import (
	"fmt"
	"math"
)

// Window finds the averaging time of a meter from a slow blink: with lit and
// dark time both longer than twice the window, the ramp between the levels is
// as wide as the window. Known.WindowS is only where the search starts; 0
// stands for the spacing of the readings. The window and a shorter flash can't
// be told apart, so a faster blink is refused. Take ten periods or more, at a
// spacing that is no simple share of the period.
func Window(s []Sample, k Known) MeasuredWindow {
	d, why := newTrace(s, k, leastFree)
	if d == nil {
		return MeasuredWindow{Why: why}
	}
	spacing := d.spanS / float64(len(d.t)-1)
	guess := math.Min(positive(k.WindowS, spacing), mostWindowS/10)
	var best, bestWindow = solution{m2l: math.Inf(1)}, 0.0
	at := func(window float64) solution {
		d.window = math.Min(math.Max(window, leastWindowS), mostWindowS)
		q := newSearch(d)
		sols := q.rectangles()
		if len(sols) == 0 {
			return solution{m2l: math.Inf(1)}
		}
		return sols[0]
	}
	// Far off, the period is found all the same: look wide first.
	for _, share := range []float64{1, 0.1, 0.25, 0.5, 1.5, 2, 3} {
		if r := at(guess * share); r.m2l < best.m2l {
			best, bestWindow = r, guess*share
		}
	}
	if !finite(best.m2l) || d.gain(best.m2l, best.chi2) < steadyGain {
		return MeasuredWindow{Why: "it doesn't blink at a pace that can be found"}
	}
	d.window = bestWindow
	q := newSearch(d)
	misfit := func(window float64) float64 {
		d.window = math.Min(math.Max(window, leastWindowS), mostWindowS)
		q.fit.window = d.window
		q.fit.set(q.part(best.m, best.p))
		q.fit.flatWeights()
		q.fit.respond(-1)
		q.fit.solveLevels()
		q.fit.descend(4, 0.02)
		m2l, _ := q.fit.polish(3)
		return m2l
	}
	window, low := golden(misfit, bestWindow/4, bestWindow*2.5)
	misfit(window)
	rise := d.scale(q.polish(q.fit.parts[0].model, q.fit.parts[0].p).chi)
	u := 0.0
	for _, side := range []float64{-1, 1} {
		step := window / 100
		for i := 0; i < 9 && window+side*step > leastWindowS && misfit(window+side*step)-low < 4*rise; i++ {
			step *= 2
		}
		u = math.Max(u, step/2)
	}
	known := k
	known.WindowS = window
	out := MeasuredWindow{WindowS: window, U: u, Fit: Pace(s, known)}
	f := &out.Fit
	lit, dark := f.Duty*f.PeriodS, (1-f.Duty)*f.PeriodS
	switch {
	case f.Verdict != Periodic || f.Shape != Flashes || f.Count != 1:
		out.Why = "no single flash fits: " + f.Verdict.String()
	case lit < 2*(window+u) || dark < 2*(window+u):
		out.Why = fmt.Sprintf("it blinks too fast: lit and dark must each be longer than %.2g s", 2*(window+u))
	case u > 0.2*window:
		out.Why = "the window is known too loosely: read for longer"
	default:
		out.Found = true
		out.Why = "the ramps between lit and dark are as wide as the window"
	}
	return out
}

// golden minimises f between a and b by golden sections after a look at a grid.
func golden(f func(float64) float64, a, b float64) (x, least float64) {
	const parts = 16
	x, least = a, math.Inf(1)
	for i := range parts + 1 {
		at := a + (b-a)*float64(i)/parts
		if v := f(at); v < least {
			x, least = at, v
		}
	}
	lo, hi := math.Max(a, x-(b-a)/parts), math.Min(b, x+(b-a)/parts)
	const ratio = 0.6180339887498949
	c, d := hi-ratio*(hi-lo), lo+ratio*(hi-lo)
	fc, fd := f(c), f(d)
	for range 18 {
		if fc < fd {
			hi, d, fd = d, c, fc
			c = hi - ratio*(hi-lo)
			fc = f(c)
		} else {
			lo, c, fc = c, d, fd
			d = lo + ratio*(hi-lo)
			fd = f(d)
		}
	}
	if fc < least {
		x, least = c, fc
	}
	if fd < least {
		x, least = d, fd
	}
	return x, least
}
