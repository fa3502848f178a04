package belief

import (
	"math"

	"sealworthy/compare/circuit"
)

// law is a branch as one lumped diode behind a resistor, as package circuit has it:
//
//	v = r (a - i0) + m ln(a/i0) + v0,  i = a - i0
//
// and what its regulator takes, if it has one.
// LEDs of unlike saturation current are lumped too: the error in current is that of the
// largest one, some nanoamperes for a protection diode.
type law struct {
	kind  lawKind
	ohms  float64 // resistor, nominal
	scale float64 // of the resistor
	plus  float64 // in series with it
	leds  float64 // series resistance of the LEDs
	m, i0 float64
	logI0 float64
	base  float64 // v0: what the parts bring
	reg   circuit.Regulator
	gone  []int // LEDs whose own deviation doesn't count: bridged, or turned round
}

type lawKind uint8

const (
	lawDead lawKind = iota
	lawOhmic
	lawDiode
)

// lawOf lumps a branch.
func lawOf(b circuit.Branch) law {
	l := law{kind: lawOhmic, ohms: b.Ohms, scale: 1, reg: b.Regulator}
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

// total is the resistance of the branch.
func (l *law) total() float64 { return math.Max(0, l.ohms)*l.scale + l.plus + l.leds }

// leastOhms keeps a branch without any resistance from an infinite current.
const leastOhms = 1e-3

// leastAmps and less is nothing.
const leastAmps = 1e-9

// amps is the current at a voltage, behind ohms more. Newton's steps begin above
// the root and are taken in its logarithm until they are small, then in the
// current itself, where the law is nearly straight (circuit.invert).
func (l *law) amps(volts, ohms float64) float64 {
	e, r := volts-l.base, math.Max(l.total()+ohms, leastOhms)
	switch l.kind {
	case lawDead:
		return 0
	}
	if !l.reg.IsZero() {
		i, _ := l.reg.Behind(e, func(i float64) (v, dv float64) {
			v, dv = r*i, r
			if l.kind == lawDiode {
				v, dv = v+l.m*math.Log1p(i/l.i0), dv+l.m/(i+l.i0)
			}
			return v, dv
		})
		return i
	}
	if l.kind == lawOhmic {
		return math.Max(0, e) / r
	}
	// Without its resistor the current would be i0 exp(e/m): below a nanoampere it is dark.
	if e < l.m*(darkLog-l.logI0) {
		return 0
	}
	a, w := l.upper(e, r)
	for range 80 {
		x := (e - r*(a-l.i0) - l.m*w) / (r*a + l.m)
		if math.Abs(x) > 0.12 {
			w += x
			a = l.i0 * math.Exp(w)
			continue
		}
		w += math.Log1p(x)
		a += a * x
		if math.Abs(x) < 1e-5 {
			break
		}
	}
	return math.Max(0, a-l.i0)
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
	}
	if !l.reg.IsZero() {
		return l.heldSlope(i, r)
	}
	if l.kind == lawOhmic {
		return 1 / math.Max(r, leastOhms), 0
	}
	a := i + l.i0
	den := r*a + l.m
	return a / den, a * l.m / (den * den * den)
}

// heldSlope is slope with a regulator: di/dv = 1/v', d2i/dv2 = -v”/v'^3.
func (l *law) heldSlope(i, r float64) (g, curve float64) {
	left := l.reg.Amps - i
	if !(left > 1e-9*l.reg.Amps) {
		return 0, 0
	}
	_, s := l.reg.AmpsAt(l.reg.VoltsAt(i))
	d1, d2 := r+1/s, 1/(s*left) // v'' of A(1-exp(-kv)) is k/(left k)^2 = v'/left
	if l.kind == lawDiode {
		d1, d2 = d1+l.m/(i+l.i0), d2-l.m/((i+l.i0)*(i+l.i0))
	}
	return 1 / d1, -d2 / (d1 * d1 * d1)
}
