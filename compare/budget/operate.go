package budget

import (
	"fmt"
	"math"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// newState is a state of the right size with nothing flowing.
func newState(p *plan.Plan) *state {
	s := &state{jacks: make([]jackState, len(p.Jacks)), joints: make([]jointState, len(p.Joints)),
		returns: make([]jointState, len(p.Returns)), boards: make([]boardState, len(p.Boards)),
		groups: make([]groupState, len(p.Groups))}
	for i, j := range p.Joints {
		s.joints[i].holds = make([]holdState, len(j.Holds))
	}
	for i, b := range p.Boards {
		s.boards[i].outputs = make([]float64, len(b.Outputs))
	}
	for i, g := range p.Groups {
		s.groups[i].lights = make([]lightState, len(g.Lights))
	}
	return s
}

// operate finds the operating points of the model at one jack for the checks:
// everything on and lit, nominal, in service, at both ends of the jack's range.
func (c *checker) operate(nominal *wiring.Wired, jack int) error {
	j := c.p.Jacks[jack]
	low, high := j.LowVolts, j.HighVolts
	if !(low > 0) || low > j.Volts {
		low = j.Volts
	}
	if high < j.Volts {
		high = j.Volts
	}
	w := nominal.Clone()
	w.SetAll(true)
	w.LightAll(true)
	w.Net.SetOhms(w.Meter, 0)
	for _, at := range []struct {
		volts float64
		into  *state
	}{{low, c.low}, {j.Volts, c.mid}, {high, c.high}} {
		if err := w.Solve(circuit.Source{EmfV: at.volts}); err != nil {
			return fmt.Errorf("everything on at %g V at jack %s: %w", at.volts, j.Name, err)
		}
		at.into.jacks[jack] = jackState{volts: at.volts, amps: w.JackAmps(w.Point)}
		at.into.read(w)
	}
	// w stands at the high end: what a resistor in an output would do is asked there.
	c.outputWith = outputWith(w, high, c.outputWith)
	return nil
}

// served finds the operating point that the feed tree shows: everything on and lit, nominal,
// in service, without what is clipped onto a sealed wire for its test.
func (c *checker) served(nominal *wiring.Wired, jack int) error {
	j := c.p.Jacks[jack]
	w := nominal.Clone()
	w.LightAll(true)
	w.Net.SetOhms(w.Meter, 0)
	for t, term := range w.Terminals {
		w.SetOn(t, !(term.Group >= 0 && c.p.Groups[term.Group].Sealed))
	}
	if err := w.Solve(circuit.Source{EmfV: j.Volts}); err != nil {
		return fmt.Errorf("in service at %g V at jack %s: %w", j.Volts, j.Name, err)
	}
	c.service.jacks[jack] = jackState{volts: j.Volts, amps: w.JackAmps(w.Point)}
	c.service.read(w)
	return nil
}

// outputWith gives what an output of a board behind the jack of w gives at
// volts with so much more resistance in it; next knows the boards of other jacks.
func outputWith(w *wiring.Wired, volts float64, next func(board, output int, more float64) (float64, error)) func(int,
	int, float64) (float64, error) {
	return func(board, output int, more float64) (float64, error) {
		if !w.Boards[board].Here {
			if next == nil {
				return 0, fmt.Errorf("board %s hangs on no jack", w.Plan.Boards[board].Name)
			}
			return next(board, output, more)
		}
		node := w.Boards[board].Outputs[output]
		own := w.Net.Ohms(node)
		w.Net.SetOhms(node, own+more)
		defer w.Net.SetOhms(node, own)
		if err := w.Solve(circuit.Source{EmfV: volts}); err != nil {
			return 0, err
		}
		return w.OutputAmps(w.Point, board, output), nil
	}
}

// read takes everything behind the jack of w from its operating point.
func (s *state) read(w *wiring.Wired) {
	p, pt := w.Plan, w.Point
	for i := range p.Joints {
		if !w.Joints[i].Here {
			continue
		}
		x, at := &s.joints[i], w.Joints[i]
		x.amps, x.volts = w.JointAmps(pt, i), w.JointVolts(pt, i)
		x.drop = jointDrop(w, i)
		before := at.First
		minus := pt.GroundV[at.Ret]
		for k, node := range at.Holds {
			x.holds[k] = holdState{inVolts: pt.NodeV[before] - minus, outVolts: pt.NodeV[node] - minus,
				inAmps: pt.InputA[node], outAmps: pt.ElementA[node]}
			before = node
		}
	}
	for i := range p.Returns {
		if w.Returns[i].Here {
			s.returns[i] = jointState{amps: w.ReturnAmps(pt, i), volts: w.ReturnVolts(pt, i)}
			s.returns[i].drop = returnDrop(w, i)
		}
	}
	for t, term := range w.Terminals {
		if i := term.Board; i >= 0 && w.Boards[i].Here {
			b := &s.boards[i]
			b.volts, b.amps = w.BoardVolts(pt, i), w.FeedAmps(pt, t)
			b.drop = boardDrop(w, i)
			for o := range b.outputs {
				b.outputs[o] = w.OutputAmps(pt, i, o)
			}
		}
	}
	for i := range p.Groups {
		if w.Groups[i].Here {
			s.groups[i].read(w, i)
			s.groups[i].drop = groupDrop(w, i)
		}
	}
}

// lost is what is lost on the way from a jack or joint to a node, on both
// conductors; where something has a return of its own that one counts by itself.
func lost(w *wiring.Wired, from, ownReturn string, node circuit.Node, ret circuit.Ground) float64 {
	pt := w.Point
	plus, minus := pt.NodeV[w.Meter], 0.0
	if i := w.Plan.JointAt(from); i >= 0 {
		plus, minus = pt.NodeV[w.Joints[i].Node], pt.GroundV[w.Joints[i].Ret]
	}
	drop := plus - pt.NodeV[node]
	if ownReturn == "" {
		drop += pt.GroundV[ret] - minus
	}
	return drop
}

// read takes one group.
func (g *groupState) read(w *wiring.Wired, i int) {
	pt, at := w.Point, w.Groups[i]
	g.amps = w.GroupAmps(pt, i)
	g.volts = pt.NodeV[at.Far] - pt.GroundV[at.Ret]
	seenLight := make([]bool, len(g.lights))
	for k, br := range at.Branches {
		l := &g.lights[br.Light]
		v, a := w.Net.BranchVolts(pt, br.ID), w.BranchAmps(pt, i, k)
		if !seenLight[br.Light] {
			seenLight[br.Light] = true
			*l = lightState{v, v, a, a}
			continue
		}
		l.nearVolts, l.nearAmps = math.Max(l.nearVolts, v), math.Max(l.nearAmps, a)
		l.farVolts, l.farAmps = math.Min(l.farVolts, v), math.Min(l.farAmps, a)
	}
}
