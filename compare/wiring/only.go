package wiring

import (
	"slices"

	"sealworthy/compare/plan"
)

// part says what of a plan is wired up, by index in the plan; nil: all of it.
type part struct{ joints, returns, boards, groups []bool }

func (p *part) joint(i int) bool { return p == nil || p.joints[i] }
func (p *part) ret(i int) bool   { return p == nil || p.returns[i] }
func (p *part) board(i int) bool { return p == nil || p.boards[i] }
func (p *part) group(i int) bool { return p == nil || p.groups[i] }

// Only is the circuit that is left while no terminal but one is on: what hangs on
// it, the joints and returns it hangs on, and every converter with its joints,
// because it idles. It gives the operating points of the whole circuit with all
// else off, at the cost of one feed. Indices in the plan stay; what isn't in it is
// not Here. Deviations, faults and what is on or lit are those after Build.
// params gives, for each of its Params, the index in w.Params.
func (w *Wired) Only(terminal int) (part *Wired, params []int, err error) {
	only := w.reach(w.Terminals[terminal])
	part, err = buildPart(w.Plan, w.Plan.Jacks[w.Jack].Name, w.Options, w.names, only)
	if err != nil {
		return nil, nil, err
	}
	for i := range w.Params {
		if only.holds(&w.Params[i]) {
			params = append(params, i)
		}
	}
	return part, params, nil
}

// holds tells whether a quantity is one of the part.
func (p *part) holds(q *Param) bool {
	switch {
	case q.Group >= 0:
		return p.groups[q.Group]
	case q.Board >= 0:
		return p.boards[q.Board]
	case q.Joint >= 0:
		return p.joints[q.Joint]
	}
	return p.returns[q.Return]
}

// reach marks what a terminal hangs on and what hangs on it.
func (w *Wired) reach(t Terminal) *part {
	p := w.Plan
	out := &part{make([]bool, len(p.Joints)), make([]bool, len(p.Returns)), make([]bool, len(p.Boards)),
		make([]bool, len(p.Groups))}
	if t.Board >= 0 {
		b := p.Boards[t.Board]
		out.boards[t.Board] = true
		out.upJoints(p, b.Joint)
		out.upReturns(p, b.Return)
	}
	for i := range p.Groups {
		g := &p.Groups[i]
		if i != t.Group && (t.Board < 0 || g.Board != p.Boards[t.Board].Name) {
			continue
		}
		out.groups[i] = true
		out.upJoints(p, g.Joint)
		out.upReturns(p, g.Return)
	}
	for i := range p.Joints {
		j := &p.Joints[i]
		if slices.ContainsFunc(j.Holds, func(h plan.Hold) bool { return h.Kind == plan.HoldConverter }) {
			out.upJoints(p, j.Name)
		}
	}
	return out
}

func (p *part) upJoints(of *plan.Plan, name string) {
	// A joint stands after the one it comes from.
	for i := len(of.Joints) - 1; i >= 0; i-- {
		if of.Joints[i].Name == name {
			p.joints[i], name = true, of.Joints[i].From
		}
	}
}

func (p *part) upReturns(of *plan.Plan, name string) {
	for i := len(of.Returns) - 1; i >= 0; i-- {
		if of.Returns[i].Name == name {
			p.returns[i], name = true, of.Returns[i].To
		}
	}
}
