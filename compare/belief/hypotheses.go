package belief

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/circuit"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// variant is one value of what is unknown about a hypothesis, as it's computed.
type variant struct {
	hyp    int
	at     float64
	weight float64
	how    how
	group  int       // feed: index in the plan
	branch int       // altered: index in side.list
	law    law       // altered
	node   []float64 // altered: what its node gives way by, ohm, by voltage
	gain   []float64 // altered: from the branch's current to the jack's, by voltage
	delta  []float64 // nominal effect on the draw, by voltage
	uneven []float64 // altered: relative spread of delta over the places it could be
	rel    float64   // of delta: what is not known of the effect, standard uncertainty
	// what the eye sees of it
	dark, dim int
	faint     int // that may be called dim
	more      int // lights that are there beyond those of the plan; fewer: negative
}

// how a variant's moments are found.
type how uint8

const (
	altered how = iota // one branch has another law
	fixed              // from its nominal effect
	feed               // the group's wire, at ohms of a grid
)

// draft is a hypothesis in the making.
type draft struct {
	h       Hypothesis
	weights map[fault.Kind]float64
	branch  int
	law     law
	spare   bool
}

// fewAmps: effects that differ by less are alike.
const fewAmps = 2e-6

// lister makes the list of hypotheses.
type lister struct {
	*side
	pr       fault.Priors
	drafts   []*draft
	keys     map[string]*draft
	variants []*variant
	of       int // lights that the eye can count
}

// hypotheses makes every hypothesis with its variants. Faults that alter the same light
// in the same way are one.
func (s *side) hypotheses(pr fault.Priors, suspects []fault.Suspect) (*lister, []Hypothesis, error) {
	l := &lister{side: s, pr: pr, keys: map[string]*draft{}}
	for _, gi := range s.groups {
		g := s.p.Groups[gi]
		first := map[int]int{} // of each light, index in side.list
		for i := range s.list {
			if b := &s.list[i]; b.group == gi {
				if _, ok := first[b.light]; !ok {
					first[b.light] = i
				}
			}
		}
		l.of += lightsOf(s.p, g.Name)
		var rest []fault.Fault
		for _, f := range fault.Possible(s.p, g) {
			if !l.alter(gi, f, first) {
				rest = append(rest, f)
			}
		}
		l.branchJoints(gi, first)
		for _, f := range rest {
			if err := l.other(gi, f); err != nil {
				return nil, nil, err
			}
		}
	}
	for hyp, d := range l.drafts {
		if d.branch < 0 {
			continue
		}
		if err := l.variantsOf(hyp, d); err != nil {
			return nil, nil, err
		}
	}
	for i := range suspects {
		if err := l.suspect(&suspects[i]); err != nil {
			return nil, nil, err
		}
	}
	return l, l.finish(), nil
}

// alter takes faults that change one branch alone. It is false for others.
func (l *lister) alter(gi int, f fault.Fault, first map[int]int) bool {
	i, ok := first[f.Light]
	if !ok {
		return false
	}
	at := i + f.Branch
	spare := f.Kind == fault.ExtraBranch
	if spare {
		at = l.spareOf(gi, f.Light)
	}
	if at >= len(l.list) || l.list[at].group != gi || l.list[at].light != f.Light {
		return false
	}
	b := &l.list[at]
	var x law
	switch f.Kind {
	case fault.OpenBranch, fault.DarkSegment:
	case fault.ExtraBranch:
		x = b.law
	case fault.ReversedLED, fault.ShortedLED:
		state := circuit.Reversed
		if f.Kind == fault.ShortedLED {
			state = circuit.Shorted
		}
		br := l.w.Net.Branch(b.id)
		if f.LED >= len(br.LEDs) {
			return false
		}
		br.LEDs[f.LED].State = state
		x = lawOf(br)
	case fault.PieceReversed:
		if l.p.Groups[gi].Lights[f.Light].Segments > 1 {
			return false // more than one branch
		}
		br := l.w.Net.Branch(b.id)
		for k := range br.LEDs {
			br.LEDs[k].State = circuit.Reversed
		}
		x = lawOf(br)
	case fault.MissingOhms:
		x = b.law
		x.scale = 0
	case fault.DecadeOff:
		x = b.law
		x.scale = f.Factor
	default:
		return false
	}
	key := fmt.Sprintf("%d %d %v %d %.6g %.6g %.6g %.6g %.6g", gi, f.Light, spare, x.kind, x.scale, x.leds, x.m,
		x.logI0, x.base)
	l.add(key, gi, f, x, at, spare)
	return true
}

