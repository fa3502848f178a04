package belief

import (
	"math"
	"slices"

	"sealworthy/compare/fault"
	"sealworthy/compare/linear"
)

// moment is what one thing that may be so makes of a draw, over the voltages:
// mean + load' z + e, z standard normal by factor, e of covariance own.
type moment struct {
	mean []float64
	own  [len(shareShifts)][]float64 // n x n, row by row, by shift of the shares
	load []float64                   // by factor, then voltage: for one standard deviation
	cov  []float64                   // own[0] + load' load
}

// moments are those of a healthy group and of every variant.
type moments struct {
	n       int
	healthy moment
	of      []moment
	// pieces is what of the healthy one's own is of its branches: the rest is of wires and
	// joints, which are others where the pieces are clipped elsewhere.
	pieces [len(shareShifts)][]float64
}

func newMoments(n, factors, variants int) *moments {
	m := &moments{n: n, of: make([]moment, variants)}
	m.healthy = newMoment(n, factors)
	for i := range m.pieces {
		m.pieces[i] = make([]float64, n*n)
	}
	for i := range m.of {
		m.of[i] = newMoment(n, factors)
	}
	return m
}

func newMoment(n, factors int) moment {
	flat := make([]float64, n+(1+len(shareShifts))*n*n+factors*n)
	cut := func(k int) (s []float64) { s, flat = flat[:k:k], flat[k:]; return s }
	m := moment{mean: cut(n), cov: cut(n * n), load: cut(factors * n)}
	for i := range m.own {
		m.own[i] = cut(n * n)
	}
	return m
}

func (m *moment) clone() moment {
	out := moment{mean: slices.Clone(m.mean), cov: slices.Clone(m.cov), load: slices.Clone(m.load)}
	for i := range m.own {
		out.own[i] = slices.Clone(m.own[i])
	}
	return out
}

// total brings cov to what own and load make of it.
func (m *moment) total() {
	n := len(m.mean)
	copy(m.cov, m.own[0])
	for f := 0; f < len(m.load); f += n {
		row := m.load[f : f+n]
		for a, x := range row {
			if x == 0 {
				continue
			}
			for b, y := range row {
				m.cov[a*n+b] += x * y
			}
		}
	}
}

// widen adds f^2 v v' to what nothing shares.
func (m *moment) widen(f float64, v []float64) {
	n := len(v)
	for i := range n {
		for j := range n {
			x := f * f * v[i] * v[j]
			m.cov[i*n+j] += x
			for s := range m.own {
				m.own[s][i*n+j] += x
			}
		}
	}
}

// add makes of m what more of the difference between b and base adds to it.
func (m *moment) add(more float64, b, base *moment) {
	for k := range m.mean {
		m.mean[k] += more * (b.mean[k] - base.mean[k])
	}
	for k := range m.load {
		m.load[k] += more * (b.load[k] - base.load[k])
	}
	n := len(m.mean)
	is := make([]float64, n*n)
	for s := range m.own {
		was := slices.Clone(m.own[s])
		for k := range was {
			m.own[s][k] += more * (b.own[s][k] - base.own[s][k])
		}
		for k := range n {
			m.own[s][k*n+k] = math.Max(m.own[s][k*n+k], 0.05*base.own[s][k*n+k])
		}
		if copy(is, m.own[s]); linear.Factor(is, n) {
			continue
		}
		// What all branches have of it together falls by their square: so it goes by the variances alone.
		for k := range n {
			for j := range k {
				v := 0.0
				if by := was[k*n+k] * was[j*n+j]; by > 0 {
					v = was[k*n+j] * math.Sqrt(m.own[s][k*n+k]*m.own[s][j*n+j]/by)
				}
				m.own[s][k*n+j], m.own[s][j*n+k] = v, v
			}
		}
	}
	m.total()
}

// leftOf is what an effect leaves of a draw, as a fraction.
func leftOf(amps, delta float64) float64 {
	if !(amps > fewAmps) {
		return 1
	}
	return math.Max(0, math.Min(3, 1+delta/amps))
}

// unevenBy widens by how much the places differ that a variant stands for.
func (m *moment) unevenBy(v *variant) {
	if v.uneven == nil {
		return
	}
	x := make([]float64, len(v.delta))
	for k := range x {
		x[k] = v.uneven[k] * v.delta[k]
	}
	m.widen(1, x)
}

