package circuit

import (
	"math"
	"slices"
)

// held is an operating point with all branches linearised about it.
type held struct {
	at         state
	cells      []cell
	g, j       []float64 // by Node: what the branches make of it
	b, c, d, k []float64 // the same of the returns
	cell       []int32   // by BranchID: its cell, -1: none
	straight   bool      // no converter and no diode feeds anything
}

// Hold solves as Solve does and keeps the operating point for Near, until
// something is switched.
func (s *Solver) Hold(src Source, into *Point) error {
	if err := s.Solve(src, into); err != nil {
		return err
	}
	h := &s.held
	if h.at.v == nil {
		h.at = newState(s.n)
	}
	h.at.copyFrom(&s.cur)
	s.empty()
	s.branches(true)
	h.cells = append(h.cells[:0], s.cells...)
	h.g, h.j = append(h.g[:0], s.g...), append(h.j[:0], s.j...)
	h.b, h.c, h.d, h.k = append(h.b[:0], s.ret.b...), append(h.c[:0], s.ret.c...), append(h.d[:0], s.ret.d...),
		append(h.k[:0], s.ret.k...)
	h.cell = append(h.cell[:0], make([]int32, len(s.n.branches))...)
	for id := range h.cell {
		h.cell[id] = -1
	}
	h.straight = !slices.ContainsFunc(s.odd, func(k Node) bool { return s.n.el[k].kind != outputElement })
	for k := range s.cells {
		h.cell[s.where[k].id] = int32(k)
	}
	return nil
}

// empty clears what is summed up for one step.
func (s *Solver) empty() {
	for _, k := range s.act {
		s.g[k], s.j[k] = 0, 0
	}
	if s.ret.m > 0 {
		s.ret.clear()
	}
}

// What Near takes along its tangent has moved by less than movedV: an LED's law bends
// over some 0.1 V, so its tangent is right there to a hundred thousandth of the change.
const (
	movedV    = 1e-3
	mostSteps = 6 // more are only for a converter or a diode that isn't where it was taken to be
)

// Near is Newton's method from what Hold kept, with the Net as it stands now: for
// one small change after another. What was touched, or has moved by more than a
// millivolt, is taken by its own law, all else along its tangent, so that the cost is
// that of the nodes, not of the branches. Only ElementA and SourceA of into are written.
// Nothing may have been switched since Hold.
func (s *Solver) Near(src Source, into *Point) error {
	h, n, st := &s.held, s.n, &s.cur
	if s.shape != n.shape || len(h.cell) != len(n.branches) {
		return &Error{Problem: BadInput, Text: "something was switched since the circuit was held"}
	}
	copy(st.v, h.at.v)
	copy(st.vg, h.at.vg)
	for _, k := range s.odd {
		st.da[k], st.dw[k], st.low[k] = h.at.da[k], h.at.dw[k], h.at.low[k]
		st.vin[k], st.iout[k] = h.at.vin[k], h.at.iout[k]
	}
	s.touch()
	for _, k := range s.act[1:] {
		if c := &s.c[k]; c.plain {
			c.r = n.ohms[k]
		}
	}
	limit := src.LimitA
	if limit == 0 {
		limit = math.Inf(1)
	}
	there := false
	for it := 1; it <= 2 || it <= mostSteps && !there; it++ {
		copy(s.g, h.g)
		copy(s.j, h.j)
		copy(s.ret.b, h.b)
		copy(s.ret.c, h.c)
		copy(s.ret.d, h.d)
		copy(s.ret.k, h.k)
		for _, k := range s.touched {
			if !s.hasMoved(s.where[k].node) {
				s.retake(k)
			}
		}
		for _, r := range s.runs {
			if s.hasMoved(r.node) {
				for k := r.first; k < r.end; k++ {
					s.retake(k)
				}
			}
		}
		if it > 1 {
			there = s.follow()
		}
		s.loads(it)
		s.linearise()
		if bad, _ := s.eliminate(src, limit); bad {
			return s.why(src, limit)
		}
		if it == 1 && h.straight && !s.anyMoved() {
			break // another step would take the same tangents
		}
	}
	for _, k := range s.act {
		into.ElementA[k] = s.i[k]
	}
	into.SourceA = s.i[0]
	return nil
}

// touch lists the branches that aren't what they were when they were held.
func (s *Solver) touch() {
	dirty := s.n.dirty
	s.touched = s.touched[:0]
	s.n.refresh()
	for _, id := range dirty {
		k := s.held.cell[id]
		if k < 0 {
			continue
		}
		if c := &s.held.cells[k]; c.r != s.n.r[id] || c.v0 != s.n.v0[id] {
			s.touched = append(s.touched, k)
		}
	}
}

// hasMoved: a node, or what returns have to do with it, isn't where it was held.
func (s *Solver) hasMoved(k Node) bool {
	if math.Abs(s.cur.v[k]-s.held.at.v[k]) > movedV {
		return true
	}
	for g, v := range s.cur.vg {
		if math.Abs(v-s.held.at.vg[g]) > movedV {
			return true
		}
	}
	return false
}

func (s *Solver) anyMoved() bool {
	return slices.ContainsFunc(s.runs, func(r run) bool { return s.hasMoved(r.node) })
}

// retake puts a branch by its law at the present voltage in the place of what it was
// when it was held.
func (s *Solver) retake(k int32) {
	c, at := &s.held.cells[k], s.where[k]
	r, v0, vb := s.n.r[at.id], s.n.v0[at.id], s.across(at)
	was := c.a * c.den
	a, _ := invert(vb-v0, r, c.m, c.i0)
	g := a / (r*a + c.m)
	s.add(at, g-was, (a-c.i0-g*vb)-(c.a-c.i0-was*c.vm))
}
