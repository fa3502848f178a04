package fault

import (
	"fmt"
	"slices"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// Effect is what one fault makes of a group's draw as the meter reads it, every
// part at its nominal value: for a group on a board what lighting it adds. Behind
// a converter that isn't the group's own current. All in A.
type Effect struct {
	Fault    Fault
	HealthyA float64
	FaultyA  float64
}

// DeltaA is by how much the fault moves the draw.
func (e Effect) DeltaA() float64 { return e.FaultyA - e.HealthyA }

// Effects computes what each possible fault of a group makes of its draw while
// it is lit alone at volts. w is changed and reset. A fault whose circuit can't
// be solved is left out; the error says that the healthy one can't.
func Effects(w *wiring.Wired, group string, volts float64) ([]Effect, error) {
	gi := slices.IndexFunc(w.Plan.Groups, func(g plan.Group) bool { return g.Name == group })
	if gi < 0 {
		return nil, fmt.Errorf("no group %q in the plan", group)
	}
	g := w.Plan.Groups[gi]
	src := circuit.Source{EmfV: volts}
	alone(w, gi)
	if err := w.Solve(src); err != nil {
		return nil, err
	}
	healthy, dark := w.JackAmps(w.Point), 0.0
	if bi, oi, ok := outputOf(w.Plan, g); ok {
		w.SetLit(bi, oi, false)
		if err := w.Solve(src); err != nil {
			return nil, err
		}
		dark = w.JackAmps(w.Point)
	}
	var out []Effect
	for _, f := range Possible(w.Plan, g) {
		w.Reset()
		if err := Apply(w, f); err != nil {
			continue
		}
		alone(w, gi)
		if err := w.Solve(src); err != nil {
			continue
		}
		e := Effect{Fault: f, HealthyA: healthy - dark, FaultyA: w.JackAmps(w.Point) - dark}
		if f.Kind == StuckDark {
			e.FaultyA = 0
		}
		out = append(out, e)
	}
	w.Reset()
	return out, nil
}

// alone switches one group on, lit, and all else off.
func alone(w *wiring.Wired, gi int) {
	w.SetAll(false)
	w.LightAll(false)
	g := w.Plan.Groups[gi]
	for i, t := range w.Terminals {
		if t.Group == gi || (t.Board >= 0 && w.Plan.Boards[t.Board].Name == g.Board) {
			w.SetOn(i, true)
		}
	}
	if bi, oi, ok := outputOf(w.Plan, g); ok {
		w.SetLit(bi, oi, true)
	}
}

// outputOf finds board and output of a group by index.
func outputOf(p *plan.Plan, g plan.Group) (board, output int, ok bool) {
	board = slices.IndexFunc(p.Boards, func(b plan.Board) bool { return b.Name == g.Board })
	if board < 0 {
		return 0, 0, false
	}
	output = slices.IndexFunc(p.Boards[board].Outputs, func(o plan.Output) bool { return o.Number == g.Output })
	return board, output, output >= 0
}
