package wiring

import (
	"slices"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
)

// OutputOf finds the output that a group hangs on: the index of its board in the
// plan and of the output among the board's. ok is false for a group on a joint.
func OutputOf(p *plan.Plan, g plan.Group) (board, output int, ok bool) {
	if g.Board == "" {
		return -1, -1, false
	}
	board = p.BoardAt(g.Board)
	if board < 0 {
		return -1, -1, false
	}
	output = slices.IndexFunc(p.Boards[board].Outputs, func(o plan.Output) bool { return o.Number == g.Output })
	return board, output, output >= 0
}

// Alone switches on what one group hangs on, its own terminal or its board with
// that one output lit, and all else off.
func (w *Wired) Alone(group int) {
	w.SetAll(false)
	w.LightAll(false)
	board, output, onBoard := OutputOf(w.Plan, w.Plan.Groups[group])
	for i, t := range w.Terminals {
		if t.Group == group || onBoard && t.Board == board {
			w.SetOn(i, true)
		}
	}
	if onBoard {
		w.SetLit(board, output, true)
	}
}

// AddsAmps is what lighting a group adds at the jack, A, as all else stands:
// after Alone its whole draw, on a board the difference to the dark board. It
// leaves the group lit.
func (w *Wired) AddsAmps(group int, src circuit.Source) (float64, error) {
	dark := 0.0
	if board, output, ok := OutputOf(w.Plan, w.Plan.Groups[group]); ok {
		w.SetLit(board, output, false)
		if err := w.Solve(src); err != nil {
			return 0, err
		}
		dark = w.JackAmps(w.Point)
		w.SetLit(board, output, true)
	}
	if err := w.Solve(src); err != nil {
		return 0, err
	}
	return w.JackAmps(w.Point) - dark, nil
}
