package circuit

import (
	"fmt"
	"math"
)

// Solver finds operating points of one Net. It keeps the last one and starts
// the next from it.
type Solver struct {
	n *Net
	work
}

// NewSolver makes a Solver for a Net; add nothing to the Net afterwards.
func NewSolver(n *Net) *Solver {
	s := &Solver{}
	s.RelTol, s.AbsTolA, s.MaxIterations = 2e-8, 1e-15, 300
	s.init(n)
	return s
}

// Home keeps the present operating point as the start of every Solve that
// follows, so that results don't depend on the order of the solves.
func (s *Solver) Home() { s.home() }

// damped is the iteration from which steps are halved: something flips.
const damped = 30

// Solve finds the operating point of the Net as it stands and writes it to into.
// It returns an *Error when there is none; into is then of no use.
func (s *Solver) Solve(src Source, into *Point) error {
	n := s.n
	if n.err != nil {
		return n.err
	}
	if !into.fits(n) || len(s.g) != len(n.el) || len(s.cur.ba) != len(n.branches) || len(s.below) != len(n.draws) {
		return &Error{Problem: BadInput, Text: "the net has grown since its solver or point was made"}
	}
	if math.IsNaN(src.EmfV) || math.IsInf(src.EmfV, 0) || !(src.Ohms >= 0) || src.Ohms > maxOhms ||
		!(src.LimitA >= 0) {
		return &Error{Problem: BadInput, At: Ref{Kind: RefSource},
			Text: fmt.Sprintf("can't be %g V behind %g ohm with a limit of %g A", src.EmfV, src.Ohms, src.LimitA)}
	}
	s.start(src)
	if err := s.iterate(src, into); err != nil && !s.fromBelow(src, into) {
		s.cold = true
		return err
	}
	s.cold = false
	s.write(src, into)
	return nil
}

// fromBelow looks for the operating point of a source at its limit from lower voltages. A
// switching converter takes more current from less volts, so from above, beyond the limit,
// the tangent points away from where its input has sunk to.
func (s *Solver) fromBelow(src Source, into *Point) bool {
	if !(src.LimitA > 0) || math.IsInf(src.LimitA, 1) {
		return false
	}
	for _, part := range []float64{0.75, 0.5, 0.25} {
		low := src
		low.EmfV *= part
		s.cold = true
		s.start(low)
		if s.iterate(low, into) == nil && s.iterate(src, into) == nil {
			return true
		}
	}
	return false
}

// start brings parameters, lists and state up to date.
func (s *Solver) start(src Source) {
	n, st := s.n, &s.cur
	n.refresh()
	listed := s.shape != n.shape
	if listed {
		s.flush()
		s.relist()
	}
	for _, k := range s.act[1:] {
		if c := &s.c[k]; c.plain {
			c.r = n.ohms[k]
		}
	}
	for k := range s.cells {
		id := s.where[k].id
		s.cells[k].r, s.cells[k].v0 = n.r[id], n.v0[id]
	}
	if !listed && !s.hasHome && !s.cold {
		return
	}
	from := st
	if s.hasHome {
		from = &s.kept
		copy(st.vg, from.vg)
		st.cc = from.cc
	} else if s.cold {
		clear(st.vg)
		st.cc = false
	}
	known := !s.cold || s.hasHome
	if s.hasHome && s.homeShape == s.shape {
		s.fromHome()
		return
	}
	for _, k := range s.act {
		if !known || !from.warm[k] {
			s.coldElement(k, src.EmfV)
		} else if from != st {
			st.v[k], st.da[k], st.dw[k] = from.v[k], from.da[k], from.dw[k]
			st.vin[k], st.iout[k], st.low[k] = from.vin[k], from.iout[k], from.low[k]
		}
	}
	for k := range s.cells {
		at, c := s.where[k], &s.cells[k]
		if known && from.warm[at.node] && from.stamp[at.id] == n.branches[at.id].stamp && from.ba[at.id] > 0 {
			c.a, c.w = from.ba[at.id], from.bw[at.id]
			continue
		}
		c.a, c.w = invert(st.v[at.node]-st.vg[at.gnd]-c.v0, math.Max(c.r, softOhms), c.m, c.i0)
	}
	if listed || s.cold {
		clear(st.warm)
		for _, k := range s.act {
			st.warm[k] = true
		}
		// A branch that isn't listed now will be started anew when it is.
		clear(st.stamp)
	}
}

// fromHome starts from a Home at which the same things were switched on.
func (s *Solver) fromHome() {
	st, from := &s.cur, &s.kept
	copy(st.v, from.v)
	for _, k := range s.odd {
		st.da[k], st.dw[k] = from.da[k], from.dw[k]
		st.vin[k], st.iout[k], st.low[k] = from.vin[k], from.iout[k], from.low[k]
	}
	for k := range s.cells {
		id := s.where[k].id
		s.cells[k].a, s.cells[k].w = from.ba[id], from.bw[id]
	}
	copy(st.warm, from.warm)
}

