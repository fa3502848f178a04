package rig

import (
	"math"
	"time"
)

// point is the bench at one moment.
type point struct {
	jackV, amps float64
	supplyV     float64 // at the supply's terminals
	limiting    bool
}

// source is the supply's output as the load sees it.
type source struct {
	on     bool
	from   float64 // V at began
	target float64
	began  time.Time
	tau    time.Duration
	limitA float64
}

// volts is the open-circuit voltage at t: an exponential towards the target.
func (s source) volts(t time.Time) float64 {
	if !s.on {
		return 0
	}
	if s.tau <= 0 {
		return s.target
	}
	x := t.Sub(s.began).Seconds() / s.tau.Seconds()
	if x > 40 {
		return s.target
	}
	return s.target + (s.from-s.target)*math.Exp(-x)
}

// moving reports whether the voltage still changes noticeably at t.
func (s source) moving(t time.Time) bool {
	return s.on && math.Abs(s.volts(t)-s.target) > slewDone
}

const (
	slewDone = 0.2e-3 // V from the target at which the output counts as still
	voltsTol = 1e-8   // V to which the jack is solved
)

// settle solves the loop: source, series resistance and load, and then the
// supply's limit. draw must not fall when the voltage rises.
func settle(volts, limitA, seriesOhm float64, draw func(volts float64) float64) point {
	if volts <= 0 {
		return point{}
	}
	p := point{jackV: volts, amps: draw(volts)}
	if p.amps > 0 && seriesOhm > 0 {
		p.jackV = rising(0, volts, seriesOhm*p.amps, voltsTol,
			func(v float64) float64 { return v + seriesOhm*draw(v) - volts })
		p.amps = (volts - p.jackV) / seriesOhm
		// Where the drop is small the load's own curve is the better figure.
		if i := draw(p.jackV); math.Abs(i-p.amps) < 1e-3*i {
			p.amps = i
		}
	}
	p.supplyV = volts
	if p.amps > limitA {
		p.limiting = true
		p.amps = limitA
		top := draw(p.jackV) - limitA
		p.jackV = rising(0, p.jackV, top, 1e-8*limitA, func(v float64) float64 { return draw(v) - limitA })
		p.supplyV = p.jackV + seriesOhm*p.amps
	}
	return p
}

// rising finds the zero of f, which rises over [lo, hi], to within tol of f or
// voltsTol of its place; fhi is f(hi). False position in the Illinois form with
// a halving now and then, so a step in f is found too. The result is the upper
// end if f is below zero all over, the lower if above.
func rising(lo, hi, fhi, tol float64, f func(float64) float64) float64 {
	if fhi <= 0 {
		return hi
	}
	flo := f(lo)
	if flo >= 0 {
		return lo
	}
	side := 0
	for n := 1; hi-lo > voltsTol && n < 120; n++ {
		mid := (lo + hi) / 2
		if n%5 != 0 {
			if x := (lo*fhi - hi*flo) / (fhi - flo); x > lo && x < hi {
				mid = x
			}
		}
		y := f(mid)
		switch {
		case math.Abs(y) <= tol:
			return mid
		case y > 0:
			hi, fhi = mid, y
			if side == 1 {
				flo /= 2
			}
			side = 1
		default:
			lo, flo = mid, y
			if side == -1 {
				fhi /= 2
			}
			side = -1
		}
	}
	return (lo + hi) / 2
}
