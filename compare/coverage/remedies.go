package coverage

import (
	"cmp"
	"math"
	"slices"

	"sealworthy/compare/belief"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
)

// What is tried of each remedy; common practice, no source.
var (
	secondParts = [...]float64{0.75, 0.6, 0.5, 0.4} // of the service voltage
	partsOf     = [...]int{2, 4}
)

const (
	sampledPieces = 5
	shownRemedies = 3
	triedGroups   = 2    // of a closure, those that are missed most
	leastTried    = 0.05 // of the gap, that a group must have to be tried
	// leastCloses: a remedy that leaves more of the gap than this isn't one.
	leastCloses = 0.9
)

// remedies tries what could be done about the groups of a closure that are missed
// most, by unit; clear is that nothing slipped, with the test as it is.
func (m *grader) remedies(h Hidden, missed []float64, clear float64) ([]Remedy, error) {
	order := make([]int, len(missed))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(missed[b], missed[a]) })
	before := 1 - clear
	var out []Remedy
	for _, i := range order[:min(triedGroups, len(order))] {
		u := &m.units[i]
		if missed[i] <= leastTried*before {
			break
		}
		others := clear / (1 - u.slip(missed[i]))
		err := m.remediesOf(u, func(r Remedy, with unit) {
			r.Group = u.Groups[0]
			r.Slip = 1 - others*(1-with.slip(with.missedOf(h)))
			if r.Slip < leastCloses*before {
				out = append(out, r)
			}
		})
		if err != nil {
			return nil, err
		}
	}
	gain := func(r Remedy) float64 { return (before - r.Slip) / r.Effort }
	slices.SortStableFunc(out, func(a, b Remedy) int { return cmp.Compare(gain(b), gain(a)) })
	// Of one kind for one group the best is enough.
	var best []Remedy
	for _, r := range out {
		if !slices.ContainsFunc(best, func(x Remedy) bool { return x.Kind == r.Kind && x.Group == r.Group }) {
			best = append(best, r)
		}
	}
	return best[:min(len(best), shownRemedies)], nil
}

// remediesOf tries all that can be done about one group.
func (m *grader) remediesOf(u *unit, add func(Remedy, unit)) error {
	if len(u.Readings) == 1 && !u.Board {
		if err := m.atVolts(u, add); err != nil {
			return err
		}
	}
	if p, reel, ok := sampled(m.p, u); ok {
		with, err := m.unit(p, u.Test)
		if err != nil {
			return err
		}
		add(Remedy{Kind: SampleReel, Reel: reel, Pieces: sampledPieces, Effort: sampledPieces * m.o.Effort.Switch},
			with)
	}
	for _, n := range partsOf {
		p, ok := inParts(m.p, u, n)
		if !ok {
			break
		}
		part, err := m.unit(p, u.Test)
		if err != nil {
			return err
		}
		add(Remedy{Kind: SmallerParts, Parts: n, Effort: float64(n) * m.o.Effort.Switch}, u.likePart(part))
	}
	return nil
}

func (u *unit) missedOf(h Hidden) float64 {
	missed := 0.0
	for _, f := range u.faults {
		if slices.Contains(h.Groups, f.Group) {
			missed += f.weight * f.slip.Whole
		}
	}
	return missed
}

// atVolts tries a second voltage.
func (m *grader) atVolts(u *unit, add func(Remedy, unit)) error {
	top := u.Readings[0]
	volts := []float64{top.Volts}
	for _, part := range secondParts {
		volts = append(volts, math.Round(2*part*top.Volts)/2)
	}
	volts = slices.Compact(volts)
	e, err := belief.New(alone(m.p, u.Groups), u.Groups, volts, u.Scene, belief.Options{Priors: m.o.Priors})
	if err != nil {
		return err
	}
	for i, v := range volts[1:] {
		x := u.Test
		next := top
		next.Volts = v
		// The least that a meter is off stays, the rest goes with the draw.
		next.U = top.U * math.Max(0.25, e.HealthyA[i+1]/math.Max(e.HealthyA[0], 1e-9))
		x.Readings = []belief.Reading{top, next}
		with, err := m.graded(e, x)
		if err != nil {
			return err
		}
		add(Remedy{Kind: SecondVoltage, Volts: v, Effort: m.o.Effort.Volts}, with)
	}
	return nil
}

