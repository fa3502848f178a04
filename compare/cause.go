package compare

import (
	"slices"
	"strings"

	"sealworthy/compare/belief"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// causesOf names what a posterior holds likely.
func (j *Judge) causesOf(w weighed, f Finding) []Cause {
	var out []Cause
	unknown := Cause{Name: "unknown", Text: words.NoneFits, P: round2(w.result.Unknown)}
	if f.Verdict != CantTell && (len(w.result.Classes) == 0 || w.result.Unknown > w.result.Classes[0].P) {
		out = append(out, unknown)
	}
	for _, c := range w.result.Classes {
		if len(out) == shownCauses || c.P < leastP || (f.Verdict == CantTell && c.P < 0.5) {
			break
		}
		out = append(out, j.cured(j.cause(w, c), f.Board, f.Output, f.MeasuredA))
	}
	if len(out) == 0 && f.Verdict != CantTell {
		out = []Cause{unknown}
	}
	return out
}

func (j *Judge) cause(w weighed, c belief.Class) Cause {
	r := w.ensemble.Ranked(c, 0)
	// Of look-alikes the plainest is named: what is dark, not why.
	for _, k := range []fault.Kind{fault.DarkSegment, fault.OpenBranch} {
		if slices.Contains(c.Kinds, k) && slices.Contains([]fault.Kind{fault.ReversedLED, fault.BranchJoint,
			fault.DecadeOff, fault.CountOff, fault.OtherPart, fault.OtherOhms}, r.Fault.Kind) {
			r.Fault.Kind = k
		}
	}
	only := c
	only.Fault, only.Suspect = r.Fault, nil
	others := j.othersOf(c)
	text := words.Among(only.Text(j.Expected.Plan), others)
	edit := ""
	switch x := c.Suspect; {
	case x == nil || !w.suspected(c):
	case r.Fault.Kind == x.Kind:
		text, edit = words.Suspect(*x), x.Edit()
		if f, kinds, ok := w.brokenIn(c); ok {
			text = words.PlanFirst(*x, f, 1, words.Fault(j.Expected.Plan, f, kinds))
		}
	default:
		n := max(1, c.Count)
		if len(others) > 0 || c.Second != nil {
			n = 0
		}
		text, edit = words.PlanFirst(*x, r.Fault, n, text), x.Edit()
	}
	switch {
	case len(c.Groups) > 1:
		text = words.InOneOf(len(c.Groups), c.Fault.Group, text)
	case len(w.ensemble.Groups) > 1 && !strings.Contains(text, c.Fault.Group):
		text = words.In(c.Fault.Group, text)
	}
	return Cause{Name: string(r.Fault.Kind), Kinds: kindNames(c.Kinds), Text: text, Place: j.placeOf(c, r),
		Places: above(r.Fault), P: round2(c.P), Edit: edit}
}

// placeOf is the place on the feed tree; which of several branches or LEDs it is,
// no current tells.
func (j *Judge) placeOf(c belief.Class, r fault.Ranked) string {
	p := j.Expected.Plan
	g, ok := p.Group(r.Fault.Group)
	if c.Places <= 1 || !ok {
		return fault.Place(p, r.Fault)
	}
	return strings.Join(append(fault.Path(p, g), g.Name), " > ")
}

// othersOf are the other lights of the group that it could be in.
func (j *Judge) othersOf(c belief.Class) []plan.Light {
	g, ok := j.Expected.Plan.Group(c.Fault.Group)
	if !ok || len(c.Lights) < 2 || c.Second != nil {
		return nil
	}
	var out []plan.Light
	for _, i := range c.Lights {
		if i != c.Fault.Light && i >= 0 && i < len(g.Lights) {
			out = append(out, g.Lights[i])
		}
	}
	return out
}

// suspectShare of a class must be the plan's, for the plan to be named with it: to
// count costs nothing, so little is enough. A light that was counted dark leaves a
// tenth of that.
const suspectShare = 0.004

func (w weighed) suspected(c belief.Class) bool {
	if c.Fault.Kind == c.Suspect.Kind {
		return true
	}
	least := suspectShare
	if w.counted {
		least = evenOdds // as many were counted as the plan has
	}
	p := 0.0
	for _, m := range c.Members {
		if m < len(w.result.Weighed) && w.ensemble.Hypotheses[m].Suspect != nil {
			p += w.result.Weighed[m]
		}
	}
	return p >= least*c.P
}

// evenOdds: what was counted as the plan has it is the plan's fault only where that is still the
// likelier.
const evenOdds = 0.5

// brokenIn is the likeliest fault of a class that looks like a fault of the plan, with all kinds of
// its own; false where there is none that is worth a word.
func (w weighed) brokenIn(c belief.Class) (f fault.Fault, kinds []fault.Kind, ok bool) {
	best, p := -1, 0.0
	for _, m := range c.Members {
		if m >= len(w.result.Weighed) || w.ensemble.Hypotheses[m].Suspect != nil {
			continue
		}
		p += w.result.Weighed[m]
		if best < 0 || w.result.Weighed[m] > w.result.Weighed[best] {
			best = m
		}
	}
	if best < 0 || p < suspectShare*c.P {
		return f, nil, false
	}
	h := w.ensemble.Hypotheses[best]
	i := max(0, slices.IndexFunc(h.Faults, func(x fault.Fault) bool { return x.Kind == h.Kinds[0] }))
	return h.Faults[i], h.Kinds, true
}

// toCount: a class holds a fault of the plan and one of the model, and nobody counted: a count, or a
// look at the part, parts the two.
func (w weighed) toCount(c belief.Class) bool {
	if c.Suspect == nil || w.counted || !w.suspected(c) {
		return false
	}
	_, _, broken := w.brokenIn(c)
	return broken
}

// above is the joint or return at which a fault above the groups lies.
func above(f fault.Fault) []string {
	if f.At == "" {
		return nil
	}
	return []string{f.At}
}
