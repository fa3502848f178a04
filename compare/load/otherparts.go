package load

import (
	"math"

	"sealworthy/compare/circuit"
)

// junction is v = slope ln(1 + i/saturation) + series i, as circuit simulators
// write it. A shift of its voltage moves the saturation current, so that nothing
// flows at 0 V.
type junction struct {
	slopeV, saturationA, seriesOhm float64
}

// through is the junction of a slope and series resistance that drops volts at amps.
func through(amps, volts, slopeV, seriesOhm float64) junction {
	return junction{slopeV: slopeV, seriesOhm: seriesOhm,
		saturationA: amps / math.Expm1((volts-seriesOhm*amps)/slopeV)}
}

func (j junction) shifted(volts float64) junction {
	j.saturationA *= math.Exp(-volts / j.slopeV)
	return j
}

// at is the voltage at a current and dv/di.
func (j junction) at(amps float64) (volts, ohms float64) {
	return j.slopeV*math.Log1p(amps/j.saturationA) + j.seriesOhm*amps, j.slopeV/(amps+j.saturationA) + j.seriesOhm
}

// warmth is how warm a model is, shared by all its parts: 0 cold, 1 for good.
type warmth struct {
	now  float64
	tauS float64
}

// chain is the branch of one light under the other law. It's a circuit.Law.
type chain struct {
	leds    []junction
	planned []circuit.Diode // as wired before anything aged
	perK    []float64       // V/K of each LED
	ohmPerK float64         // fraction per K of the resistor
	riseK   float64         // until it's warm
	reg     holder          // zero: none
	model   *warmth
}

// Amps is the current of a branch and dI/dV. Leaks across LEDs aren't known here.
func (c *chain) Amps(b circuit.Branch, volts float64) (amps, siemens float64) {
	if !(volts > 0) {
		return 0, 0
	}
	rise := c.riseK * c.model.now
	rest := b.Ohms * (1 + c.ohmPerK*rise)
	var js []junction
	for k, l := range b.LEDs {
		switch {
		case l.State == circuit.Shorted:
			continue
		case l.State == circuit.OK:
			j := c.leds[k].shifted(l.ShiftV + l.Diode.ShiftV - c.planned[k].ShiftV + c.perK[k]*rise)
			if was := c.planned[k].SeriesOhm; was > 0 {
				j.seriesOhm *= l.Diode.SeriesOhm / was
			}
			js = append(js, j)
		case l.State == circuit.Reversed && l.Reverse.SaturationA > 0:
			js = append(js, through(protectionA, protectionV, protectionOf*thermalV, 0.5))
		default:
			return 0, 0
		}
	}
	if c.reg.amps > 0 {
		amps, siemens = c.reg.held(js, rest, volts, rise)
	} else {
		amps, siemens = flow(js, rest, volts)
	}
	return amps * b.Factor, siemens * b.Factor
}

// flow solves junctions and a resistor in series for their current: Newton in its
// logarithm, which comes down on the root from above since the voltage is convex
// in it.
func flow(js []junction, ohms, volts float64) (amps, siemens float64) {
	const least, most = 1e-18, 1e3
	x := math.Log(most)
	if ohms > 0 {
		x = math.Log(math.Min(most, volts/ohms))
	}
	for range 200 {
		i := math.Exp(x)
		v, r := ohms*i, ohms
		for _, j := range js {
			dv, dr := j.at(i)
			v, r = v+dv, r+dr
		}
		dx := (volts - v) / (r * i)
		amps, siemens = i, 1/r
		if math.Abs(dx) < 1e-13 {
			return amps, siemens
		}
		if x += dx; x < math.Log(least) {
			return 0, 1e-15
		}
	}
	return amps, siemens
}

// holder is a regulator under the other law: i = amps v/sqrt(v^2 + knee^2) (1 + rise v).
type holder struct {
	amps, kneeV, perV, perK float64
}

func (h holder) at(volts, riseK float64) (amps, siemens float64) {
	root := math.Hypot(volts, h.kneeV)
	a := h.amps * (1 + h.perK*riseK)
	shape, slope := volts/root, h.kneeV*h.kneeV/(root*root*root)
	return a * shape * (1 + h.perV*volts), a * (slope*(1+h.perV*volts) + shape*h.perV)
}

// held solves junctions, a resistor and a regulator in series, by halving the
// logarithm of the voltage across the regulator: the whole rises with it.
func (h holder) held(js []junction, ohms, volts, riseK float64) (amps, siemens float64) {
	low, high := math.Log(1e-18), math.Log(volts)
	for range 100 {
		x := (low + high) / 2
		v := math.Exp(x)
		i, g := h.at(v, riseK)
		sum, r := v+ohms*i, ohms
		for _, j := range js {
			dv, dr := j.at(i)
			sum, r = sum+dv, r+dr
		}
		amps, siemens = i, g/(1+r*g)
		if sum > volts {
			high = x
		} else {
			low = x
		}
		if high-low < 1e-13 {
			break
		}
	}
	return amps, siemens
}
