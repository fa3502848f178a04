package fault

import (
	"fmt"
	"slices"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// Apply puts a fault into a circuit. Wired.Reset takes it back. A board's
// behaviour in time (an output that stays lit or dark) is the caller's: here an
// overloaded output only gets its extra load, and a dark one nothing. What is
// switched on and lit may be changed: set it afterwards.
func Apply(w *wiring.Wired, f Fault) error {
	if upstream(f.Kind) {
		return applyUpstream(w, f)
	}
	gi := w.Plan.GroupAt(f.Group)
	if gi < 0 {
		return fmt.Errorf("%s: no group %q in the plan", f.Kind, f.Group)
	}
	g := w.Groups[gi]
	if !g.Here {
		return fmt.Errorf("%s: group %q isn't fed from this jack", f.Kind, f.Group)
	}
	switch f.Kind {
	case BadJoint:
		w.GroupSeries(gi, f.Ohms)
		return nil
	case OpenWire:
		w.GroupSeries(gi, openOhms)
		return nil
	case Short:
		w.Short(gi, f.Ohms)
		return nil
	case ExtraBranch:
		w.Extra(gi, f.Light, true)
		return nil
	case StuckDark:
		return nil
	case Overloaded:
		return overload(w, gi)
	case GroupReversed:
		return reverse(w, gi, func(wiring.Branch) bool { return true }, f)
	case PieceReversed:
		piece := pieceOf(w.Plan.Groups[gi], f)
		return reverse(w, gi, func(b wiring.Branch) bool { return b.Light == f.Light && b.Piece == piece }, f)
	}
	bi := slices.IndexFunc(g.Branches, func(b wiring.Branch) bool {
		return b.Light == f.Light &&
			place(w, gi, b) == f.Branch
	})
	if bi < 0 {
		return fmt.Errorf("%s: group %q has no branch %d in its light %d", f.Kind, f.Group, f.Branch+1, f.Light+1)
	}
	switch f.Kind {
	case OpenBranch, DarkSegment:
		w.Open(gi, bi, true)
	case ReversedLED:
		w.SetLED(gi, bi, f.LED, circuit.Reversed)
	case ShortedLED:
		w.SetLED(gi, bi, f.LED, circuit.Shorted)
	case MissingOhms:
		w.ScaleOhms(gi, bi, 0)
	case DecadeOff:
		w.ScaleOhms(gi, bi, f.Factor)
	case BranchJoint:
		w.BranchSeries(gi, bi, f.Ohms)
	default:
		return fmt.Errorf("no fault is called %q", f.Kind)
	}
	return nil
}

// place numbers the branches of one light from 0.
func place(w *wiring.Wired, group int, b wiring.Branch) int {
	l := w.Plan.Groups[group].Lights[b.Light]
	if l.Kind == plan.Strip {
		return b.Piece*l.Segments + b.Segment
	}
	return b.Piece
}

// overload hangs as much onto an output as makes its current a fifth more than
// it can give, or at least half as much again as planned: a second light
// without a resistor of its own.
func overload(w *wiring.Wired, gi int) error {
	g := w.Plan.Groups[gi]
	bi := w.Plan.BoardAt(g.Board)
	if bi < 0 {
		return fmt.Errorf("%s: group %q hangs on no board", Overloaded, g.Name)
	}
	oi := slices.IndexFunc(w.Plan.Boards[bi].Outputs, func(o plan.Output) bool { return o.Number == g.Output })
	if oi < 0 {
		return fmt.Errorf("%s: board %q has no output %d", Overloaded, g.Board, g.Output)
	}
	volts := w.Plan.Jacks[w.Jack].Volts
	for i, t := range w.Terminals {
		w.SetOn(i, t.Board == bi)
	}
	w.SetLit(bi, oi, true)
	src := circuit.Source{EmfV: volts}
	amps := func() (float64, error) {
		err := w.Solve(src)
		return w.OutputAmps(w.Point, bi, oi), err
	}
	planned, err := amps()
	if err != nil {
		return err
	}
	want := max(1.2*w.Plan.Boards[bi].Outputs[oi].MaxAmps, 1.5*planned)
	// Bisect the extra load; an output behind its own resistor may not reach it.
	low, high := 1.0, 1e6
	for range 60 {
		mid := low + (high-low)/2
		w.LoadOutput(bi, oi, mid)
		a, err := amps()
		if err != nil {
			return err
		}
		if a > want {
			low = mid
		} else {
			high = mid
		}
	}
	w.LoadOutput(bi, oi, high)
	return nil
}
