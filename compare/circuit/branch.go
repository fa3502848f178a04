package circuit

// LEDState is what is wrong with one LED. The zero LEDState is OK.
type LEDState uint8

// The states of an LED.
const (
	OK       LEDState = iota
	Reversed          // blocks, unless it leaks or has a Reverse diode
	Shorted           // 0 ohm
	Open              // the whole branch carries nothing, whatever lies across the LED
)

// String is the state in lower-case letters.
func (s LEDState) String() string {
	switch s {
	case OK:
		return "ok"
	case Reversed:
		return "reversed"
	case Shorted:
		return "shorted"
	case Open:
		return "open"
	}
	return "unknown"
}

// LED is one diode of a branch.
type LED struct {
	Diode   Diode
	Reverse Diode // protection diode across it that conducts when it sits reversed; zero: none
	State   LEDState
	LeakOhm float64 // a resistor across it; 0: none
	ShiftV  float64 // its own deviation of forward voltage, on top of the Diode's
}

// Branch is LEDs in series with one resistor, a regulator or both. With nothing
// but the resistor it is that.
type Branch struct {
	Ohms      float64 // ohm, in series; 0: none
	LEDs      []LED
	Regulator Regulator // zero: none
	Factor    float64   // current at any voltage is this times that of the parts; 0 means 1
	Open      bool      // nothing flows
}

// Law is what a branch draws where its parts don't follow this package's own
// laws: a simulated bench has parts of its own make.
type Law interface {
	// Amps is the current of a branch, in A, and dI/dV at volts across it. The
	// branch is as it stands, its Factor and the states of its LEDs included. The
	// current is 0 or more and rises with volts without a step, and dI/dV is finite.
	Amps(b Branch, volts float64) (amps, siemens float64)
}

// How the solver treats a branch.
type branchKind uint8

const (
	blocked branchKind = iota // open, or a reversed LED that doesn't leak
	ohmic                     // no diode left in it
	lumped                    // one diode and a resistor
	mixed                     // leaky LEDs, diodes that can't be lumped exactly, a regulator, a law of its own
)

// leastOhms stands for a dead short: small against every wire, and large enough
// that its current can be told from the rounding of the voltages.
const leastOhms = 1e-6

// lumpLimitA: diodes of unlike saturation current are lumped when none exceeds
// it, because the error in current is about the largest of them.
const lumpLimitA = 1e-13

// led is an LED with what is needed again and again.
type led struct {
	LED
	logI0, logRev float64 // ln of the saturation currents
}

// diode is what conducts in forward direction of the branch. leak: what lies
// across it, or alone when ok is false; blocks when both are missing.
func (l *led) diode() (d *Diode, logI0 float64, ok bool) {
	switch {
	case l.State == OK:
		return &l.Diode, l.logI0, true
	case l.State == Reversed && l.Reverse.SaturationA > 0:
		return &l.Reverse, l.logRev, true
	}
	return nil, 0, false
}

// volts across one LED at a current i >= 0 and dv/di there; shift is its own deviation.
func (l *led) volts(i, shift float64) (v, r float64) {
	if l.State == Shorted || l.State == Open {
		return 0, 0
	}
	d, _, ok := l.diode()
	if l.State == Reversed {
		shift = 0 // the deviation is the LED's, not its protection's
	}
	switch {
	case !ok && l.LeakOhm > 0:
		return i * l.LeakOhm, l.LeakOhm
	case !ok:
		return 0, 0
	case l.LeakOhm > 0:
		a, w := invert(i*l.LeakOhm-shift-d.ShiftV, d.SeriesOhm+l.LeakOhm, d.SlopeV, d.SaturationA)
		id := a - d.SaturationA
		rd := d.SeriesOhm + d.SlopeV/a
		if !(a > 0) {
			return i * l.LeakOhm, l.LeakOhm
		}
		return d.SeriesOhm*id + d.SlopeV*w + d.ShiftV + shift, l.LeakOhm * rd / (l.LeakOhm + rd)
	}
	return d.VoltsAt(i) + shift, d.OhmsAt(i)
}
