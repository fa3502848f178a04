package belief

import (
	"math"

	"sealworthy/compare/circuit"
)

// law is a branch as one lumped diode behind a resistor, as package circuit has it:
//
//	v = r (a - i0) + m ln(a/i0) + v0,  i = a - i0
//
// r and v0 hold the deviations of a trial besides what is written here. LEDs of
// unlike saturation current are lumped too: the error in current is that of the
// largest one, some nanoamperes for a protection diode.
type law struct {
	kind  lawKind
	ohms  float64 // resistor, nominal
	scale float64 // of the resistor with its deviation
	plus  float64 // in series with it
	leds  float64 // series resistance of the LEDs
	m, i0 float64
	logI0 float64
	base  float64 // shift that the parts themselves bring
	gone  []int   // LEDs whose own shift doesn't count: bridged, or turned round
}

type lawKind uint8

const (
	lawDead lawKind = iota
	lawOhmic
	lawDiode
)

// lawOf lumps a branch.
func lawOf(b circuit.Branch) law {
	l := law{kind: lawOhmic, ohms: b.Ohms, scale: 1}
	if b.Open {
		return law{}
	}
	sum := 0.0
	for k := range b.LEDs {
		led := &b.LEDs[k]
		d := &led.Diode
		switch led.State {
		case circuit.Open:
			return law{}
		case circuit.Shorted:
			l.gone = append(l.gone, k)
			continue
		case circuit.Reversed:
			if !(led.Reverse.SaturationA > 0) {
				return law{}
			}
			d = &led.Reverse
			l.gone = append(l.gone, k)
		}
		l.leds += d.SeriesOhm
		l.m += d.SlopeV
		l.base += d.ShiftV
		sum += d.SlopeV * math.Log(d.SaturationA)
	}
	if l.m > 0 {
		l.kind = lawDiode
		l.logI0 = sum / l.m
		l.i0 = math.Exp(l.logI0)
	}
	return l
}

// deviation is what a trial makes of one branch.
type deviation struct {
	ohms   float64 // of its resistor
	factor float64 // of its current; 1
	mLog   float64 // ln of the factor
	shift  float64 // of all its LEDs together, V
	shifts []float64
}

// at is the law with a deviation: total resistance and voltage shift.
func (l *law) at(d *deviation) (r, v0 float64) {
	r = l.ohms + d.ohms
	if r < 0 {
		r = 0
	}
	r = r*l.scale + l.plus + l.leds
	v0 = l.base + d.shift
	if d.factor != 1 {
		r /= d.factor
	}
	for _, k := range l.gone {
		v0 -= d.shifts[k]
	}
	if d.mLog != 0 {
		v0 -= l.m * d.mLog
	}
	return r, v0
}

// spot is an operating point to start from.
type spot struct{ a, w float64 }

// leastOhms keeps a branch without any resistance from an infinite current.
const leastOhms = 1e-3

// leastAmps and less is nothing.
const leastAmps = 1e-9

// solve finds the current at a voltage, from a spot nearby; it doesn't move the spot.
func (l *law) solve(volts, r, v0 float64, from spot) float64 {
	i, _ := l.point(volts, r, v0, from)
	return i
}

// point is solve that also gives the spot it ended at. Newton's steps are taken
// in the current, where the law is nearly straight; far from the root it starts
// anew from an upper bound, from which they can't miss (circuit.invert).
func (l *law) point(volts, r, v0 float64, from spot) (float64, spot) {
	e := volts - v0
	switch l.kind {
	case lawDead:
		return 0, from
	case lawOhmic:
		return math.Max(0, e) / math.Max(r, leastOhms), from
	}
	// Without its resistor the current would be i0 exp(e/m): below a nanoampere it is dark.
	if e < l.m*(darkLog-l.logI0) {
		return 0, from
	}
	if r < leastOhms {
		r = leastOhms
	}
	a, w := from.a, from.w
	anew := a <= 0
	if anew {
		a, w = l.upper(e, r)
	}
	for it := range 80 {
		x := (e - r*(a-l.i0) - l.m*w) / (r*a + l.m)
		switch {
		case x > -0.12 && x < 0.12:
			// ln(1+x) = 2 artanh(x/(2+x)); the error is below 1e-10.
			t := x / (2 + x)
			q := t * t
			w += 2 * t * (1 + q*(1.0/3+q*(1.0/5+q*(1.0/7))))
			a += a * x
			if x < 1e-5 && x > -1e-5 {
				return math.Max(0, a-l.i0), spot{a, w}
			}
		case !anew && x > -0.5 && x < 1 && it < 6:
			w += math.Log1p(x)
			a += a * x
		case !anew:
			anew = true
			a, w = l.upper(e, r)
		default:
			w += x
			a = l.i0 * math.Exp(w)
		}
	}
	return math.Max(0, a-l.i0), spot{a, w}
}

// darkLog is ln of leastAmps.
var darkLog = math.Log(leastAmps)

// upper is a start above the root.
func (l *law) upper(e, r float64) (a, w float64) {
	w = e / l.m
	if e > 0 {
		w = math.Min(w, math.Log1p(e/(r*l.i0)))
	}
	return l.i0 * math.Exp(w), w
}

// slope is di/dv and d2i/dv2 at a current.
func (l *law) slope(i, r float64) (g, curve float64) {
	switch l.kind {
	case lawDead:
		return 0, 0
	case lawOhmic:
		return 1 / math.Max(r, leastOhms), 0
	}
	a := i + l.i0
	den := r*a + l.m
	return a / den, a * l.m / (den * den * den)
}
