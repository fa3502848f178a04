package wiring

import "sealworthy/compare/circuit"

// SetOn switches one terminal, by index in Terminals.
func (w *Wired) SetOn(terminal int, on bool) {}

// SetAll switches every terminal.
func (w *Wired) SetAll(on bool) {
	for t := range w.Terminals {
		w.SetOn(t, on)
	}
}

// SetLit lights or darkens an output of a board (index from 0). Build leaves the
// outputs of steady boards lit and those of blinkers dark.
func (w *Wired) SetLit(board, output int, lit bool) {}

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
	return w.place(w.solver.Solve(src, into))
}

// Home makes the present operating point the start of every Solve that follows:
// results then don't depend on the order of draws.
func (w *Wired) Home() { w.solver.Home() }

// Reset takes back every deviation and every fault. What is switched on and lit stays.
func (w *Wired) Reset() {}

// Clone is an independent copy for another goroutine.
func (w *Wired) Clone() *Wired { return nil }

// Open opens a branch of a group (a dead or reversed LED, a cracked joint) or closes it again.
func (w *Wired) Open(group, branch int, open bool) {}

// SetLED sets the state of one LED of a branch.
func (w *Wired) SetLED(group, branch, led int, s circuit.LEDState) {}

// SetLEDLeak puts a resistor across one LED; 0 takes it away.
func (w *Wired) SetLEDLeak(group, branch, led int, ohms float64) {}

// ScaleOhms multiplies the resistor of a branch: 0 is a missing one, 10 or 0.1
// the wrong one of its series, 1 as planned.
func (w *Wired) ScaleOhms(group, branch int, factor float64) {}

// BranchSeries puts a resistance into one branch, as a bad joint does; 0 takes it away.
func (w *Wired) BranchSeries(group, branch int, ohms float64) {}

// Short puts a resistor across the end of a group's wire: small for a short,
// large for a leak; 0 is dead, +Inf takes it away.
func (w *Wired) Short(group int, ohms float64) {}

// Extra hangs one more branch like those of a light onto a group, or takes it off.
func (w *Wired) Extra(group, light int, on bool) {}

// GroupSeries puts a resistance into a group's own wire, as a bad joint does;
// +Inf opens it, 0 takes it away. BoardSeries, JointSeries and ReturnSeries alike.
func (w *Wired) GroupSeries(group int, ohms float64) {}

// BoardSeries puts a resistance into a board's own wire.
func (w *Wired) BoardSeries(board int, ohms float64) {}

// JointSeries puts a resistance into the plus wire that leads to a joint.
func (w *Wired) JointSeries(joint int, ohms float64) {}

// ReturnSeries puts a resistance into a return; +Inf opens it.
func (w *Wired) ReturnSeries(ret int, ohms float64) {}

// LoadOutput hangs a resistor onto an output's pin (index from 0); +Inf takes it away.
func (w *Wired) LoadOutput(board, output int, ohms float64) {}
