package coverage

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"sealworthy/compare/belief"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
)

// Of grades the tests of a plan by closure. The error names the group that can't be
// computed.
func Of(p *plan.Plan, hidden []Hidden, tests []Test, o Options) ([]Closure, error) {
	m := &grader{p: p, o: o, pr: fault.DefaultPriors(), points: pointsEach}
	if len(tests) > manyTests {
		m.points = pointsOfMany
	}
	if o.Priors != nil {
		m.pr = *o.Priors
	}
	if err := m.all(tests); err != nil {
		return nil, err
	}
	var out []Closure
	for _, h := range hidden {
		c, err := m.closure(h)
		if err != nil {
			return nil, err
		}
		out = append(out, c)
	}
	return out, nil
}

// Points of an integral. Of many tests each is graded more roughly: a large plan is
// asked for within a second, and their errors average out.
const (
	pointsEach   = 512
	pointsOfMany = 128
	manyTests    = 60
)

type grader struct {
	p     *plan.Plan
	o     Options
	pr    fault.Priors
	units []unit
	// points of each integral: fewer where many are to be graded.
	points int
}

// unit is a test with its grade: each possible fault of its groups.
type unit struct {
	Test
	faults  []graded
	healthy belief.Slip
	none    float64 // prior probability that nothing is wrong, or nothing of the list
}

// graded is one fault with its prior probability.
type graded struct {
	fault.Fault
	weight float64
	slip   belief.Slip
}

// all grades every test, side by side: they share nothing.
func (m *grader) all(tests []Test) error {
	m.units = make([]unit, len(tests))
	errs := make([]error, len(tests))
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(tests)) {
		wait.Go(func() {
			for i := int(next.Add(1)) - 1; i < len(tests); i = int(next.Add(1)) - 1 {
				m.units[i], errs[i] = m.unit(m.p, tests[i])
			}
		})
	}
	wait.Wait()
	return errors.Join(errs...)
}

// unit grades one test, on a plan that may be another than the maker's own.
func (m *grader) unit(p *plan.Plan, t Test) (unit, error) {
	volts := make([]float64, len(t.Readings))
	for i, r := range t.Readings {
		volts[i] = r.Volts
	}
	e, err := belief.New(alone(p, t.Groups), t.Groups, volts, t.Scene, belief.Options{Priors: m.o.Priors})
	if err != nil {
		return unit{}, err
	}
	return m.graded(e, t)
}

func (m *grader) graded(e *belief.Ensemble, t Test) (unit, error) {
	slips, healthy, err := e.Slips(t.Readings, m.o.Rule, m.points)
	if err != nil {
		return unit{}, fmt.Errorf("the grade of %q: %w", t.Groups[0], err)
	}
	u := unit{Test: t, healthy: as(healthy, t.Looked)}
	none := 1.0
	for i, h := range e.Hypotheses {
		none -= h.Prior
		shares, of := h.Shares(m.p, m.pr), map[fault.Kind]int{}
		for _, f := range h.Faults {
			of[f.Kind]++
		}
		for _, f := range h.Faults {
			s := as(slips[i], t.Looked)
			if t.Traced && inTime(f.Kind) {
				s = belief.Slip{Eye: s.Eye}
			}
			u.faults = append(u.faults, graded{f, h.Prior * shares[f.Kind] / float64(of[f.Kind]), s})
		}
	}
	u.none = math.Max(0, none)
	return u, nil
}

// as is a slip of a test with or without a look: without, only the current passes.
func as(s belief.Slip, looked bool) belief.Slip {
	if !looked {
		return belief.Slip{Current: s.Current, Blind: s.Current, Eye: 1, Whole: s.Current}
	}
	return s
}

// inTime: it shows in what an output does, whatever it draws.
func inTime(k fault.Kind) bool { return fault.AboutKind(k).At == fault.AtOutput }

// heldBelow: a group is said to be held if fewer healthy ones than this pass.
const heldBelow = 0.9

