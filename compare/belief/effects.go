package belief

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/fault"
	"sealworthy/compare/wiring"
)

// nominalOf finds the operating points of an altered branch, every part nominal.
func (l *lister) nominalOf(v *variant, th thevenin) {
	n := len(l.volts)
	b := &l.list[v.branch]
	v.node = th.ohms
	v.delta, v.gain = make([]float64, n), slices.Clone(th.gain)
	for k := range n {
		i := v.law.amps(b.v0[k]+th.ohms[k]*b.i[k], th.ohms[k])
		v.delta[k] = th.gain[k] * (i - b.i[k])
	}
}

// exact solves the whole circuit with a fault and brings the effect of its branch
// to that: where a node moves far, it isn't straight.
func (l *lister) exact(v *variant, f fault.Fault, known []bool) error {
	far := 0.0
	for k := range v.delta {
		far = math.Max(far, math.Abs(v.delta[k]*v.node[k]))
		if !known[k] && math.Abs(v.delta[k]) > fewAmps {
			far = straightV
		}
	}
	if far < straightV {
		return nil
	}
	if err := fault.Apply(l.w, f); err != nil {
		return err
	}
	y := make([]float64, len(l.volts))
	err := l.solveLit(y)
	l.w.Reset()
	if back := l.home(); back != nil {
		return back
	}
	if err != nil {
		return nil // it can't be solved: the branch alone must do
	}
	for k := range y {
		d := y[k] - l.y0[k]
		if math.Abs(v.delta[k]) > fewAmps {
			v.gain[k] *= math.Max(0.2, math.Min(5, d/v.delta[k]))
		}
		v.delta[k] = d
	}
	return nil
}

// straightV: where a node moves by less, what it gives way by is taken as straight.
const straightV = 0.01

// lognormal is a grid of n nodes of equal probability.
func lognormal(median, sigma float64, n int) []Node {
	out := make([]Node, n)
	for i := range out {
		z := math.Sqrt2 * math.Erfinv(2*(float64(i)+0.5)/float64(n)-1)
		out[i] = Node{median * math.Exp(sigma*z), 1 / float64(n)}
	}
	return out
}

// Nodes of the grids.
const (
	branchJointNodes = 9
	feedJointNodes   = 13
)

// shortOhms are what two bare wires that touch may leave.
var shortOhms = []float64{0.05, 0.3, 1, 3, 10, 30, 100}

// wireOffOhms is a joint that is off altogether.
const wireOffOhms = 1e9

// wireOff is the share of bad joints that are off altogether (common practice, no source).
const wireOff = 0.15

// other takes faults of more than one branch: their effect is that on the nominal
// circuit.
func (l *lister) other(gi int, f fault.Fault) error {
	key := fmt.Sprintf("%d %d %s", gi, f.Light, f.Kind)
	if d, ok := l.keys[key]; ok && f.Kind == fault.PieceReversed {
		d.h.Faults = append(d.h.Faults, f)
		d.h.Prior += l.pr.Fault.Of(f.Kind)
		d.h.Places++
		return nil
	}
	d := &draft{h: Hypothesis{Group: f.Group, Faults: []fault.Fault{f}, Prior: l.pr.Fault.Of(f.Kind), Places: 1},
		weights: map[fault.Kind]float64{f.Kind: 1}, branch: -1}
	grid, rel, way := []Node{{0, 1}}, 0.0, fixed
	switch f.Kind {
	case fault.StuckDark, fault.GroupReversed, fault.PieceReversed:
	case fault.BadJoint:
		way = feed
		grid = lognormal(l.pr.Joint.FeedOhms, l.pr.Joint.FeedSigma, feedJointNodes)
		for i := range grid {
			grid[i].Weight *= 1 - wireOff
		}
		grid = append(grid, Node{wireOffOhms, wireOff})
	case fault.Short:
		rel = 0.3
		grid = nil
		for _, r := range shortOhms {
			grid = append(grid, Node{r, 1 / float64(len(shortOhms))})
		}
	default:
		rel = 0.05
	}
	var some []*variant
	for _, g := range grid {
		v := &variant{hyp: len(l.drafts), at: g.At, weight: g.Weight, how: way, rel: rel, group: gi}
		delta, err := l.whole(f, g.At)
		if err != nil {
			return err
		}
		if delta == nil {
			continue
		}
		v.delta = delta
		if f.Kind == fault.BadJoint && g.At == wireOffOhms {
			v.how = fixed
		}
		l.seenInGroup(v, gi, f)
		some = append(some, v)
	}
	if len(some) == 0 {
		return nil
	}
	d.h.Grid = grid
	d.h.Apply = func(w *wiring.Wired, at float64) error { return apply(w, f, at) }
	l.keys[key] = d
	l.drafts = append(l.drafts, d)
	l.variants = append(l.variants, some...)
	return nil
}

// whole is the effect of a fault on the nominal circuit; nil where that can't be solved.
func (l *lister) whole(f fault.Fault, at float64) ([]float64, error) {
	y := make([]float64, len(l.volts))
	if f.Kind != fault.StuckDark {
		if apply(l.w, f, at) != nil {
			l.w.Reset()
			l.switchOn(l.w, true)
			return nil, nil
		}
		l.switchOn(l.w, true) // finding out how much overloads an output switches
		err := l.solveLit(y)
		l.w.Reset()
		if back := l.home(); back != nil {
			return nil, back
		}
		if err != nil {
			return nil, nil
		}
	}
	for k := range y {
		y[k] = math.Min(y[k], l.bench.LimitAt(l.volts[k])) - l.y0[k]
	}
	return y, nil
}

// suspect takes a plan that may be the right one.
func (l *lister) suspect(x *fault.Suspect) error {
	if x.Plan == nil || !slices.ContainsFunc(l.groups, func(gi int) bool { return l.p.Groups[gi].Name == x.Group }) {
		return nil
	}
	var names []string
	for _, gi := range l.groups {
		names = append(names, l.p.Groups[gi].Name)
	}
	s, err := newSide(x.Plan, names, l.volts, l.bench)
	if err != nil {
		return nil // such a plan can't be wired: it isn't what was built
	}
	f := x.Fault()
	d := &draft{h: Hypothesis{Group: x.Group, Faults: []fault.Fault{f}, Prior: x.Prior, Places: 1,
		Lights: []int{x.Light}, Grid: []Node{{0, 1}}, Suspect: x}, weights: map[fault.Kind]float64{f.Kind: 1},
		branch: -1}
	d.h.Apply = func(*wiring.Wired, float64) error {
		return fmt.Errorf("%s in group %q is a change of the plan, not of a circuit", f.Kind, f.Group)
	}
	v := &variant{hyp: len(l.drafts), weight: 1, how: fixed, delta: make([]float64, len(l.volts)), rel: 0.01,
		more: lightsOf(x.Plan, x.Group) - lightsOf(l.p, x.Group)}
	for k := range v.delta {
		v.delta[k] = s.y0[k] - l.y0[k]
	}
	l.drafts = append(l.drafts, d)
	l.variants = append(l.variants, v)
	return nil
}

// apply puts a fault into a circuit, at a value of what is unknown about it.
func apply(w *wiring.Wired, f fault.Fault, at float64) error {
	switch f.Kind {
	case fault.BadJoint, fault.Short, fault.BranchJoint:
		f.Ohms = at
	}
	return fault.Apply(w, f)
}
