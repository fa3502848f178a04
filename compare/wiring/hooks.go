package wiring

import (
	"slices"

	"sealworthy/compare/circuit"
)

// SetOn switches one terminal, by index in Terminals. Terminals behind another
// jack are left alone.
func (w *Wired) SetOn(terminal int, on bool) {
	t := w.Terminals[terminal]
	if t.Group >= 0 {
		if g := &w.Groups[t.Group]; g.Here {
			w.Net.SetNodeOn(g.Far, on)
		}
		return
	}
	if b := &w.Boards[t.Board]; b.Here {
		w.Net.SetNodeOn(b.Node, on)
	}
}

// SetAll switches every terminal.
func (w *Wired) SetAll(on bool) {
	for t := range w.Terminals {
		w.SetOn(t, on)
	}
}

// SetLit lights or darkens an output of a board (index from 0). Build leaves the
// outputs of steady boards lit and those of blinkers dark.
func (w *Wired) SetLit(board, output int, lit bool) {
	if b := &w.Boards[board]; b.Here {
		w.Net.SetLit(b.Outputs[output], lit)
	}
}

// LightAll lights or darkens every output of every board.
func (w *Wired) LightAll(lit bool) {
	for b := range w.Boards {
		for o := range w.Plan.Boards[b].Outputs {
			w.SetLit(b, o, lit)
		}
	}
}

// Solve finds the operating point and leaves it in Point. An error names group
// or joint and plan line.
func (w *Wired) Solve(src circuit.Source) error { return w.SolveInto(src, w.Point) }

// SolveInto is Solve into a Point of the caller's, made by Net.NewPoint.
func (w *Wired) SolveInto(src circuit.Source, into *circuit.Point) error {
	if err := w.solver.Solve(src, into); err != nil {
		return w.place(err)
	}
	return nil
}

// Hold is Solve, and what Near starts from.
func (w *Wired) Hold(src circuit.Source) error {
	if err := w.solver.Hold(src, w.Point); err != nil {
		return w.place(err)
	}
	return nil
}

// Near finds the currents through groups and at the jack for one small change since
// Hold, to first order in it (circuit.Solver.Near), and leaves them in Point.
func (w *Wired) Near(src circuit.Source) error {
	if err := w.solver.Near(src, w.Point); err != nil {
		return w.place(err)
	}
	return nil
}

// Home makes the present operating point the start of every Solve that follows:
// results then don't depend on the order of draws.
func (w *Wired) Home() { w.solver.Home() }

// Reset takes back every deviation and every fault. What is switched on and lit stays.
func (w *Wired) Reset() {
	for i := range w.Params {
		w.Apply(i, 0)
	}
	for i := range w.wires {
		if w.wires[i].fault != 0 {
			w.wires[i].fault = 0
			w.setWire(i)
		}
	}
	for _, id := range w.hurt {
		o := &w.ohms[id]
		o.scale, o.series = 1, 0
		w.setOhms(id)
		w.Net.SetBranchOpen(id, false)
		for k := range w.Net.LEDs(id) {
			w.Net.SetLEDState(id, k, circuit.OK)
		}
	}
	w.hurt = w.hurt[:0]
	for i := range w.Groups {
		if g := &w.Groups[i]; g.Here {
			w.Net.SetShunt(g.shunt, inf)
			for _, id := range g.extra {
				if id >= 0 {
					w.Net.SetBranchOn(id, false)
				}
			}
		}
	}
	for i := range w.Boards {
		for _, id := range w.Boards[i].shunts {
			w.Net.SetShunt(id, inf)
		}
	}
}

// Clone is an independent copy for another goroutine; it has no Home.
func (w *Wired) Clone() *Wired {
	c := *w
	c.Net = w.Net.Clone()
	c.Point = c.Net.NewPoint()
	c.solver = circuit.NewSolver(c.Net)
	c.wires, c.ohms, c.feeds = slices.Clone(w.wires), slices.Clone(w.ohms), slices.Clone(w.feeds)
	c.hurt = slices.Clone(w.hurt)
	return &c
}

func (w *Wired) injure(group, branch int) circuit.BranchID {
	id := w.Groups[group].Branches[branch].ID
	if !slices.Contains(w.hurt, id) {
		w.hurt = append(w.hurt, id)
	}
	return id
}

// Open opens a branch of a group (a dead or reversed LED, a cracked joint) or closes it again.
func (w *Wired) Open(group, branch int, open bool) {
	w.Net.SetBranchOpen(w.injure(group, branch), open)
}

// SetLED sets the state of one LED of a branch.
func (w *Wired) SetLED(group, branch, led int, s circuit.LEDState) {
	w.Net.SetLEDState(w.injure(group, branch), led, s)
}

// ScaleOhms multiplies the resistor of a branch: 0 is a missing one, 10 or 0.1
// the wrong one of its series, 1 as planned.
func (w *Wired) ScaleOhms(group, branch int, factor float64) {
	id := w.injure(group, branch)
	w.ohms[id].scale = factor
	w.setOhms(id)
}

// BranchSeries puts a resistance into one branch, as a bad joint does; 0 takes it away.
func (w *Wired) BranchSeries(group, branch int, ohms float64) {
	id := w.injure(group, branch)
	w.ohms[id].series = ohms
	w.setOhms(id)
}

// Short puts a resistor across the end of a group's wire: small for a short,
// large for a leak; 0 is dead, +Inf takes it away.
func (w *Wired) Short(group int, ohms float64) {
	if g := &w.Groups[group]; g.Here {
		w.Net.SetShunt(g.shunt, ohms)
	}
}

// Spare is the branch that Extra hangs on, of a light; false where it has none.
func (w *Wired) Spare(group, light int) (circuit.BranchID, bool) {
	g := &w.Groups[group]
	if !g.Here || light >= len(g.extra) || g.extra[light] < 0 {
		return 0, false
	}
	return g.extra[light], true
}

// Extra hangs one more branch like those of a light onto a group, or takes it off.
func (w *Wired) Extra(group, light int, on bool) {
	if id, ok := w.Spare(group, light); ok {
		w.Net.SetBranchOn(id, on)
	}
}

func (w *Wired) series(wire int, ohms float64) {
	w.wires[wire].fault = ohms
	w.setWire(wire)
}

// GroupSeries puts a resistance into a group's own wire, as a bad joint does;
// +Inf opens it, 0 takes it away. BoardSeries, JointSeries and ReturnSeries alike.
func (w *Wired) GroupSeries(group int, ohms float64) {
	if g := &w.Groups[group]; g.Here {
		w.series(g.wire, ohms)
	}
}

// BoardSeries puts a resistance into a board's own wire.
func (w *Wired) BoardSeries(board int, ohms float64) {
	if b := &w.Boards[board]; b.Here {
		w.series(b.wire, ohms)
	}
}

// JointSeries puts a resistance into the plus wire that leads to a joint.
func (w *Wired) JointSeries(joint int, ohms float64) {
	if j := &w.Joints[joint]; j.Here {
		w.series(j.wire, ohms)
	}
}

// ReturnSeries puts a resistance into a return; +Inf opens it.
func (w *Wired) ReturnSeries(ret int, ohms float64) {
	if r := &w.Returns[ret]; r.Here {
		w.series(r.wire, ohms)
	}
}

// LoadOutput hangs a resistor onto an output's pin (index from 0); +Inf takes it away.
func (w *Wired) LoadOutput(board, output int, ohms float64) {
	if b := &w.Boards[board]; b.Here {
		w.Net.SetShunt(b.shunts[output], ohms)
	}
}
