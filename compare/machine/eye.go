package machine

import (
	"fmt"
	"slices"
	"strings"

	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
)

// looks is what an honest maker says of some groups: "all right", or what is
// wrong with which. A maker sees dark lights and what kindsOfEye are; not all
// else that is wrong.
func (t *Truth) looks(groups []string) string {
	var wrong []string
	for _, g := range groups {
		if what := t.seen(g); what != "" {
			wrong = append(wrong, g+": "+what)
		}
	}
	switch {
	case len(wrong) == 0 && t.counts:
		return t.counted(groups)
	case len(wrong) == 0:
		return allRight
	}
	return strings.Join(wrong, "; ")
}

// counted is what somebody says who counted what is lit and read what stands on the pieces: a plan that was changed
// after a reading stands by that alone.
func (t *Truth) counted(groups []string) string {
	var out []string
	for _, name := range groups {
		said := allRight
		if g, ok := t.plan.Group(name); ok {
			said = look.RightTold(look.HowMany(g), t.reads(g))
		}
		out = append(out, name+": "+said)
	}
	return strings.Join(out, "; ")
}

// reads is what is to be read of a group as it was built.
func (t *Truth) reads(g plan.Group) []string {
	out := []string{look.Figure(1e3*g.Wire.LengthM, "mm")}
	for _, l := range g.Lights {
		if l.Part != "" {
			out = append(out, look.PartRead(l.Part))
		}
		if l.Kind == plan.LEDs {
			out = append(out, look.Figure(l.Ohms.Nominal, "ohm"))
		}
	}
	if b, ok := t.plan.Board(g.Board); ok {
		for _, p := range b.Paces {
			if !p.Steady() {
				out = append(out, look.Figure(p.PeriodS, "s"))
			}
		}
	}
	return append(out, look.Figure(t.plan.Jacks[0].Volts, "V"))
}

// seen is what is seen to be wrong with one group; empty: nothing.
func (t *Truth) seen(group string) string {
	if what, ok := t.eye[group]; ok {
		return what
	}
	for _, f := range t.faults {
		n, of := fault.Darkens(t.plan, f)
		switch {
		case f.At != "" && (f.Kind == fault.OpenJoint || f.Kind == fault.OpenReturn) &&
			slices.Contains(under(t.plan, f.At), group):
			return "all dark"
		case f.Group != group || f.At != "":
		case f.Kind == fault.Overloaded:
			return "stays lit"
		case n > 0:
			return fmt.Sprintf("%d of %d dark", n, of)
		}
	}
	return ""
}