func (l *lister) spareOf(gi, light int) int {
	return slices.IndexFunc(l.list, func(b branch) bool { return b.group == gi && b.light == light && b.id < 0 })
}

// add puts a fault to its draft. The place in the middle stands for all of them.
func (l *lister) add(key string, gi int, f fault.Fault, x law, at int, spare bool) *draft {
	d, ok := l.keys[key]
	if !ok {
		d = &draft{h: Hypothesis{Group: l.p.Groups[gi].Name}, weights: map[fault.Kind]float64{}, law: x, branch: at,
			spare: spare}
		l.keys[key] = d
		l.drafts = append(l.drafts, d)
	}
	w := l.pr.Fault.In(l.p.Groups[gi], f)
	d.h.Faults = append(d.h.Faults, f)
	d.h.Prior += w
	d.weights[f.Kind] += w
	if d.h.Lights == nil || !slices.Contains(d.h.Lights, f.Light) {
		d.h.Lights = append(d.h.Lights, f.Light)
	}
	return d
}

// branchJoints adds a bad joint in any one branch of each light.
func (l *lister) branchJoints(gi int, first map[int]int) {
	for li := range l.p.Groups[gi].Lights {
		i, ok := first[li]
		if !ok {
			continue
		}
		if l.p.Groups[gi].Lights[li].Kind == plan.TestLoad {
			continue // the same as one in its wire
		}
		n := l.p.Groups[gi].Lights[li].Branches()
		for k := range n {
			f := fault.Fault{Kind: fault.BranchJoint, Group: l.p.Groups[gi].Name, Light: li, Branch: k,
				Ohms: l.pr.Joint.BranchOhms}
			l.add(fmt.Sprintf("%d %d joint", gi, li), gi, f, l.list[i].law, i, false)
		}
	}
}

// variantsOf computes what an altered branch makes of the draw.
func (l *lister) variantsOf(hyp int, d *draft) error {
	at, uneven := l.middle(d)
	d.branch = at
	b := &l.list[at]
	th, err := l.giving(b.node)
	if err != nil {
		return err
	}
	isJoint := d.h.Faults[0].Kind == fault.BranchJoint
	grid := []Node{{0, 1}}
	if isJoint {
		grid = lognormal(l.pr.Joint.BranchOhms, l.pr.Joint.BranchSigma, branchJointNodes)
	}
	d.h.Grid = grid
	for _, g := range grid {
		x := d.law
		x.plus = 0
		if isJoint {
			x.plus = g.At
		}
		v := &variant{hyp: hyp, at: g.At, weight: g.Weight, how: altered, branch: at, law: x, uneven: uneven}
		l.nominalOf(v, th)
		if !isJoint {
			if err := l.exact(v, l.faultIn(d, at), th.known); err != nil {
				return err
			}
		}
		l.seenInBranch(v, l.faultIn(d, at))
		l.variants = append(l.variants, v)
	}
	d.h.Apply = func(w *wiring.Wired, at float64) error { return apply(w, d.h.Faults[0], at) }
	return nil
}

// faultIn is a fault of a draft in a branch.
func (l *lister) faultIn(d *draft, at int) fault.Fault {
	for _, f := range d.h.Faults {
		if f.Branch == l.list[at].place {
			return f
		}
	}
	return d.h.Faults[0]
}

// middle is the branch that stands for all places of a draft, and by how much
// they differ, relative, by voltage.
func (l *lister) middle(d *draft) (int, []float64) {
	n := len(l.volts)
	uneven := make([]float64, n)
	if d.spare {
		return d.branch, uneven
	}
	var all []int
	f0 := d.h.Faults[0]
	gi := l.list[d.branch].group
	first := slices.IndexFunc(l.list, func(b branch) bool { return b.group == gi && b.light == f0.Light })
	leds := 0
	for _, f := range d.h.Faults {
		all = append(all, first+f.Branch)
		if f.Kind == fault.ShortedLED || f.Kind == fault.ReversedLED {
			leds++
		}
	}
	slices.Sort(all)
	all = slices.Compact(all)
	d.h.Places = len(all)
	if leds == len(d.h.Faults) {
		d.h.Places = leds // it matters which LED it is
	}
	for k := range n {
		m, v := 0.0, 0.0
		for _, i := range all {
			m += l.list[i].i[k] / float64(len(all))
		}
		for _, i := range all {
			e := l.list[i].i[k] - m
			v += e * e / float64(len(all))
		}
		if m > leastProbeA {
			uneven[k] = math.Sqrt(v) / m
		}
	}
	slices.SortFunc(all, func(a, b int) int { return cmp.Compare(sum(l.list[a].i), sum(l.list[b].i)) })
	return all[len(all)/2], uneven
}
