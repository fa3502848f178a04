package wiring

import "sealworthy/compare/circuit"

// GroupAmps is the current into a group through its own wire, A.
func (w *Wired) GroupAmps(p *circuit.Point, group int) float64 {
	if g := &w.Groups[group]; g.Here {
		return p.ElementA[g.Far]
	}
	return 0
}

// FeedAmps is the current that a terminal draws from its joint, A.
func (w *Wired) FeedAmps(p *circuit.Point, terminal int) float64 {
	t := w.Terminals[terminal]
	if t.Group >= 0 {
		return w.GroupAmps(p, t.Group)
	}
	if b := &w.Boards[t.Board]; b.Here {
		return p.ElementA[b.Node]
	}
	return 0
}

// JackAmps is the current at the jack, as a meter there reads it, A.
func (w *Wired) JackAmps(p *circuit.Point) float64 { return p.SourceA }

// OutputAmps is the current out of a board's output (index from 0), A.
func (w *Wired) OutputAmps(p *circuit.Point, board, output int) float64 {
	if b := &w.Boards[board]; b.Here {
		return p.ElementA[b.Outputs[output]]
	}
	return 0
}

// Overloaded says whether an output (index from 0) gives more than it can.
func (w *Wired) Overloaded(p *circuit.Point, board, output int) bool {
	b := &w.Boards[board]
	return b.Here && w.Net.Overloaded(p, b.Outputs[output])
}

// BoardVolts is the voltage over a board, V.
func (w *Wired) BoardVolts(p *circuit.Point, board int) float64 {
	if b := &w.Boards[board]; b.Here {
		return p.NodeV[b.Node] - p.GroundV[b.Ret]
	}
	return 0
}

// JointAmps is the current that comes to a joint through its wire, A.
func (w *Wired) JointAmps(p *circuit.Point, joint int) float64 {
	if j := &w.Joints[joint]; j.Here {
		return p.ElementA[j.First]
	}
	return 0
}

// JointVolts is the voltage behind a joint and what it holds, against its own minus, V.
func (w *Wired) JointVolts(p *circuit.Point, joint int) float64 {
	if j := &w.Joints[joint]; j.Here {
		return p.NodeV[j.Node] - p.GroundV[j.Ret]
	}
	return 0
}

// ReturnAmps is the current back through a return, A.
func (w *Wired) ReturnAmps(p *circuit.Point, ret int) float64 {
	if r := &w.Returns[ret]; r.Here {
		return p.ReturnA[r.Ground]
	}
	return 0
}

// ReturnVolts is how far a return lies above the jack's minus, V.
func (w *Wired) ReturnVolts(p *circuit.Point, ret int) float64 {
	if r := &w.Returns[ret]; r.Here {
		return p.GroundV[r.Ground]
	}
	return 0
}

// BranchAmps is the current of one branch of a group, A.
func (w *Wired) BranchAmps(p *circuit.Point, group, branch int) float64 {
	return p.BranchA[w.Groups[group].Branches[branch].ID]
}
