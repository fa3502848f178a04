package compare

import (
	"fmt"
	"slices"
	"strings"

	"sealworthy/compare/belief"
	"sealworthy/compare/fault"
)

// causesOf names what a posterior holds likely.
func (j *Judge) causesOf(w weighed, f Finding) []Cause {
	var out []Cause
	unknown := Cause{Name: "unknown", Text: "none of the usual faults fits: count the lights and compare the parts with the plan", P: round2(w.result.Unknown)}
	if f.Verdict != CantTell && (len(w.result.Classes) == 0 || w.result.Unknown > w.result.Classes[0].P) {
		out = append(out, unknown)
	}
	for _, c := range w.result.Classes {
		if len(out) == shownCauses || c.P < leastP || (f.Verdict == CantTell && c.P < 0.5) {
			break
		}
		out = append(out, j.cause(w, c))
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
		if slices.Contains(c.Kinds, k) && slices.Contains([]fault.Kind{fault.ReversedLED, fault.BranchJoint, fault.DecadeOff, fault.CountOff, fault.OtherPart, fault.OtherOhms}, r.Fault.Kind) {
			r.Fault.Kind = k
		}
	}
	only := c
	only.Fault, only.Suspect = r.Fault, nil
	text := only.Text(j.Expected.Plan) + j.orAt(c)
	edit := ""
	switch x := c.Suspect; {
	case x == nil || !w.suspected(c):
	case r.Fault.Kind == x.Kind:
		text, edit = x.Text(), x.Edit()
	default:
		text, edit = planFirst(*x, text), x.Edit()
	}
	switch {
	case len(c.Groups) > 1:
		text = fmt.Sprintf("in one of %d groups, for instance in %q: %s", len(c.Groups), c.Fault.Group, text)
	case len(w.ensemble.Groups) > 1 && !strings.Contains(text, c.Fault.Group):
		text = fmt.Sprintf("in %q: %s", c.Fault.Group, text)
	}
	return Cause{Name: string(r.Fault.Kind), Kinds: kindNames(c.Kinds), Text: text, Place: j.placeOf(c, r), Places: above(r.Fault), P: round2(c.P), Edit: edit}
}

// placeOf is the place on the feed tree; which of several branches or LEDs it is,
// no current tells.
func (j *Judge) placeOf(c belief.Class, r fault.Ranked) string {
	p := j.Expected.Plan
	g, ok := groupNamed(p, r.Fault.Group)
	if c.Places <= 1 || !ok {
		return fault.Place(p, r.Fault)
	}
	return strings.Join(append(fault.Path(p, g), g.Name), " > ")
}

// orAt names the other lights of the group that it could be in.
func (j *Judge) orAt(c belief.Class) string {
	g, ok := groupNamed(j.Expected.Plan, c.Fault.Group)
	if !ok || len(c.Lights) < 2 || c.Second != nil {
		return ""
	}
	var names []string
	for _, i := range c.Lights {
		if i == c.Fault.Light || i < 0 || i >= len(g.Lights) {
			continue
		}
		l := g.Lights[i]
		name := fmt.Sprintf("the %d of %s", l.Branches(), l.Part)
		if len(l.Series) > 1 {
			name = fmt.Sprintf("the %d branches of %d in series", l.Branches(), len(l.Series))
		}
		names = append(names, name)
	}
	return "; or it is among " + strings.Join(names, ", ")
}

// suspectShare of a class must be the plan's, for the plan to be named with it: to
// count costs nothing, so little is enough. A light that was counted dark leaves a
// tenth of that.
const suspectShare = 0.004

func (w weighed) suspected(c belief.Class) bool {
	if c.Fault.Kind == c.Suspect.Kind {
		return true
	}
	p := 0.0
	for _, m := range c.Members {
		if m < len(w.result.Weighed) && w.ensemble.Hypotheses[m].Suspect != nil {
			p += w.result.Weighed[m]
		}
	}
	return p >= suspectShare*c.P
}

// planFirst puts the plan before the light: to count costs nothing. The change to
// the plan stands in a line of its own.
func planFirst(x fault.Suspect, faultText string) string {
	first := "look at the part first"
	switch x.Kind {
	case fault.CountOff:
		first = "count first"
	case fault.OtherOhms:
		first = "read the resistors first"
	}
	return first + "; if the plan is right, " + faultText
}

// above is the joint or return at which a fault above the groups lies.
func above(f fault.Fault) []string {
	if f.At == "" {
		return nil
	}
	return []string{f.At}
}
