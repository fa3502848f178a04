package circuit

import "math"

// linearise writes the coefficients of every active feed element at the present
// state, and adds what a converter draws beside its share of the output current.
func (s *Solver) linearise() {
	n, st := s.n, &s.cur
	for _, k := range s.odd {
		e, c := &n.el[k], &s.c[k]
		switch e.kind {
		case diodeElement:
			i := st.da[k] - e.diode.SaturationA
			c.r = e.diode.SeriesOhm + e.diode.SlopeV/st.da[k]
			vd := e.diode.SeriesOhm*i + e.diode.SlopeV*st.dw[k] + e.diode.ShiftV
			c.e, c.alpha, c.gamma, c.eps = c.r*i-vd, 1, 1, 0
		case outputElement:
			c.r = e.out.Ohms
			switch {
			case e.lit && (e.out.FollowsSupply || st.low[k]):
				c.e, c.alpha, c.gamma, c.eps = 0, 1, 1, 0
			case e.lit:
				c.e, c.alpha, c.gamma, c.eps = e.out.OpenV, 0, e.out.Reflect, 1
			default:
				c.e, c.alpha, c.gamma, c.eps = 0, 0, 0, 1
			}
		case converterElement:
			s.lineariseConverter(k, e, c)
		}
	}
}

func (s *Solver) lineariseConverter(k Node, e *element, c *coef) {
	cv := &e.conv
	at := place{node: e.parent, gnd: e.ret, pos: c.epos}
	c.r = 0
	if s.cur.low[k] {
		ratio := cv.OutV / cv.minIn()
		c.e, c.alpha, c.eps, c.gamma = 0, ratio, 1-ratio, 1
		if !cv.Linear {
			c.gamma = ratio / cv.Efficiency
		}
		s.add(at, cv.IdleA/cv.minIn(), 0)
		return
	}
	c.e, c.alpha, c.eps, c.gamma = cv.OutV, 0, 1, 1
	if cv.Linear {
		s.add(at, 0, cv.IdleA)
		return
	}
	// Constant power: p/v is p/v0 - p/v0^2 (v - v0) near v0.
	v := s.cur.vin[k]
	c.gamma = cv.OutV / (cv.Efficiency * v)
	gx := -c.gamma * s.cur.iout[k] / v
	s.add(at, gx, cv.IdleA-gx*v)
}

// leastDiodeA keeps a feed diode that blocks from becoming an infinite resistance.
const leastDiodeA = 1e-16

// follow takes diodes, converters and outputs to the present voltages and
// currents. It is false when one of them isn't where it was taken to be.
func (s *Solver) follow() bool {
	n, st, ok := s.n, &s.cur, true
	for _, k := range s.odd {
		e := &n.el[k]
		switch e.kind {
		case diodeElement:
			a := st.da[k]
			x := (s.i[k] + e.diode.SaturationA - a) / a
			if !(math.Abs(x)*a <= 1e-13+1e-6*a) {
				ok = false
			}
			if x > -0.9 {
				st.dw[k] += math.Log1p(x)
				st.da[k] = a * (1 + x)
			} else {
				st.dw[k] -= 3
				st.da[k] = a * math.Exp(-3)
			}
			if st.da[k] < leastDiodeA {
				st.da[k], st.dw[k] = leastDiodeA, math.Log(leastDiodeA/e.diode.SaturationA)
			}
		case converterElement:
			v := st.v[e.parent] - st.vg[e.ret]
			least := e.conv.minIn()
			if low := v < least; low != st.low[k] && math.Abs(v-least) > 1e-10*least {
				st.low[k], ok = low, false
			}
			if v = math.Max(v, least); !(math.Abs(v-st.vin[k]) <= 1e-7*v) ||
				!(math.Abs(s.i[k]-st.iout[k]) <= 1e-12+1e-7*math.Abs(s.i[k])) {
				ok = ok && (st.low[k] || e.conv.Linear)
			}
			st.vin[k], st.iout[k] = v, s.i[k]
		case outputElement:
			if e.lit && e.out.AtMostSupply && !e.out.FollowsSupply {
				v := st.v[e.parent] - st.vg[e.ret]
				if low := v < e.out.OpenV; low != st.low[k] && math.Abs(v-e.out.OpenV) > 1e-10*(1+e.out.OpenV) {
					st.low[k], ok = low, false
				}
			}
		}
	}
	return ok
}

// coldElement puts a node at the voltage it has without current, and its
// element at a likely place.
func (s *Solver) coldElement(k Node, emf float64) {
	n, st := s.n, &s.cur
	if k == 0 {
		st.v[0] = emf
		return
	}
	e := &n.el[k]
	v := st.v[e.parent]
	st.low[k] = false
	switch e.kind {
	case diodeElement:
		st.da[k] = 0.01 + e.diode.SaturationA
		st.dw[k] = math.Log(st.da[k] / e.diode.SaturationA)
	case converterElement:
		in := v - st.vg[e.ret]
		least := e.conv.minIn()
		st.low[k] = in < least
		st.vin[k], st.iout[k] = math.Max(in, least), 0
		if v = st.vg[e.ret] + e.conv.OutV; st.low[k] {
			v = st.vg[e.ret] + in*e.conv.OutV/least
		}
	case outputElement:
		st.low[k] = e.lit && e.out.AtMostSupply && v-st.vg[e.ret] < e.out.OpenV
		switch {
		case e.lit && (e.out.FollowsSupply || st.low[k]):
		case e.lit:
			v = st.vg[e.ret] + e.out.OpenV
		default:
			v = st.vg[e.ret]
		}
	}
	st.v[k] = v
}
