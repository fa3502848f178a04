package circuit

import "math"

// returns is the minus side. What the plus side does to it comes from the
// elimination as the current into each return, k + d v, with v the voltages of
// the returns; the few equations of the returns are solved directly.
type returns struct {
	m    int     // returns beside Ground 0
	off  []int32 // by Node: where its couplings begin in idx, up, b, c
	idx  []int32 // the return coupled to
	up   []int32 // the same return among the parent's couplings
	b    []float64
	c    []float64 // current into that return per volt of the node
	d, k []float64
	lu   []float64
	x    []float64
	amps []float64 // by Ground
	gnd  []ground
}

func (r *returns) init(n *Net, c []coef) {
	p := len(n.el)
	r.m, r.gnd = len(n.gnd)-1, n.gnd
	r.amps = make([]float64, r.m+1)
	if r.m == 0 {
		return
	}
	lists := make([][]int32, p)
	add := func(at Node, g Ground) {
		if g == 0 {
			return
		}
		for _, h := range lists[at] {
			if h == int32(g) {
				return
			}
		}
		lists[at] = append(lists[at], int32(g))
	}
	for k := range n.branches {
		add(n.branches[k].at, n.branches[k].ret)
	}
	for k := range n.draws {
		add(n.draws[k].at, n.draws[k].ret)
	}
	for k := range n.shunts {
		add(n.shunts[k].at, n.shunts[k].ret)
	}
	for k := p - 1; k > 0; k-- {
		e := &n.el[k]
		add(e.parent, e.ret)
		for _, g := range lists[k] {
			add(e.parent, Ground(g))
		}
	}
	r.off = make([]int32, p+1)
	for k, l := range lists {
		r.off[k+1] = r.off[k] + int32(len(l))
		r.idx = append(r.idx, l...)
	}
	t := len(r.idx)
	r.up, r.b, r.c = make([]int32, t), make([]float64, t), make([]float64, t)
	for k := 1; k < p; k++ {
		e := &n.el[k]
		for q := r.off[k]; q < r.off[k+1]; q++ {
			r.up[q] = r.pos(e.parent, Ground(r.idx[q]))
		}
		c[k].epos = r.pos(e.parent, e.ret)
	}
	r.d, r.k = make([]float64, r.m*r.m), make([]float64, r.m)
	r.lu, r.x = make([]float64, r.m*r.m), make([]float64, r.m)
}

// pos is where the coupling of a node to a return is kept; 0 for Ground 0.
func (r *returns) pos(at Node, g Ground) int32 {
	if g == 0 || r.m == 0 {
		return 0
	}
	for q := r.off[at]; q < r.off[at+1]; q++ {
		if r.idx[q] == int32(g) {
			return q
		}
	}
	return 0
}

func (r *returns) clear() {
	clear(r.b)
	clear(r.c)
	clear(r.d)
	clear(r.k)
}

// load adds i = g (v - v(ret)) + j flowing from a node into a return.
func (r *returns) load(at place, g, j float64) {
	if at.gnd == 0 {
		return
	}
	q := int(at.gnd) - 1
	r.b[at.pos] -= g
	r.c[at.pos] += g
	r.d[q*r.m+q] -= g
	r.k[q] += j
}

// couple is b times the return voltages at a node.
func (r *returns) couple(at Node, vg []float64) float64 {
	s := 0.0
	for q := r.off[at]; q < r.off[at+1]; q++ {
		s += r.b[q] * vg[r.idx[q]]
	}
	return s
}

