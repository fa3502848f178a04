package belief

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
	"sealworthy/compare/wiring"
)

// side is the circuit that the groups are measured in, nominal, with one solver
// for each voltage so that each starts from its own operating point.
type side struct {
	p      *plan.Plan
	bench  scene.Scene
	volts  []float64
	groups []int // indices in the plan
	w      *wiring.Wired
	lit    []lane
	dark   *wiring.Wired // with the outputs dark; nil: no board
	unlit  []lane
	y0     []float64 // nominal draw, by voltage
	list   []branch
	nodes  map[circuit.Node]thevenin
}

// lane is one voltage.
type lane struct {
	volts  float64
	solver *circuit.Solver
	point  *circuit.Point
}

// branch is one branch that is lit, or one more of a light that isn't there.
type branch struct {
	id    circuit.BranchID // -1: not there
	group int
	light int
	place int // among those of its light, from 0
	node  circuit.Node
	ret   circuit.Ground
	law   law
	v0, i []float64 // nominal voltage and current over it, by voltage
}

// thevenin is what a node gives way by, by voltage: the voltage at it falls by
// ohms, the draw at the jack changes by gain, for each ampere.
type thevenin struct {
	ohms, gain []float64
	known      []bool
}

func newSide(p *plan.Plan, names []string, volts []float64, b scene.Scene) (*side, error) {
	if err := checkVolts(volts); err != nil {
		return nil, err
	}
	if err := b.Check(); err != nil {
		return nil, err
	}
	s := &side{p: p, bench: b, volts: volts, nodes: map[circuit.Node]thevenin{}}
	jack := ""
	for _, name := range names {
		gi := p.GroupAt(name)
		if gi < 0 {
			return nil, fmt.Errorf("no group %q in the plan", name)
		}
		g := p.Groups[gi]
		if g.AsFound {
			return nil, fmt.Errorf("group %q is as found: nothing is known of its inside", name)
		}
		j := p.JackOf(p.JointOf(g))
		if jack != "" && j != jack {
			return nil, fmt.Errorf("groups %q and %q hang on different jacks, so they can't be measured together",
				names[0], name)
		}
		jack = j
		if !slices.Contains(s.groups, gi) {
			s.groups = append(s.groups, gi)
		}
	}
	if len(s.groups) == 0 {
		return nil, fmt.Errorf("no group to judge")
	}
	room := b.RoomOr()
	w, err := wiring.Build(p, jack, wiring.Options{AmbientC: &room.C, SeriesOhm: b.SeriesOhm()})
	if err != nil {
		return nil, err
	}
	s.w = w
	board := s.switchOn(w, true)
	if s.lit, err = lanes(w, volts); err != nil {
		return nil, err
	}
	if board {
		s.dark = w.Clone()
		s.switchOn(s.dark, false)
		if s.unlit, err = lanes(s.dark, volts); err != nil {
			return nil, err
		}
	}
	s.y0 = make([]float64, len(volts))
	for k := range volts {
		s.y0[k] = s.draw(k)
	}
	s.branches()
	return s, nil
}

func checkVolts(volts []float64) error {
	if len(volts) == 0 {
		return fmt.Errorf("no voltage to judge at")
	}
	for i, v := range volts {
		if !(v > 0 && v <= 60) {
			return fmt.Errorf("%g V: expected above 0 and up to 60 V", v)
		}
		if slices.Contains(volts[:i], v) {
			return fmt.Errorf("%g V is listed twice", v)
		}
	}
	return nil
}

// switchOn leaves on what is measured: the groups and their boards, lit or dark.
// It tells whether there is a board.
func (s *side) switchOn(w *wiring.Wired, lit bool) bool {
	w.SetAll(false)
	w.LightAll(false)
	board := false
	for _, gi := range s.groups {
		g := s.p.Groups[gi]
		for i, t := range w.Terminals {
			if t.Group == gi && lit || t.Board >= 0 && s.p.Boards[t.Board].Name == g.Board {
				w.SetOn(i, true)
			}
		}
		if bi, oi, ok := wiring.OutputOf(s.p, g); ok {
			board = true
			w.SetLit(bi, oi, lit)
		}
	}
	return board
}

func lanes(w *wiring.Wired, volts []float64) ([]lane, error) {
	out := make([]lane, len(volts))
	for k, v := range volts {
		// The first solve is the wiring's own, for the plan's words in an error.
		if err := w.Solve(circuit.Source{EmfV: v}); err != nil {
			return nil, err
		}
		out[k] = lane{v, circuit.NewSolver(w.Net), w.Net.NewPoint()}
		if err := out[k].solver.Solve(circuit.Source{EmfV: v}, out[k].point); err != nil {
			return nil, err
		}
		out[k].solver.Home()
	}
	return out, nil
}

// home makes the nominal operating point the start of every solve that follows,
// after the circuit was touched.
func (s *side) home() error {
	for _, ls := range [][]lane{s.lit, s.unlit} {
		for k := range ls {
			if err := ls[k].solve(0); err != nil {
				return err
			}
			ls[k].solver.Home()
		}
	}
	return nil
}

