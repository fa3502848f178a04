package circuit

import "math"

// smallStep is the largest relative step of a branch's current that is followed
// by a short series instead of a logarithm: its error there is below 1e-12.
const smallStep = 0.12

// darkA: below this current a step is taken in the voltage, not in the current.
const darkA = 1e-12

// softOhms stands in a branch without a resistor of its own while the solver is
// far from the operating point: at the full supply its diode law alone would give
// 1e50 A, in which the equations of the returns drown. The resistor that limits it
// may sit elsewhere: in a board's output, or in a wire.
const softOhms = 0.1

// branches takes each branch to the present node voltages (unless first),
// linearises it there and adds it to its node. It reports the largest
// disagreement with the branch's law in A and whether all are within tolerance.
func (s *Solver) branches(first bool) (worst float64, ok bool) {
	ok = true
	rel, abs := s.RelTol, s.AbsTolA
	many := s.ret.m > 0
	for ri := range s.runs {
		rn := &s.runs[ri]
		v := s.cur.v[rn.node]
		var gs, js float64
		cells := s.cells[rn.first:rn.end]
		where := s.where[rn.first:rn.end]
		for k := range cells {
			c := &cells[k]
			vb := v
			if many {
				vb -= s.cur.vg[where[k].gnd]
			}
			if !first {
				x := (vb - c.vm) * c.den
				if x > -smallStep && x < smallStep && c.a > darkA {
					// ln(1+x) = 2 artanh(x/(2+x))
					t := x / (2 + x)
					t2 := t * t
					c.w += 2 * t * (1 + t2*(1.0/3+t2*(1.0/5+t2*(1.0/7+t2*(1.0/9)))))
					c.a += c.a * x
				} else {
					said := c.a + c.a*x
					c.step(vb, x)
					// The nodes were solved for said; another current breaks their balance.
					gap := math.Abs(c.a - said)
					worst = max(worst, gap)
					if !(gap <= abs+rel*c.a) {
						ok = false
					}
				}
			}
			i := c.a - c.i0
			c.vm = c.r*i + c.m*c.w + c.v0
			c.den = 1 / (c.r*c.a + c.m)
			g := c.a * c.den
			gap := g * (vb - c.vm)
			if gap < 0 {
				gap = -gap
			}
			if gap > worst {
				worst = gap
			}
			if !(gap <= abs+rel*c.a) {
				ok = false
			}
			j := i - g*c.vm
			gs += g
			js += j
			if many {
				s.ret.load(where[k], g, j)
			}
		}
		s.g[rn.node] += gs
		s.j[rn.node] += js
	}
	return worst, ok
}

// step is a step that isn't small: along the logarithm when it is moderate,
// otherwise the branch is solved for its voltage, which can't go astray.
func (c *cell) step(vb, x float64) {
	switch {
	case x > -0.5 && x < 0.5 && c.a > darkA:
		c.w += math.Log1p(x)
		c.a += c.a * x
	case x > -0.5 && x < 0.5:
		c.w += x
		c.a = c.i0 * math.Exp(c.w)
	case x > 0:
		// The present voltage may be far too high for a diode without a resistor;
		// the linear step never overshoots its exponential.
		said := c.a + c.a*x
		if c.a, c.w = invert(vb-c.v0, math.Max(c.r, softOhms), c.m, c.i0); c.a < said {
			c.a, c.w = said, math.Log(said/c.i0)
		}
	default:
		c.a, c.w = invert(vb-c.v0, c.r, c.m, c.i0)
	}
}

// kinked is the iteration from which a branch that isn't lumped is followed along
// its chord where that is the steeper one.
const kinked = 6

// add hangs i = g (v - v(ret)) + j onto a node.
func (s *Solver) add(at place, g, j float64) {
	s.g[at.node] += g
	s.j[at.node] += j
	if at.gnd > 0 {
		s.ret.load(at, g, j)
	}
}

func (s *Solver) across(at place) float64 { return s.cur.v[at.node] - s.cur.vg[at.gnd] }

// loads adds everything but lumped branches. ok is false when a draw has changed
// between full and falling, or a branch is off its law.
func (s *Solver) loads(it int) (worst float64, ok bool) {
	n, first := s.n, it == 1
	ok = true
	for k := range s.draws {
		at := s.draws[k]
		d := &n.draws[at.id]
		v := s.across(at)
		below := d.fullVolts > 0 && v < d.fullVolts
		if below != s.below[at.id] {
			if first || math.Abs(v-d.fullVolts) > 1e-10*(1+d.fullVolts) {
				s.below[at.id] = below
				ok = false
			}
		}
		if s.below[at.id] {
			s.add(at, d.amps/d.fullVolts, 0)
		} else {
			s.add(at, 0, d.amps)
		}
	}
	for k := range s.shunts {
		s.add(s.shunts[k], 1/n.shunts[s.shunts[k].id].ohms, 0)
	}
	for k := range s.ohmics {
		s.add(s.ohmics[k], 1/n.r[s.ohmics[k].id], 0)
	}
	for k := range s.slows {
		q := &s.slows[k]
		v := s.across(q.place)
		said := q.i + q.g*(v-q.v)
		wasI, wasV := q.i, q.v
		q.i, q.g = n.mixedAt(BranchID(q.id), v)
		q.v = v
		if step := v - wasV; it > kinked && math.Abs(step) > 1e-12 {
			// A held current is flat on either side of its knee: along the tangent
			// alone Newton would jump from one side to the other for ever.
			q.g = math.Max(q.g, (q.i-wasI)/step)
		}
		if !first {
			gap := math.Abs(said - q.i)
			worst = math.Max(worst, gap)
			if !(gap <= s.AbsTolA+s.RelTol*q.i) {
				ok = false
			}
		}
		s.add(q.place, q.g, q.i-q.g*v)
	}
	return worst, ok
}

// mixedVolts is the voltage over a branch at a current and dv/di.
func (n *Net) mixedVolts(b *branch, i float64) (v, r float64) {
	i /= b.factor
	v, r = b.ohms*i, b.ohms
	for k := b.first; k < b.first+b.n; k++ {
		dv, dr := n.leds[k].volts(i, n.shifts[k])
		v, r = v+dv, r+dr
	}
	return v, r / b.factor
}

// mixedAt is the current of a branch at a voltage and di/dv, by Newton in ln i
// between bounds.
func (n *Net) mixedAt(id BranchID, volts float64) (i, g float64) {
	b := &n.branches[id]
	if b.law != nil {
		return b.law.Amps(n.Branch(id), volts)
	}
	if !b.reg.IsZero() {
		return n.regulatedAt(b, volts)
	}
	const least = 1e-18
	none, r := n.mixedVolts(b, least)
	if !(none < volts) {
		return 0, math.Min(1e-15, 1/r)
	}
	lo, hi := math.Log(least), math.Log(1e9)
	if b.ohms > 0 { // none may be below 0, and volts, too: a leaky LED of a lower voltage than its kind
		hi = math.Log(least + (volts-none)*b.factor/b.ohms)
	}
	x := hi
	for range 200 {
		var v float64
		i = math.Exp(x)
		v, r = n.mixedVolts(b, i)
		if v > volts {
			hi = x
		} else {
			lo = x
		}
		dx := (volts - v) / (r * i)
		if math.Abs(dx) < 1e-13 {
			break
		}
		if y := x + dx; y > lo && y < hi {
			x = y
			continue
		}
		if hi-lo < 1e-14*math.Abs(lo) {
			break
		}
		x = (lo + hi) / 2
	}
	return i, 1 / r
}
