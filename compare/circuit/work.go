package circuit

// cell is one lumped branch as the solver works on it, 64 bytes: one line of
// cache. a = i + i0 and w = ln(a/i0) are kept together, so that a step needs
// neither exp nor log when it is small.
type cell struct {
	r, m, v0, i0 float64
	a, w         float64
	den, vm      float64 // 1/(r a + m) and the voltage at a
}

// place is where a load hangs. pos is where its return's coupling to its node
// is kept; without meaning for Ground 0.
type place struct {
	id   int32
	node Node
	gnd  Ground
	pos  int32
	// stamp of the branch when it was listed: what a and w belong to.
	stamp int32
}

// run is the cells of one node.
type run struct {
	node       Node
	first, end int32
}

// slow is a branch that isn't lumped, with its current at the last voltage.
type slow struct {
	place
	i, g, v float64
}

// state is where Newton stands. There is a second one for Home.
type state struct {
	v, vg      []float64 // by Node, by Ground
	da, dw     []float64 // feed diodes, as in cell, by Node
	vin, iout  []float64 // converters, by Node
	low        []bool    // converter out of regulation; output held at its supply
	warm       []bool    // by Node: v and its kin mean something
	ba, bw     []float64 // lumped branches, by BranchID; current only after flush
	stamp      []int32   // of the branch that ba, bw belong to
	cc         bool
	groundWarm bool
}

func newState(n *Net) state {
	p, b := len(n.el), len(n.branches)
	f := make([]float64, 5*p+2*b+len(n.gnd))
	cut := func(k int) (s []float64) { s, f = f[:k:k], f[k:]; return s }
	return state{v: cut(p), da: cut(p), dw: cut(p), vin: cut(p), iout: cut(p), ba: cut(b), bw: cut(b),
		vg:  cut(len(n.gnd)),
		low: make([]bool, p), warm: make([]bool, p), stamp: make([]int32, b)}
}

func (s *state) copyFrom(o *state) {
	copy(s.v, o.v)
	copy(s.vg, o.vg)
	copy(s.da, o.da)
	copy(s.dw, o.dw)
	copy(s.vin, o.vin)
	copy(s.iout, o.iout)
	copy(s.low, o.low)
	copy(s.warm, o.warm)
	copy(s.ba, o.ba)
	copy(s.bw, o.bw)
	copy(s.stamp, o.stamp)
	s.cc, s.groundWarm = o.cc, o.groundWarm
}

// coef is a linearised feed element:
//
//	v(node) = alpha v(parent) + eps v(ret) + e - r I,  draw at the parent = gamma I
type coef struct {
	r, e, alpha, gamma, eps float64
	den                     float64 // 1/(1 + G r), kept for the way back
	epos                    int32   // coupling of the parent to ret
	parent                  Node
	ret                     Ground
	plain                   bool // a resistor: alpha = gamma = 1, e = eps = 0
}

type work struct {
	// RelTol and AbsTolA say how well each branch's current must meet its own law.
	RelTol, AbsTolA float64
	MaxIterations   int

	cur, kept state
	hasHome   bool
	homeShape int  // of the Net at Home
	cold      bool // nothing in cur means anything
	shape     int  // of the Net that the lists below belong to

	act    []Node // nodes that lead to something, parents first
	alive  []bool // by Node: not switched off
	leads  []bool // by Node: act as a set
	odd    []Node // of act: those that aren't resistors
	idle   []Node // alive, but nothing hangs there: they carry no current
	runs   []run
	cells  []cell
	where  []place // of cells
	slows  []slow
	ohmics []place
	draws  []place
	below  []bool // by DrawID: in its falling part
	shunts []place
	counts []int32

	g, j, i []float64 // by Node: conductance, current at 0 V, current through the element
	c       []coef
	old     []float64 // node voltages of the iteration before, when damping

	ret returns

	held    held
	touched []int32 // cells
}

