package circuit

import (
	"fmt"
	"math"
)

// Regulator holds the current of a branch, in series with its LEDs:
//
//	i(v) = Amps (1 - exp(-4 v/HoldV))
//
// with v the voltage across it: at HoldV 98 % of Amps flow, and from there on the
// current hardly moves. The shape below HoldV is assumed: makers state a current
// and the voltage that it needs. The zero Regulator is none.
type Regulator struct {
	Amps  float64 // A
	HoldV float64
}

// sharpness makes 98 % of the current flow at HoldV.
const sharpness = 4

// IsZero reports that there is none.
func (r Regulator) IsZero() bool { return r == Regulator{} }

func (r Regulator) valid() error {
	if !r.IsZero() && !(r.Amps > 0 && r.HoldV > 0 && !math.IsInf(r.Amps, 0) && !math.IsInf(r.HoldV, 0)) {
		return fmt.Errorf("a regulator's current and voltage must be above 0, got %g A from %g V", r.Amps, r.HoldV)
	}
	return nil
}

// AmpsAt is the current at a voltage across the regulator alone, and di/dv.
func (r Regulator) AmpsAt(volts float64) (amps, siemens float64) {
	k := sharpness / r.HoldV
	return -r.Amps * math.Expm1(-k*volts), r.Amps * k * math.Exp(-k*volts)
}

// VoltsAt is the voltage across the regulator alone at a current below Amps.
func (r Regulator) VoltsAt(amps float64) float64 {
	return -r.HoldV / sharpness * math.Log1p(-amps/r.Amps)
}

// Behind solves for the current through the regulator and what lies in series
// with it, of which others gives voltage and dv/di at a current, rising in it. It
// returns the current and di/dv of the whole. The unknown is the logarithm of the
// voltage across the regulator: Newton's steps between bounds.
func (r Regulator) Behind(volts float64, others func(amps float64) (volts, ohms float64)) (amps, siemens float64) {
	const least = 1e-18
	if v, _ := others(0); !(v < volts) {
		return 0, math.Min(1e-15, r.Amps*sharpness/r.HoldV)
	}
	low, high := math.Log(least), math.Log(math.Max(2*least, volts-math.Min(0, first(others(0)))))
	x := high
	for range 200 {
		v := math.Exp(x)
		i, g := r.AmpsAt(v)
		vo, ro := others(i)
		amps, siemens = i, g/(1+ro*g)
		gap := volts - vo - v
		if gap < 0 {
			high = x
		} else {
			low = x
		}
		dx := gap / (v * (1 + ro*g))
		if math.Abs(dx) < 1e-13 || high-low < 1e-14*math.Abs(low) {
			break
		}
		if y := x + dx; y > low && y < high {
			x = y
		} else {
			x = (low + high) / 2
		}
	}
	return amps, siemens
}

func first(v, _ float64) float64 { return v }

// regulatedAt is the current of a branch with a regulator and di/dv.
func (n *Net) regulatedAt(b *branch, volts float64) (i, g float64) {
	i, g = b.reg.Behind(volts, func(i float64) (v, r float64) {
		v, r = b.ohms*i, b.ohms
		for k := b.first; k < b.first+b.n; k++ {
			dv, dr := n.leds[k].volts(i, n.shifts[k])
			v, r = v+dv, r+dr
		}
		return v, r
	})
	return i * b.factor, g * b.factor
}

// SetBranchRegulator replaces the regulator of a branch; the zero one takes it away.
func (n *Net) SetBranchRegulator(id BranchID, r Regulator) {
	if err := r.valid(); err != nil {
		n.fail(Ref{RefBranch, int(id)}, "%v", err)
		return
	}
	n.branches[id].reg = r
	n.restructure(id)
}
