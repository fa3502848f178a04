package belief

import (
	"math"

	"sealworthy/compare/wiring"
)

// sampled computes the moments of every variant, and of a healthy group, from
// trials. Only the altered branch is solved again for each variant.
func (s *side) sampled(vs []*variant, d *dice, trials int, seed uint64, follows bool) (*moments, error) {
	n := len(s.volts)
	m := newMoments(n, len(vs))
	if follows {
		for range len(vs) + 1 {
			m.follows = append(m.follows, newFollow(n))
		}
	}
	if err := s.home(); err != nil {
		return nil, err
	}
	d.throw(trials, seed)
	few, err := newFew(s, vs, min(trials, fewTrials))
	if err != nil {
		return nil, err
	}
	y, diff := make([]float64, n), make([]float64, n)
	own := make([]float64, len(s.list)*n)  // current of each branch, by voltage
	over := make([]float64, len(s.list)*n) // voltage over it
	laws := s.order(vs)
	some, failed := 0, 0
	for t := range trials {
		d.trial(t, s)
		if err := s.set(d); err != nil {
			// Something flips just there, as a converter at its least input.
			if failed++; failed > trials/mostFailed {
				return nil, err
			}
			continue
		}
		for k := range s.lit {
			pt := s.lit[k].point
			y[k] = s.draw(k)
			diff[k] = y[k] - s.y0[k]
			for i := range s.list {
				b := &s.list[i]
				over[i*n+k] = pt.NodeV[b.node] - pt.GroundV[b.ret]
				if b.id >= 0 {
					own[i*n+k] = pt.BranchA[b.id]
				}
			}
		}
		m.healthy.add(diff)
		if follows {
			m.follows[0].add(diff, diff, d.c[d.factors:])
		}
		all := t%someTrials == 0
		if all {
			some++
			m.some.add(diff)
		}
		for _, vi := range laws {
			v := vs[vi]
			if v.some && !all {
				continue
			}
			b := v.branch * n
			to := &m.of[vi]
			var r, v0 float64
			if v.law.kind != lawDead {
				r, v0 = v.law.at(&d.dev[v.branch])
			}
			for k := range n {
				i, ohms := own[b+k], v.node[k]
				x := 0.0
				if v.law.kind != lawDead {
					x = v.law.solve(over[b+k]+ohms*i, r+ohms, v0, v.from[k])
				}
				to.x[k] = diff[k] + v.gain[k]*(x-i) - v.delta[k]
			}
			to.add(to.x)
			if follows {
				m.follows[1+vi].add(to.x, diff, d.c[d.factors:])
			}
		}
		few.trial(y)
	}
	m.close(s, vs, trials-failed, some)
	s.unset()
	few.close(m)
	m.fixedFrom(s, vs)
	return m, s.solveLit(y)
}

// mostFailed: one trial in so many may have no operating point.
const mostFailed = 20

// order lists the variants that are solved in every trial, by their branch.
func (s *side) order(vs []*variant) []int {
	var out []int
	for i, v := range vs {
		if v.how == altered {
			out = append(out, i)
		}
	}
	return out
}

// set brings the circuit to a trial and solves it.
func (s *side) set(d *dice) error {
	net := s.w.Net
	for i := range s.list {
		b, p, dev := &s.list[i], &d.parts[i], &d.dev[i]
		if b.id < 0 {
			continue
		}
		if p.ohms.factor >= 0 {
			net.SetBranchOhms(b.id, math.Max(0, b.law.ohms+dev.ohms))
		}
		if p.spread.factor >= 0 {
			net.SetBranchFactor(b.id, dev.factor)
		}
		if len(p.leds) > 0 {
			net.SetLEDShift(b.id, 0, dev.shift)
		}
	}
	warm := d.c[d.factors+tempFactor] * s.bench.halfC()
	for i := range d.wires {
		q := &d.wires[i]
		x := d.of(&q.share) + q.perK*warm
		s.w.Apply(q.index, x)
		if s.dark != nil {
			s.dark.Apply(q.index, x)
		}
	}
	ohms := math.Max(0, s.bench.SeriesOhm+d.c[d.factors+leadsFactor]*s.bench.SeriesHalfOhm)
	s.setLeads(ohms)
	s.dv = d.c[d.factors+voltsFactor] * s.bench.setHalfV()
	for k := range s.lit {
		if err := s.lit[k].solve(s.dv); err != nil {
			return err
		}
		if s.dark != nil {
			if err := s.unlit[k].solve(s.dv); err != nil {
				return err
			}
		}
	}
	return nil
}

func (s *side) setLeads(ohms float64) {
	for _, w := range []*wiring.Wired{s.w, s.dark} {
		if w != nil {
			w.Net.SetOhms(w.Meter, ohms)
		}
	}
}

// unset takes every deviation back.
func (s *side) unset() {
	s.dv = 0
	for i := range s.list {
		b := &s.list[i]
		if b.id < 0 {
			continue
		}
		s.w.Net.SetBranchOhms(b.id, b.law.ohms)
		s.w.Net.SetBranchFactor(b.id, 1)
		if s.w.Net.LEDs(b.id) > 0 {
			s.w.Net.SetLEDShift(b.id, 0, 0)
		}
	}
	s.w.Reset()
	if s.dark != nil {
		s.dark.Reset()
	}
	s.setLeads(s.bench.SeriesOhm)
}