// scaled takes the moments of what has but a nominal effect from the healthy
// ones: a draw that is twice as large is twice as uncertain.
func (m *moments) scaled(i int, s *side, v *variant) {
	n := m.n
	f := make([]float64, n)
	for k := range n {
		f[k] = leftOf(s.y0[k], v.delta[k])
	}
	to := &m.of[i]
	for k := range n {
		to.mean[k] = s.y0[k] + v.delta[k] + f[k]*(m.healthy.mean[k]-s.y0[k])
		for j := range n {
			to.cov[k*n+j] = f[k] * f[j] * m.healthy.cov[k*n+j]
			for s := range to.own {
				to.own[s][k*n+j] = f[k] * f[j] * m.healthy.own[s][k*n+j]
			}
		}
	}
	for i, x := range m.healthy.load {
		to.load[i] = f[i%n] * x
	}
	to.widen(v.rel, v.delta)
}

// severities are how bad things may get against their nominal effect where what
// gives way first decides: a missing resistor, an overloaded output.
var severities = []Node{{0.5, .1}, {0.7, .1}, {1, .55}, {1.4, .1}, {2, .1}, {3, .05}}

// severe lists the kinds of which only the least effect is known.
func severe(k fault.Kind) bool { return k == fault.MissingOhms || k == fault.Overloaded }

// spread gives the variants of severe hypotheses their severities, bounds every
// draw by the supply's limit, and closes the gaps between the nodes of a grid.
func (m *moments) spread(s *side, hs []Hypothesis, vs []*variant) []*variant {
	n := m.n
	var out []*variant
	var of []moment
	for i, v := range vs {
		if !severe(hs[v.hyp].Kinds[0]) {
			out, of = append(out, v), append(of, m.of[i])
			continue
		}
		hs[v.hyp].Grid = slices.Clone(severities)
		for _, g := range severities {
			w := *v
			w.at, w.weight = g.At, v.weight*g.Weight
			x := m.of[i].clone()
			d := make([]float64, n)
			for k := range n {
				d[k] = m.of[i].mean[k] - m.healthy.mean[k]
				x.mean[k] = m.healthy.mean[k] + g.At*d[k]
			}
			if g.At != 1 {
				x.widen(0.17*g.At, d)
			}
			out, of = append(out, &w), append(of, x)
		}
	}
	m.of = of
	m.bound(s)
	m.smooth(out)
	return out
}

// bound holds draws at the supply's limit there, where they are known to a few per cent.
func (m *moments) bound(s *side) {
	for k, v := range s.volts {
		limit := s.bench.LimitAt(v)
		for i := range m.of {
			if m.of[i].mean[k] > limit {
				m.of[i].fix(k, limit, 0.03*limit)
			}
		}
	}
}

// fix lets one voltage have a mean and a standard uncertainty of its own.
func (m *moment) fix(k int, mean, u float64) {
	n := len(m.mean)
	m.mean[k] = mean
	for f := k; f < len(m.load); f += n {
		m.load[f] = 0
	}
	for s := range m.own {
		for j := range n {
			m.own[s][k*n+j], m.own[s][j*n+k] = 0, 0
		}
		m.own[s][k*n+k] = u * u
	}
	m.total()
}

// smooth widens each node of a grid towards its neighbours, so that a value
// between two of them isn't unlikely.
func (m *moments) smooth(vs []*variant) {
	for i, v := range vs {
		if v.how != feed && (v.how != altered || v.law.plus == 0) {
			continue
		}
		var low, high *moment
		for _, j := range []int{i - 1, i + 1} {
			if j < 0 || j >= len(vs) || vs[j].hyp != v.hyp || vs[j].at == wireOffOhms {
				continue
			}
			if j < i {
				low = &m.of[j]
			} else {
				high = &m.of[j]
			}
		}
		switch {
		case low == nil:
			low = &m.of[i]
		case high == nil:
			high = &m.of[i]
		}
		if low == nil || high == nil {
			continue
		}
		gap := make([]float64, m.n)
		for k := range gap {
			gap[k] = (high.mean[k] - low.mean[k]) / 2
		}
		// Half of a step to each side, rectangular.
		m.of[i].widen(1/math.Sqrt(12), gap)
	}
}
