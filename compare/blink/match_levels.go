package blink

import "math"

// levelsFromPlan takes the plan's duty where the readings can't tell length
// from level, with the plan's tolerance as a rectangular distribution.
func (m *Matched) levelsFromPlan(q *search, s *solution, e *expected) {
	held := e.m
	held.free = 2
	at := func(shift float64) (on, off, onU, offU, m2l float64) {
		p := s.p
		p[pA] = e.first + shift/math.Max(float64(e.m.count), 1)
		e.m.clamp(&p)
		r := q.polish(held, p)
		cov, ok := q.fit.covariance()
		if !ok {
			return 0, 0, math.Inf(1), math.Inf(1), r.m2l
		}
		n := q.fit.nl + q.fit.lin
		i := q.fit.nl
		scale := q.d.scale(r.chi)
		vOff, vAmp, both := cov[i*n+i], cov[(i+1)*n+i+1], cov[i*n+i+1]
		return r.off + r.amp, r.off, math.Sqrt(math.Max(vOff+vAmp+2*both, 0) * scale), math.Sqrt(vOff * scale), r.m2l
	}
	h := e.tol.DutyAbs / math.Sqrt(3)
	on, off, onU, offU, m2l := at(0)
	on1, off1, _, _, _ := at(-h)
	on2, off2, _, _, _ := at(h)
	onU = math.Hypot(onU, (math.Abs(on1-on)+math.Abs(on2-on))/2)
	offU = math.Hypot(offU, (math.Abs(off1-off)+math.Abs(off2-off))/2)
	if !finite(on, off, onU, offU) || m2l-s.m2l > 9*q.d.scale(s.chi) || onU > planOnRel*on {
		return
	}
	m.OnA, m.OnU, m.OffA, m.OffU = on, onU, off, offU
	m.LevelsShown, m.DutyFromPlan = true, true
}
