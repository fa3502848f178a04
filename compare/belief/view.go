package belief

import (
	"fmt"
	"math"
	"sort"

	"sealworthy/compare/linear"
)

// view is what was measured, one entry for each voltage: readings at the same
// voltage differ by nothing but their own noise, so their weighted mean says all.
type view struct {
	at   []int // of Ensemble.Volts
	y    []float64
	u2   []float64 // variance of y's own
	gain []float64 // relative, common
	// loose is how probable it is that tolerances are looseBy as wide.
	loose float64
	model float64   // what the device model is off, relative
	c, w  []float64 // room to work in
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
	sumW, sumY, sumG := make([]float64, n), make([]float64, n), make([]float64, n)
	for _, r := range ordered(rs) {
		k, err := e.index(r.Volts)
		if err != nil {
			return nil, err
		}
		if math.IsNaN(r.Amps) || math.IsInf(r.Amps, 0) || !(r.U > 0) || math.IsInf(r.U, 0) || !(r.GainU >= 0) || r.GainU > 1 {
			return nil, fmt.Errorf("a reading of %g ±%g A (and %g of it) at %g V: it needs a number and its uncertainty", r.Amps, r.U, r.GainU, r.Volts)
		}
		j := e.perV[k] * e.bench.JitterV
		w := 1 / (r.U*r.U + j*j)
		sumW[k] += w
		sumY[k] += w * (r.Amps - e.perV[k]*(r.Volts-e.Volts[k]))
		sumG[k] += w * r.GainU
	}
	v := &view{loose: e.priors.Loose, model: e.priors.Model}
	for k := range n {
		if sumW[k] > 0 {
			v.at = append(v.at, k)
			v.y = append(v.y, sumY[k]/sumW[k])
			v.u2 = append(v.u2, 1/sumW[k])
			v.gain = append(v.gain, sumG[k]/sumW[k])
		}
	}
	v.c, v.w = make([]float64, len(v.at)*len(v.at)), make([]float64, len(v.at))
	return v, nil
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
		}
		return a.GainU < b.GainU
	})
	return out
}

// covariance fills into with that of the readings if m holds: plan and bench,
// the model itself, the meter's common gain and each reading's own.
func (v *view) covariance(m *moment, n int, into []float64) { v.scaledCovariance(m, n, 1, into) }

// scaledCovariance is covariance with every tolerance times a factor.
func (v *view) scaledCovariance(m *moment, n int, scale float64, into []float64) {
	k := len(v.at)
	for a := range k {
		i := v.at[a]
		for b := range a + 1 {
			j := v.at[b]
			c := scale*scale*m.cov[i*n+j] + (v.model*v.model*modelCorrelation+v.gain[a]*v.gain[b])*m.mean[i]*m.mean[j]
			if a == b {
				c += v.model*v.model*(1-modelCorrelation)*m.mean[i]*m.mean[i] + v.u2[a]
			}
			into[a*k+b], into[b*k+a] = c, c
		}
	}
}

// looseBy is by how much tolerances are too small where they are (common
// practice, no source).
const looseBy = 1.5

// logLikelihood is that of the readings if m holds: a mixture of multivariate
// normal densities, over what the tolerances may be.
func (v *view) logLikelihood(m *moment, n int) float64 {
	k := len(v.at)
	if k == 0 {
		return 0
	}
	sum, top := 0.0, math.Inf(-1)
	for _, x := range [...]struct{ scale, weight float64 }{{1, 1 - v.loose}, {looseBy, v.loose}} {
		if x.weight == 0 {
			continue
		}
		v.scaledCovariance(m, n, x.scale, v.c)
		linear.FactorHeld(v.c, k)
		for a, i := range v.at {
			v.w[a] = v.y[a] - m.mean[i]
		}
		linear.Forward(v.c, k, v.w)
		l := math.Log(x.weight) - 0.5*linear.Dot(v.w, v.w) - linear.HalfLogDet(v.c, k)
		if l > top {
			sum, top = sum*math.Exp(top-l)+1, l
		} else {
			sum += math.Exp(l - top)
		}
	}
	return top + math.Log(sum) - 0.5*float64(k)*math.Log(2*math.Pi)
}