// iterate is Newton's method on all node voltages.
func (s *Solver) iterate(src Source, into *Point) error {
	limit := src.LimitA
	if limit == 0 {
		limit = math.Inf(1)
	}
	if math.IsInf(limit, 1) {
		s.cur.cc = false
	}
	floor, still := 0, true
	for it := 1; it <= s.MaxIterations; it++ {
		first := it == 1
		s.empty()
		worst, ok := s.branches(first)
		w2, ok2 := s.loads(it)
		ok = ok && ok2
		if !first {
			ok = s.follow() && ok && floor == 0 && still
			if ok {
				switch {
				case !s.cur.cc && s.i[0] > limit*(1+1e-12):
					s.cur.cc = true
				case s.cur.cc && s.cur.v[0]+limit*src.Ohms > src.EmfV*(1+1e-12)+1e-12:
					s.cur.cc = false
				default:
					into.ResidualA, into.Iterations = math.Max(worst, w2), it-1
					return s.plausible(src, limit)
				}
			}
		}
		if it > damped {
			for _, k := range s.act {
				s.old[k] = s.cur.v[k]
			}
		}
		s.linearise()
		bad, low := s.eliminate(src, limit)
		if bad {
			return s.why(src, limit)
		}
		if low {
			floor++
		} else {
			floor = 0
		}
		if floor > 20 {
			return s.why(src, limit)
		}
		if it > damped {
			// Half a step leaves the nodes out of balance by as much as it moved them.
			still = true
			for _, k := range s.act {
				d := 0.5 * (s.old[k] - s.cur.v[k])
				s.cur.v[k] += d
				still = still && math.Abs(d) <= 1e-10
			}
		}
	}
	return s.why(src, limit)
}

// eliminate solves the linearised circuit: leaf to root, the returns, root to leaf.
func (s *Solver) eliminate(src Source, limit float64) (bad, low bool) {
	st := &s.cur
	many := s.ret.m > 0
	gs, js := s.g, s.j
	for q := len(s.act) - 1; q >= 1; q-- {
		k := s.act[q]
		c := &s.c[k]
		g, j := gs[k], js[k]
		c.den = 1 / (1 + g*c.r)
		gd := g * c.den
		if c.plain {
			gs[c.parent] += gd
			js[c.parent] += j * c.den
		} else {
			gs[c.parent] += c.gamma * c.alpha * gd
			js[c.parent] += c.gamma * (j*c.den + gd*c.e)
		}
		if many {
			s.ret.eliminate(k, c, c.ret, j, gd)
		}
	}
	g, j := s.g[0], s.j[0]
	base, slope := 0.0, 0.0
	if st.cc && !(g > 0) && j > limit {
		return true, true // nothing left that would draw less at a lower voltage
	}
	if st.cc && !((limit-j)+limit*src.Ohms*g <= src.EmfV*g) {
		st.cc = false // the limit isn't reached even at the full voltage
	}
	if st.cc {
		base, slope = (limit-j)/g, 1/g
	} else {
		den := 1 / (1 + g*src.Ohms)
		base, slope = (src.EmfV-src.Ohms*j)*den, src.Ohms*den
	}
	bv := 0.0
	if many {
		s.ret.root(base, slope)
		if !s.ret.solve(st.vg) {
			return true, false
		}
		bv = s.ret.couple(0, st.vg)
	}
	st.v[0] = base - slope*bv
	s.i[0] = limit
	if !st.cc {
		s.i[0] = (g*src.EmfV + j + bv) / (1 + g*src.Ohms)
	} else if st.v[0] < 0 {
		st.v[0], low = 0, true
	} else if st.v[0] > src.EmfV {
		st.v[0] = src.EmfV
	}
	if math.IsNaN(st.v[0]) || math.IsInf(st.v[0], 0) {
		return true, false
	}
	for _, k := range s.act[1:] {
		c := &s.c[k]
		vs := st.v[c.parent]
		if !c.plain {
			vs = c.alpha*vs + c.e
			if c.ret > 0 {
				vs += c.eps * st.vg[c.ret]
			}
		}
		jb := s.j[k]
		if many {
			jb += s.ret.couple(k, st.vg)
		}
		i := (s.g[k]*vs + jb) * c.den
		s.i[k] = i
		st.v[k] = vs - c.r*i
	}
	return false, low
}

// write fills a Point from the state.
func (s *Solver) write(src Source, p *Point) {
	n, st := s.n, &s.cur
	clear(p.NodeV)
	clear(p.ElementA)
	clear(p.InputA)
	clear(p.BranchA)
	clear(p.DrawA)
	clear(p.ShuntA)
	clear(p.OutOfRegulation)
	for _, k := range s.act {
		p.NodeV[k], p.ElementA[k], p.InputA[k] = st.v[k], s.i[k], s.i[k]
		switch e := &n.el[k]; e.kind {
		case outputElement:
			p.InputA[k] = s.c[k].gamma * s.i[k]
		case converterElement:
			share := 1.0
			if st.low[k] {
				share = (st.v[e.parent] - st.vg[e.ret]) / e.conv.minIn()
			}
			p.InputA[k] = s.c[k].gamma*s.i[k] + share*e.conv.IdleA
			p.OutOfRegulation[k] = st.low[k]
		}
	}
	for _, k := range s.idle {
		s.coldElement(k, src.EmfV)
		p.NodeV[k] = st.v[k]
	}
	copy(p.GroundV, st.vg)
	copy(p.ReturnA, s.ret.amps)
	for k := range s.cells {
		p.BranchA[s.where[k].id] = math.Max(0, s.cells[k].a-s.cells[k].i0)
	}
	for k := range s.slows {
		p.BranchA[s.slows[k].id] = s.slows[k].i
	}
	for _, at := range s.ohmics {
		p.BranchA[at.id] = s.across(at) / n.r[at.id]
	}
	for _, at := range s.shunts {
		p.ShuntA[at.id] = s.across(at) / n.shunts[at.id].ohms
	}
	for _, at := range s.draws {
		d := &n.draws[at.id]
		p.DrawA[at.id] = d.amps
		if s.below[at.id] {
			p.DrawA[at.id] = d.amps * s.across(at) / d.fullVolts
		}
	}
	p.SourceA, p.Mode, p.EmfV = s.i[0], ConstantVoltage, src.EmfV
	if st.cc {
		p.Mode, p.EmfV = ConstantCurrent, st.v[0]+s.i[0]*src.Ohms
	}
}