func (l *lane) solve(dv float64) error {
	return l.solver.Solve(circuit.Source{EmfV: math.Max(0, l.volts+dv)}, l.point)
}

// draw is what the lanes of one voltage show now.
func (s *side) draw(k int) float64 {
	a := s.lit[k].point.SourceA
	if s.dark != nil {
		a -= s.unlit[k].point.SourceA
	}
	return a
}

// solveLit brings the lit lanes to the circuit as it stands and writes the draw,
// at nominal voltage. The dark lanes stay.
func (s *side) solveLit(into []float64) error {
	for k := range s.lit {
		if err := s.lit[k].solve(0); err != nil {
			return err
		}
		into[k] = s.draw(k)
	}
	return nil
}

// branches lists what is lit with its nominal law, and one more of each light.
func (s *side) branches() {
	for _, gi := range s.groups {
		g := &s.w.Groups[gi]
		places := make([]int, len(s.p.Groups[gi].Lights))
		for _, b := range g.Branches {
			x := branch{id: b.ID, group: gi, light: b.Light, place: places[b.Light], node: b.Node, ret: g.Ret}
			places[b.Light]++
			s.list = append(s.list, s.nominal(x))
		}
		for li := range places {
			if places[li] == 0 {
				continue
			}
			k := slices.IndexFunc(s.list, func(b branch) bool { return b.group == gi && b.light == li })
			x := s.list[k]
			x.id, x.place, x.node = -1, places[li], g.Far
			s.list = append(s.list, x)
		}
	}
	// The spare ones carry nothing; their voltage is that of their node.
	for i := range s.list {
		if b := &s.list[i]; b.id < 0 {
			b.v0, b.i = make([]float64, len(s.volts)), make([]float64, len(s.volts))
			for k := range s.lit {
				b.v0[k] = s.lit[k].point.NodeV[b.node] - s.lit[k].point.GroundV[b.ret]
			}
		}
	}
}

func (s *side) nominal(b branch) branch {
	b.law = lawOf(s.w.Net.Branch(b.id))
	b.v0, b.i = make([]float64, len(s.volts)), make([]float64, len(s.volts))
	for k := range s.lit {
		pt := s.lit[k].point
		b.v0[k], b.i[k] = pt.NodeV[b.node]-pt.GroundV[b.ret], pt.BranchA[b.id]
	}
	return b
}

// aside is what flows with the groups off, by voltage. On a board that is out of the draw already.
func (s *side) aside() ([]float64, error) {
	out := make([]float64, len(s.volts))
	if s.dark != nil {
		return out, nil
	}
	w := s.w.Clone()
	w.SetAll(false)
	for k, v := range s.volts {
		if err := w.Solve(circuit.Source{EmfV: v}); err != nil {
			return nil, err
		}
		out[k] = w.JackAmps(w.Point)
	}
	return out, nil
}

// seen is the nominal voltage over the groups' branches, or at the source where they have none.
func (s *side) seen() []float64 {
	if len(s.list) == 0 {
		return s.volts
	}
	return s.list[0].v0
}

// giving finds out how a node gives way, by opening one of its branches: at each
// voltage the one that carries most. Where none carries anything, what the
// nearest other voltage has stands in for the ohms.
func (s *side) giving(at circuit.Node) (thevenin, error) {
	if t, ok := s.nodes[at]; ok {
		return t, nil
	}
	n := len(s.volts)
	t := thevenin{make([]float64, n), make([]float64, n), make([]bool, n)}
	probes := map[int][]int{} // branch: voltages
	for k := range n {
		t.gain[k] = 1
		best := -1
		for i := range s.list {
			b := &s.list[i]
			if b.id >= 0 && b.node == at && b.i[k] > leastProbeA && (best < 0 || b.i[k] > s.list[best].i[k]) {
				best = i
			}
		}
		if best >= 0 {
			probes[best] = append(probes[best], k)
		}
	}
	for i := range s.list {
		if len(probes[i]) == 0 {
			continue
		}
		b := &s.list[i]
		s.w.Net.SetBranchOpen(b.id, true)
		for _, k := range probes[i] {
			if err := s.lit[k].solve(0); err != nil {
				return t, err
			}
			pt := s.lit[k].point
			t.known[k] = true
			t.ohms[k] = math.Max(0, (pt.NodeV[at]-pt.GroundV[b.ret]-b.v0[k])/b.i[k])
			t.gain[k] = (s.y0[k] - s.draw(k)) / b.i[k]
		}
		s.w.Net.SetBranchOpen(b.id, false)
		if err := s.home(); err != nil {
			return t, err
		}
	}
	for k := range s.volts {
		near := -1
		for j := range s.volts {
			if t.known[j] && (near < 0 || math.Abs(s.volts[j]-s.volts[k]) < math.Abs(s.volts[near]-s.volts[k])) {
				near = j
			}
		}
		if near >= 0 {
			t.ohms[k] = t.ohms[near]
		}
	}
	s.nodes[at] = t
	return t, nil
}

// leastProbeA: a branch that carries less tells nothing of its node.
const leastProbeA = 1e-6

func sum(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v
	}
	return s
}
