package belief

import (
	"fmt"
	"slices"
	"strings"

	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
)

// Text says a class in plain words, with where to look first. Where the plan may
// be wrong instead, that comes first, for counting costs nothing.
func (c Class) Text(p *plan.Plan) string {
	if len(c.Kinds) > 0 && c.Kinds[0].OfPlan() && c.Suspect != nil {
		if i := slices.IndexFunc(c.Kinds, func(k fault.Kind) bool { return !k.OfPlan() }); i >= 0 {
			f := c.Suspect.Fault()
			f.Kind = c.Kinds[i]
			return fault.CountFirst(*c.Suspect, textOf(p, f, c.Kinds, c.Groups))
		}
		return c.Suspect.Text()
	}
	s := textOf(p, c.Fault, c.Kinds, c.Groups)
	switch {
	case c.Second != nil:
		return "two at once: " + s + "; and " + textOf(p, *c.Second, c.Kinds, c.Groups)
	case c.Count > 1:
		return fmt.Sprintf("%d times at once: %s", c.Count, s)
	case c.Suspect != nil && !c.Fault.Kind.OfPlan():
		return fault.CountFirst(*c.Suspect, s)
	}
	return s
}

// Ranked is the class in the form of package fault: DeltaA is what it makes of
// the draw at voltage k of the Ensemble.
func (e *Ensemble) Ranked(c Class, k int) fault.Ranked {
	return fault.Ranked{Fault: c.Fault, Kinds: c.Kinds, Groups: len(c.Groups), Places: c.Places, DeltaA: c.PredictedA[k] - e.HealthyA[k], P: c.P}
}

// textOf says one fault; kinds are what looks like it.
func textOf(p *plan.Plan, f fault.Fault, kinds []fault.Kind, groups []string) string {
	g, ok := groupOf(p, f.Group)
	if !ok {
		return string(f.Kind)
	}
	switch {
	case f.Kind == fault.BranchJoint:
		return fmt.Sprintf("a bad joint in one branch of %s, some %s ohm: that one is dim; move its wires while you read, solder it anew", lightName(g, f.Light), about(f.Ohms))
	case f.Kind == fault.BadJoint && f.Ohms >= wireOffOhms:
		return fmt.Sprintf("nothing reaches %q: its wire is off, or a joint in it is open", g.Name)
	}
	return fault.Ranked{Fault: f, Kinds: kinds, Groups: max(1, len(groups))}.Text(p)
}

func groupOf(p *plan.Plan, name string) (*plan.Group, bool) {
	i := slices.IndexFunc(p.Groups, func(g plan.Group) bool { return g.Name == name })
	if i < 0 {
		return nil, false
	}
	return &p.Groups[i], true
}

func lightName(g *plan.Group, light int) string {
	if light >= len(g.Lights) {
		return fmt.Sprintf("%q", g.Name)
	}
	l := g.Lights[light]
	name := l.Part
	if name == "" {
		var parts []string
		for _, x := range l.Series {
			parts = append(parts, x.Part)
		}
		name = strings.Join(parts, " + ")
	}
	if l.Kind == plan.LEDs && l.Ohms.Nominal > 0 {
		name += fmt.Sprintf(" with %g ohm", l.Ohms.Nominal)
	}
	return name
}

// about says ohms as nearly as they are known: one digit.
func about(ohms float64) string {
	unit := 1.0
	for ohms/unit >= 10 {
		unit *= 10
	}
	for ohms/unit < 1 && unit > 1e-3 {
		unit /= 10
	}
	return fmt.Sprintf("%g", float64(int(ohms/unit+0.5))*unit)
}