// eliminate folds a node's couplings into its parent's and into d and k. gc is
// the coefficients of its element, j and gd what the plus side found for it.
func (r *returns) eliminate(at Node, e *coef, ret Ground, j, gd float64) {
	lo, hi := r.off[at], r.off[at+1]
	for q := lo; q < hi; q++ {
		r.b[r.up[q]] += e.gamma * e.den * r.b[q]
		cd := r.c[q] * e.den
		if cd == 0 {
			continue
		}
		r.c[r.up[q]] += cd * e.alpha
		row := int(r.idx[q]-1) * r.m
		r.k[r.idx[q]-1] += cd * (e.e - e.r*j)
		for h := lo; h < hi; h++ {
			r.d[row+int(r.idx[h]-1)] -= cd * e.r * r.b[h]
		}
		if ret > 0 {
			r.d[row+int(ret-1)] += cd * e.eps
		}
	}
	if ret == 0 {
		return
	}
	// What the electronics takes in and doesn't give out goes back at ret.
	r.b[e.epos] += e.gamma * gd * e.eps
	x := e.gamma - 1
	if x == 0 {
		return
	}
	r.c[e.epos] += x * gd * e.alpha
	row := int(ret-1) * r.m
	r.k[ret-1] += x * (e.den*j + gd*e.e)
	for h := lo; h < hi; h++ {
		r.d[row+int(r.idx[h]-1)] += x * e.den * r.b[h]
	}
	r.d[row+int(ret-1)] += x * gd * e.eps
}

// root closes the plus side: v(0) = base - slope * b·v.
func (r *returns) root(base, slope float64) {
	for q := r.off[0]; q < r.off[1]; q++ {
		row := int(r.idx[q]-1) * r.m
		r.k[r.idx[q]-1] += r.c[q] * base
		for h := r.off[0]; h < r.off[1]; h++ {
			r.d[row+int(r.idx[h]-1)] -= r.c[q] * slope * r.b[h]
		}
	}
}

// solve finds the voltages of the returns. A return of 0 ohm and an open one
// are rows like any other, each scaled by its own resistance.
func (r *returns) solve(vg []float64) bool {
	m := r.m
	for g := m; g >= 1; g-- { // children come after their parents
		if p := int(r.gnd[g].parent); p > 0 {
			r.k[p-1] += r.k[g-1]
			for h := range m {
				r.d[(p-1)*m+h] += r.d[(g-1)*m+h]
			}
		}
	}
	for g := 1; g <= m; g++ {
		s1, s2 := 1.0, r.gnd[g].ohms
		if s2 > 1 {
			s1, s2 = math.Max(1/s2, 1/maxOhms), 1
		}
		row := r.lu[(g-1)*m : g*m]
		for h := range m {
			row[h] = -s2 * r.d[(g-1)*m+h]
		}
		row[g-1] += s1
		if p := int(r.gnd[g].parent); p > 0 {
			row[p-1] -= s1
		}
		r.x[g-1] = s2 * r.k[g-1]
	}
	if !luSolve(r.lu, r.x, m) {
		return false
	}
	for g := 1; g <= m; g++ {
		if math.IsNaN(r.x[g-1]) || math.IsInf(r.x[g-1], 0) {
			return false
		}
		vg[g] = r.x[g-1]
		i := r.k[g-1]
		for h := range m {
			i += r.d[(g-1)*m+h] * r.x[h]
		}
		r.amps[g] = i
	}
	return true
}

// luSolve solves a x = b in place by elimination with row pivoting.
func luSolve(a, b []float64, m int) bool {
	for c := range m {
		best := c
		for r := c + 1; r < m; r++ {
			if math.Abs(a[r*m+c]) > math.Abs(a[best*m+c]) {
				best = r
			}
		}
		if !(math.Abs(a[best*m+c]) > 0) {
			return false
		}
		if best != c {
			for h := c; h < m; h++ {
				a[c*m+h], a[best*m+h] = a[best*m+h], a[c*m+h]
			}
			b[c], b[best] = b[best], b[c]
		}
		for r := c + 1; r < m; r++ {
			f := a[r*m+c] / a[c*m+c]
			if f == 0 {
				continue
			}
			for h := c + 1; h < m; h++ {
				a[r*m+h] -= f * a[c*m+h]
			}
			b[r] -= f * b[c]
		}
	}
	for c := m - 1; c >= 0; c-- {
		for h := c + 1; h < m; h++ {
			b[c] -= a[c*m+h] * b[h]
		}
		b[c] /= a[c*m+c]
	}
	return true
}
