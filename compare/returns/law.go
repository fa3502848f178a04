package returns

import (
	"math"

	"sealworthy/compare/linear"
)

// law is what a group as built follows, seen from its feed: v = zeroV + ohms i + slopeV ln(i / 1 A),
// its LEDs in series with a resistor, alike in all branches. The plan's own law has an ideality
// and a series resistance of its own; a group's have to be found, since how steep it is at its
// knee hangs on them, and with that how it answers to warmth, age and what lies before it.
type law struct{ zeroV, ohms, slopeV float64 }

// What a point of a curve is good for, standard deviations: they weigh the points only.
const (
	fitV       = 0.002
	fitRel     = 0.0005
	fitA       = 10e-6
	fitFrom    = 0.002 // of the highest draw; what lies below says more about the meter
	fewestFit  = 6     // points
	steepestV  = 1.5   // slopeV of a dozen LEDs in series
	leastSlope = 0.02
)

// lawOf fits the law to a curve: linear in its three figures. ok: it's one that LEDs and
// resistors can follow.
func lawOf(c Curve) (l law, ok bool) {
	top := len(c.Volts) - 1
	if top < fewestFit-1 || !(c.Amps[top] > 0) {
		return l, false
	}
	// A first guess of how steep it is at its top weighs the points.
	steep := math.Max(0, (c.Volts[top]-c.Volts[top-2])/(c.Amps[top]-c.Amps[top-2]))
	var g [9]float64
	var b [3]float64
	n := 0
	for i, a := range c.Amps {
		if !(a > fitFrom*c.Amps[top]) {
			continue
		}
		n++
		u := fitV + math.Hypot(fitRel*a, fitA)*(steep+0.1/a)
		x := [3]float64{1 / u, a / u, math.Log(a) / u}
		for j := range x {
			for k := range x {
				g[3*j+k] += x[j] * x[k]
			}
			b[j] += x[j] * c.Volts[i] / u
		}
	}
	if n < fewestFit || !linear.Solve(g[:], b[:], 3) {
		return l, false
	}
	l = law{b[0], b[1], b[2]}
	return l, finite(b[:]...) && l.ohms > 0 && l.slopeV > leastSlope && l.slopeV < steepestV
}

// amps solves it by Newton in ln i, from above: the volts are convex in it.
func (l law) amps(volts float64) float64 {
	if !(volts > 0) {
		return 0
	}
	most := math.Log((math.Abs(volts-l.zeroV) + 30*l.slopeV) / l.ohms)
	u := math.Min(most, (volts-l.zeroV)/l.slopeV)
	for range 60 {
		r := l.ohms * math.Exp(u)
		d := (r + l.slopeV*u + l.zeroV - volts) / (r + l.slopeV)
		if u -= math.Max(-3, math.Min(3, d)); math.Abs(d) < 1e-10 {
			break
		}
	}
	return math.Exp(u)
}

// over is what it draws at each of some voltages.
func (l law) over(volts []float64) []float64 {
	out := make([]float64, len(volts))
	for i, v := range volts {
		out[i] = l.amps(v)
	}
	return out
}
