package compare

import (
	"slices"
	"strings"

	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
)

func groupNamed(p *plan.Plan, name string) (plan.Group, bool) {
	i := slices.IndexFunc(p.Groups, func(g plan.Group) bool { return g.Name == name })
	if i < 0 {
		return plan.Group{}, false
	}
	return p.Groups[i], true
}

func boardNamed(p *plan.Plan, name string) (plan.Board, bool) {
	i := slices.IndexFunc(p.Boards, func(b plan.Board) bool { return b.Name == name })
	if i < 0 {
		return plan.Board{}, false
	}
	return p.Boards[i], true
}

func jointNamed(p *plan.Plan, name string) (plan.Joint, bool) {
	i := slices.IndexFunc(p.Joints, func(j plan.Joint) bool { return j.Name == name })
	if i < 0 {
		return plan.Joint{}, false
	}
	return p.Joints[i], true
}

func hasEnvelope(g plan.Group) bool {
	return slices.ContainsFunc(g.Lights, func(l plan.Light) bool { return l.Kind == plan.Envelope })
}

// wiresTo lists the wires that carry the whole of a feed's current: its own,
// and those of the joints between it and the jack.
func wiresTo(p *plan.Plan, f budget.Feed) []plan.Wire {
	var out []plan.Wire
	if b, ok := boardNamed(p, f.Feed); ok && f.Board {
		out = append(out, b.Wire)
	} else if g, ok := groupNamed(p, f.Feed); ok {
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
	if b, ok := boardNamed(p, f.Feed); ok && f.Board {
		joint = b.Joint
	} else if g, ok := groupNamed(p, f.Feed); ok {
		joint = g.Joint
	}
	for range len(p.Joints) { // bounded: a joint can't come twice on the way up
		j, ok := jointNamed(p, joint)
		if !ok {
			break
		}
		out, joint = append(out, j), j.From
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