// closure adds up what a closure hides.
func (m *grader) closure(h Hidden) (Closure, error) {
	c := Closure{Closure: h.Closure, Rates: RatesOf(m.o.Priors)}
	kinds := map[fault.Kind]*Seen{}
	count := func(k fault.Kind, weight float64, s belief.Slip) {
		if kinds[k] == nil {
			kinds[k] = &Seen{}
		}
		kinds[k].add(1, weight, s)
		c.Seen.add(1, weight, s)
	}
	clear, unlooked := 1.0, 1.0 // that nothing slipped
	missedOf := make([]float64, len(m.units))
	for i := range m.units {
		u := &m.units[i]
		missed, blind, all := 0.0, 0.0, u.none*u.healthy.Blind
		for _, f := range u.faults {
			all += f.weight * f.slip.Blind
			if slices.Contains(h.Groups, f.Group) {
				count(f.Kind, f.weight, f.slip)
				missed += f.weight * f.slip.Whole
				blind += f.weight * f.slip.Blind
			}
		}
		clear *= 1 - u.slip(missed)
		if all > 0 {
			unlooked *= 1 - blind/all
		}
		missedOf[i] = missed
		if g := u.Groups[0]; u.healthy.Blind < heldBelow && slices.Contains(h.Groups, g) {
			c.Held = append(c.Held, Held{g, u.healthy.Blind})
		}
	}
	for _, at := range h.Places {
		for _, f := range m.place(at) {
			count(f.Kind, f.weight, f.slip)
			clear *= 1 - f.weight*f.slip.Whole
			unlooked *= 1 - f.weight*f.slip.Blind
		}
	}
	for _, g := range h.Groups {
		if !m.covers(g) {
			c.Ungraded = append(c.Ungraded, g)
		}
	}
	c.Slip, c.Unlooked = 1-clear, 1-unlooked
	for _, k := range slices.Sorted(maps.Keys(kinds)) {
		c.Kinds = append(c.Kinds, Kind{k, *kinds[k]})
	}
	slices.SortStableFunc(c.Kinds, func(a, b Kind) int { return cmp.Compare(b.Missed.Weight, a.Missed.Weight) })
	var err error
	c.Next, err = m.remedies(h, missedOf, clear)
	return c, err
}

// slip is the chance that a fault of this weight is in there once it has passed.
func (u *unit) slip(missed float64) float64 {
	all := u.none * u.healthy.Whole
	for _, f := range u.faults {
		all += f.weight * f.slip.Whole
	}
	if all <= 0 {
		return 0
	}
	return missed / all
}

func (m *grader) covers(group string) bool {
	return slices.ContainsFunc(m.units, func(u unit) bool { return slices.Contains(u.Groups, group) })
}

// place grades what can be wrong with a joint or return: ohms, or it is off. Every
// group that is fed through it would have to pass with the same ohms, so none of it
// passes more often than the group that passes it least; that bound is taken.
func (m *grader) place(at Place) []graded {
	ohms, off := fault.UpstreamJoint, fault.OpenJoint
	if at.Return {
		ohms, off = fault.BadReturn, fault.OpenReturn
	}
	least := map[fault.Kind]belief.Slip{}
	for i := range m.units {
		for _, f := range m.units[i].faults {
			was, ok := least[f.Kind]
			if slices.Contains(at.Feeds, f.Group) && (!ok || f.slip.Whole < was.Whole) {
				least[f.Kind] = f.slip
			}
		}
	}
	var out []graded
	add := func(k, like fault.Kind) {
		if s, ok := least[like]; ok {
			out = append(out, graded{fault.Fault{Kind: k, At: at.Name}, fault.AboutKind(k).Prior(m.pr), s})
		}
	}
	add(ohms, fault.BadJoint)
	add(off, fault.GroupReversed) // which draws nothing, too
	return out
}

// alone is the plan with nothing but what feeds some groups: the rest of it isn't
// connected while they're read, and costs as much to compute.
func alone(p *plan.Plan, groups []string) *plan.Plan {
	out := *p
	keep := map[string]bool{}
	out.Groups, out.Boards, out.Joints, out.Returns = nil, nil, nil, nil
	for _, g := range p.Groups {
		if !slices.Contains(groups, g.Name) {
			continue
		}
		out.Groups = append(out.Groups, g)
		for _, at := range fault.Path(p, g) {
			keep["to "+at] = true
		}
		keep["board "+g.Board], keep["from "+g.Return] = true, true
	}
	for _, b := range p.Boards {
		if keep["board "+b.Name] {
			out.Boards = append(out.Boards, b)
			keep["from "+b.Return] = true
		}
	}
	for _, j := range p.Joints {
		if keep["to "+j.Name] {
			out.Joints = append(out.Joints, j)
		}
	}
	for range p.Returns { // bounded: one may go on to another, in any order
		for _, r := range p.Returns {
			keep["from "+r.To] = keep["from "+r.To] || keep["from "+r.Name]
		}
	}
	for _, r := range p.Returns {
		if keep["from "+r.Name] {
			out.Returns = append(out.Returns, r)
		}
	}
	return &out
}
