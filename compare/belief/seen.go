package belief

import (
	"cmp"
	"slices"

	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
)

// glareAbove: beyond so much of the planned current a light glares (common practice,
// no source).
const glareAbove = 2.0

// lightsOf is how many lights the eye can count in a group.
func lightsOf(p *plan.Plan, group string) int {
	_, of := fault.Darkens(p, fault.Fault{Kind: fault.StuckDark, Group: group})
	return of
}

// service is the voltage at which the lights are looked at: the highest.
func (s *side) service() int {
	best := 0
	for k := range s.volts {
		if s.volts[k] > s.volts[best] {
			best = k
		}
	}
	return best
}

// seenInBranch says how many lights an altered branch puts out or dims.
func (l *lister) seenInBranch(v *variant, f fault.Fault) {
	b := &l.list[v.branch]
	if b.id < 0 {
		v.more = l.lightsOfBranch(b)
		return
	}
	if f.Kind == fault.ShortedLED || f.Kind == fault.ReversedLED {
		v.dark, _ = fault.Darkens(l.p, f)
	}
	n, k := l.lightsOfBranch(b), l.service()
	if !(b.i[k] > leastProbeA) {
		return
	}
	ratio := 1 + v.delta[k]/(b.i[k]*v.gain[k])
	v.dark, v.dim = seen(ratio, n, v.dark)
	v.faint = faint(ratio, n-v.dark)
}

// lightsOfBranch is how many lights the eye can count in a branch.
func (l *lister) lightsOfBranch(b *branch) int {
	n, _ := fault.Darkens(l.p, fault.Fault{Kind: fault.OpenBranch, Group: l.p.Groups[b.group].Name, Light: b.light})
	return n
}

// seenInGroup says the same of a whole group.
func (l *lister) seenInGroup(v *variant, gi int, f fault.Fault) {
	n, _ := fault.Darkens(l.p, f)
	k := l.service()
	of := lightsOf(l.p, l.p.Groups[gi].Name)
	if f.Kind != fault.BadJoint || !(l.y0[k] > leastProbeA) {
		v.dark = n
		return
	}
	own := 0.0
	for i := range l.list {
		if b := &l.list[i]; b.group == gi {
			own += b.i[k]
		}
	}
	if own > leastProbeA {
		v.dark, v.dim = seen(1+v.delta[k]/own, of, n)
		v.faint = faint(1+v.delta[k]/own, of-v.dark)
	}
}

// seen sorts n lights that draw so much of what they should; known is how many
// are dark for another reason.
func seen(ratio float64, n, known int) (dark, dim int) {
	switch {
	case ratio < look.DarkBelow:
		return n, 0
	case ratio < look.DimBelow || ratio > glareAbove:
		return known, n - known
	}
	return known, 0
}

// faint says how many of n lights draw so much less that they may be called dim.
func faint(ratio float64, n int) int {
	if ratio < look.DimBelow || ratio >= look.FaintBelow {
		return 0
	}
	return n
}

// mostFaults: however many places a group has, faults don't weigh more than this
// together before all is brought to a sum of 1.
const mostFaults = 0.5

// finish turns drafts into hypotheses: kinds likeliest first. It brings all
// priors to a sum of 1, those of nothing and of the unknown too.
func (l *lister) finish() []Hypothesis {
	total := 0.0
	for _, d := range l.drafts {
		total += d.h.Prior
	}
	f := 1.0
	if total > mostFaults {
		f, total = mostFaults/total, mostFaults
	}
	sum := l.pr.None + l.pr.Unknown + total
	f /= sum
	l.pr.None, l.pr.Unknown = l.pr.None/sum, l.pr.Unknown/sum
	out := make([]Hypothesis, len(l.drafts))
	for i, d := range l.drafts {
		h := d.h
		h.Prior *= f
		for k := range d.weights {
			h.Kinds = append(h.Kinds, k)
		}
		slices.SortFunc(h.Kinds, func(a, b fault.Kind) int {
			return cmp.Or(-cmp.Compare(d.weights[a], d.weights[b]), cmp.Compare(a, b))
		})
		h.Places = max(1, h.Places)
		out[i] = h
	}
	// A hypothesis darkens what its likeliest variant does.
	best := make([]float64, len(out))
	for _, v := range l.variants {
		if v.weight > best[v.hyp] {
			best[v.hyp] = v.weight
			out[v.hyp].Dark, out[v.hyp].Dim = v.dark, v.dim
		}
	}
	return out
}