// changed is the plan with the lights of a unit's groups as change makes them; false
// where it changes none.
func changed(p *plan.Plan, u *unit, change func(l *plan.Light) bool) (*plan.Plan, bool) {
	out := *p
	out.Groups = slices.Clone(p.Groups)
	any := false
	for i := range out.Groups {
		g := &out.Groups[i]
		if !slices.Contains(u.Groups, g.Name) {
			continue
		}
		g.Lights = slices.Clone(g.Lights)
		for k := range g.Lights {
			any = change(&g.Lights[k]) || any
		}
	}
	return &out, any
}

// sampled is the plan once a few pieces of the reel that most lights of a unit come
// from were measured: what its pieces share is known to the scatter of one by the
// root of their number.
func sampled(p *plan.Plan, u *unit) (out *plan.Plan, reel string, ok bool) {
	count := map[string]int{}
	for _, g := range p.Groups {
		if !slices.Contains(u.Groups, g.Name) {
			continue
		}
		for _, l := range g.Lights {
			if l.Kind == plan.TestLoad || l.Kind == plan.Envelope {
				continue
			}
			name := reelOf(l)
			if count[name] += l.Branches(); count[name] > count[reel] {
				reel = name
			}
		}
	}
	if reel == "" {
		return nil, "", false
	}
	known := func(v *plan.Value) bool {
		own := v.HalfWidth * v.HalfWidth * (1 - v.Share)
		common := math.Min(v.HalfWidth*v.HalfWidth*v.Share, own/sampledPieces)
		was := v.HalfWidth
		v.HalfWidth = math.Sqrt(own + common)
		if v.HalfWidth > 0 {
			v.Share = common / (own + common)
		}
		return v.HalfWidth < was
	}
	out, ok = changed(p, u, func(l *plan.Light) bool {
		if reelOf(*l) != reel {
			return false
		}
		any := known(&l.BranchSpread)
		l.Series = slices.Clone(l.Series)
		for k := range l.Series {
			any = known(&l.Series[k].Volts) || any
		}
		return any
	})
	return out, reel, ok
}

func reelOf(l plan.Light) string { return cmp.Or(l.Reel, l.Part) }

// inParts is the plan with an n-th of every light of a group, as where it's clipped in
// n parts before they're joined.
func inParts(p *plan.Plan, u *unit, n int) (*plan.Plan, bool) {
	if u.Board || len(u.Groups) != 1 {
		return nil, false
	}
	return changed(p, u, func(l *plan.Light) bool {
		switch {
		case l.Kind == plan.Strip && l.Segments >= n:
			l.Segments = (l.Segments + n - 1) / n
		case (l.Kind == plan.SMD || l.Kind == plan.LEDs) && l.Count >= n:
			l.Count = (l.Count + n - 1) / n
		default:
			return false
		}
		return true
	})
}

// likePart is a unit whose lights pass as they do in one of its parts. What is wrong
// with its own wire shows only once it's whole.
func (u *unit) likePart(part unit) unit {
	type at struct {
		kind  fault.Kind
		light int
	}
	of := map[at]belief.Slip{}
	for _, f := range part.faults {
		of[at{f.Kind, f.Light}] = f.slip
	}
	out := *u
	out.healthy, out.faults = part.healthy, slices.Clone(u.faults)
	for i := range out.faults {
		f := &out.faults[i]
		s, ok := of[at{f.Kind, f.Light}]
		if ok && s.Whole < f.slip.Whole && f.Kind != fault.BadJoint {
			f.slip = s
		}
	}
	return out
}
