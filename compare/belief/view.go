package belief

import (
	"fmt"
	"math"
	"slices"
	"sort"
)

// view is what was measured, one entry for each voltage: readings at the same
// voltage differ by nothing but their own noise, so their weighted mean says all.
type view struct {
	at   []int // of Ensemble.Volts
	y    []float64
	u2   []float64 // variance of y's own
	gain []float64 // relative, common
	off  []float64 // A, common
	// model is what the device model is off, relative.
	model float64
	// before is what was read of the same pieces before; nil: nothing.
	before *before
}

// all are the readings, then those of before.
func (v *view) all() []float64 {
	if v.before == nil {
		return v.y
	}
	return slices.Concat(v.y, v.before.view.y)
}

// nearV: a reading counts for a voltage this near, and is taken there along the
// slope of the healthy draw.
const nearV = 0.050

// index is the voltage that a reading belongs to.
func (e *Ensemble) index(volts float64) (int, error) {
	best := 0
	for k, v := range e.Volts {
		if math.Abs(v-volts) < math.Abs(e.Volts[best]-volts) {
			best = k
		}
	}
	if !(math.Abs(e.Volts[best]-volts) <= nearV+1e-9) {
		return 0, fmt.Errorf("a reading at %g V: what to expect was computed at %v V", volts, e.Volts)
	}
	return best, nil
}

func (e *Ensemble) look(rs []Reading) (*view, error) {
	n := len(e.Volts)
	sumW, sumY, sumG, sumO := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	for _, r := range ordered(rs) {
		k, err := e.index(r.Volts)
		if err != nil {
			return nil, err
		}
		if math.IsNaN(r.Amps) || math.IsInf(r.Amps, 0) || !(r.U > 0) || math.IsInf(r.U, 0) || !(r.GainU >= 0) ||
			r.GainU > 1 || !(r.CommonU >= 0) || math.IsInf(r.CommonU, 0) {
			return nil, fmt.Errorf("a reading of %g ±%g A (and %g of it) at %g V: it needs a number and its "+
				"uncertainty", r.Amps, r.U, r.GainU, r.Volts)
		}
		j := e.perV[k] * e.bench.JitterV
		w := 1 / (r.U*r.U + j*j)
		sumW[k] += w
		sumY[k] += w * (r.Amps - e.perV[k]*(r.Volts-e.Volts[k]))
		sumG[k] += w * r.GainU
		sumO[k] += w * r.CommonU
	}
	v := &view{model: e.priors.Model}
	for k := range n {
		if sumW[k] > 0 {
			v.at = append(v.at, k)
			v.y = append(v.y, sumY[k]/sumW[k])
			v.u2 = append(v.u2, 1/sumW[k])
			v.gain, v.off = append(v.gain, sumG[k]/sumW[k]), append(v.off, sumO[k]/sumW[k])
		}
	}
	if e.earlier == nil {
		return v, nil
	}
	var err error
	v.before, err = newBefore(v, e.given, e.given.keys, e.earlier)
	return v, err
}

// ordered sorts readings, so that sums come out the same in any order.
func ordered(rs []Reading) []Reading {
	out := append([]Reading(nil), rs...)
	sort.Slice(out, func(i, j int) bool {
		a, b := out[i], out[j]
		switch {
		case a.Volts != b.Volts:
			return a.Volts < b.Volts
		case a.Amps != b.Amps:
			return a.Amps < b.Amps
		case a.U != b.U:
			return a.U < b.U
		case a.GainU != b.GainU:
			return a.GainU < b.GainU
		}
		return a.CommonU < b.CommonU
	})
	return out
}

// looseBy is by how much tolerances are too small where they are (common
// practice, no source).
const looseBy = 1.5
