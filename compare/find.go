package compare

import (
	"slices"
	"strings"

	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
)

func hasEnvelope(g plan.Group) bool {
	return slices.ContainsFunc(g.Lights, func(l plan.Light) bool { return l.Kind == plan.Envelope })
}

// wiresTo lists the wires that carry the whole of a feed's current: its own,
// and those of the joints between it and the jack.
func wiresTo(p *plan.Plan, f budget.Feed) []plan.Wire {
	var out []plan.Wire
	if b, ok := p.Board(f.Feed); ok && f.Board {
		out = append(out, b.Wire)
	} else if g, ok := p.Group(f.Feed); ok {
		out = append(out, g.Wire)
	}
	for _, j := range jointsTo(p, f) {
		out = append(out, j.Wire)
	}
	return out
}

// holdsTo lists what the current of a feed goes through in joints.
func holdsTo(p *plan.Plan, f budget.Feed) []plan.Hold {
	var out []plan.Hold
	for _, j := range jointsTo(p, f) {
		out = append(out, j.Holds...)
	}
	return out
}

// jointsTo lists the joints between a feed and its jack, the nearest first.
func jointsTo(p *plan.Plan, f budget.Feed) []plan.Joint {
	var out []plan.Joint
	joint := ""
	if b, ok := p.Board(f.Feed); ok && f.Board {
		joint = b.Joint
	} else if g, ok := p.Group(f.Feed); ok {
		joint = g.Joint
	}
	for _, name := range p.UpFrom(joint) {
		if j, ok := p.Joint(name); ok {
			out = append(out, j)
		}
	}
	return out
}

// inside lists closure and all that closes inside it.
func inside(p *plan.Plan, closure string) []string {
	out := []string{closure}
	for i := 0; i < len(out); i++ {
		for _, c := range p.Closures {
			if c.Inside == out[i] && !slices.Contains(out, c.Name) {
				out = append(out, c.Name)
			}
		}
	}
	return out
}

func list(names []string) string { return strings.Join(names, ", ") }