func (s *Solver) init(n *Net) {
	s.n, s.cold = n, true
	s.cur = newState(n)
	p := len(n.el)
	s.act = make([]Node, 0, p)
	s.alive, s.leads = make([]bool, p), make([]bool, p)
	s.runs = make([]run, 0, p)
	b := len(n.branches)
	s.cells, s.where = make([]cell, 0, b), make([]place, 0, b)
	s.draws, s.below = make([]place, 0, len(n.draws)), make([]bool, len(n.draws))
	s.shunts = make([]place, 0, len(n.shunts))
	s.counts = make([]int32, p+1)
	s.g, s.j, s.i, s.old = make([]float64, p), make([]float64, p), make([]float64, p), make([]float64, p)
	s.c = make([]coef, p)
	for k := range n.el {
		e := &n.el[k]
		s.c[k] = coef{parent: e.parent, ret: e.ret, plain: e.kind == resistorElement, alpha: 1, gamma: 1}
	}
	s.ret.init(n, s.c)
}

// flush keeps the cells' currents by BranchID.
func (s *Solver) flush() {
	for k := range s.cells {
		id := s.where[k].id
		s.cur.ba[id], s.cur.bw[id], s.cur.stamp[id] = s.cells[k].a, s.cells[k].w, s.where[k].stamp
	}
}

func (s *Solver) home() {
	s.flush()
	if s.kept.v == nil {
		s.kept = newState(s.n)
	}
	s.kept.copyFrom(&s.cur)
	s.hasHome, s.homeShape = !s.cold, s.shape
}

// relist makes the lists anew: what is switched on and how branches are treated
// has changed.
func (s *Solver) relist() {
	n := s.n
	s.shape = n.shape
	s.alive[0] = true
	for k := range n.el {
		e := &n.el[k]
		if k > 0 {
			s.alive[k] = s.alive[e.parent] && !e.off && n.ohms[k] <= maxOhms && (e.kind != outputElement || e.lit ||
				!e.out.FollowsSupply)
		}
		s.leads[k] = k == 0
	}
	clear(s.counts)
	s.cells, s.where, s.slows, s.ohmics = s.cells[:0], s.where[:0], s.slows[:0], s.ohmics[:0]
	total := int32(0)
	for id := range n.branches {
		b := &n.branches[id]
		if b.off || b.kind == blocked || !s.alive[b.at] {
			continue
		}
		s.leads[b.at] = true
		at := place{int32(id), b.at, b.ret, s.ret.pos(b.at, b.ret), b.stamp}
		switch b.kind {
		case lumped:
			s.counts[b.at]++
			total++
		case ohmic:
			s.ohmics = append(s.ohmics, at)
		default:
			s.slows = append(s.slows, slow{place: at})
		}
	}
	s.draws, s.shunts = s.draws[:0], s.shunts[:0]
	for id, d := range n.draws {
		if !d.off && s.alive[d.at] {
			s.leads[d.at] = true
			s.draws = append(s.draws, place{int32(id), d.at, d.ret, s.ret.pos(d.at, d.ret), 0})
		}
	}
	for id, d := range n.shunts {
		if !d.off && s.alive[d.at] && d.ohms <= maxOhms {
			s.leads[d.at] = true
			s.shunts = append(s.shunts, place{int32(id), d.at, d.ret, s.ret.pos(d.at, d.ret), 0})
		}
	}
	for k := len(n.el) - 1; k > 0; k-- {
		if n.el[k].kind == converterElement && s.alive[k] {
			s.leads[k] = true // it idles
		}
		if s.leads[k] {
			s.leads[n.el[k].parent] = true
		}
	}
	s.act, s.odd, s.idle, s.runs = s.act[:0], s.odd[:0], s.idle[:0], s.runs[:0]
	at := int32(0)
	for k := range n.el {
		if !s.leads[k] {
			if s.alive[k] {
				s.idle = append(s.idle, Node(k))
			}
			continue
		}
		s.act = append(s.act, Node(k))
		if k > 0 && !s.c[k].plain {
			s.odd = append(s.odd, Node(k))
		}
		if c := s.counts[k]; c > 0 {
			s.runs = append(s.runs, run{Node(k), at, at})
			s.counts[k] = int32(len(s.runs))
			at += c
		}
	}
	s.cells, s.where = s.cells[:total], s.where[:total]
	for id := range n.branches {
		b := &n.branches[id]
		if b.off || b.kind != lumped || !s.alive[b.at] {
			continue
		}
		r := &s.runs[s.counts[b.at]-1]
		s.cells[r.end] = cell{m: b.m, i0: b.i0}
		s.where[r.end] = place{int32(id), b.at, b.ret, s.ret.pos(b.at, b.ret), b.stamp}
		r.end++
	}
}

// maxOhms and above is open.
const maxOhms = 1e15
