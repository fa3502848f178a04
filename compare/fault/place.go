package fault

import (
	"fmt"
	"slices"
	"strings"

	"sealworthy/compare/plan"
)

// Place says where a fault lies on the feed tree, from the jack down:
// "main > keel > cabin windows, 2nd strip, 3rd segment". A way back that is not
// the twin of the plus wire stands behind it. A fault above the groups ends at its
// joint. It is empty for a group that the plan doesn't have.
func Place(p *plan.Plan, f Fault) string {
	g, ok := p.Group(f.Group)
	if !ok {
		return ""
	}
	if upstream(f.Kind) {
		up := above(p, g, f.Kind)
		if i := slices.Index(up, f.At); i >= 0 && (f.Kind == UpstreamJoint || f.Kind == OpenJoint) {
			return strings.Join(up[:i+1], " > ")
		}
		return "return " + f.At
	}
	s := strings.Join(append(Path(p, g), g.Name), " > ")
	if in := inside(g, f); in != "" {
		s += ", " + in
	}
	if back := returnsOf(p, g); len(back) > 0 {
		s += "; back by " + strings.Join(back, ", ")
	}
	return s
}

// Path lists what a group hangs on, from the jack down: jack, joints, board and
// output. The group itself isn't in it.
func Path(p *plan.Plan, g plan.Group) []string {
	out := p.UpFrom(p.JointOf(g))
	slices.Reverse(out)
	if g.Board != "" {
		out = append(out, fmt.Sprintf("%s, output %d", g.Board, g.Output))
	}
	return out
}

// returnsOf names the returns that a group's minus goes through.
func returnsOf(p *plan.Plan, g plan.Group) []string {
	return slices.DeleteFunc(p.BackFrom(p.ReturnOf(g)), func(at string) bool { return p.ReturnAt(at) < 0 })
}

// inside says which light, piece, segment, branch and LED of a group is meant; nothing for
// what lies at the group or its output.
func inside(g plan.Group, f Fault) string {
	at := AboutKind(f.Kind).At
	light := f.Kind == ExtraBranch || at == InPlan // one of its lights, no branch of it
	if !light && at != InBranch && at != InLED && f.Kind != PieceReversed {
		return ""
	}
	if f.Light >= len(g.Lights) {
		return ""
	}
	l := g.Lights[f.Light]
	var parts []string
	if len(g.Lights) > 1 {
		parts = append(parts, l.Part)
	}
	if light {
		return strings.Join(parts, ", ")
	}
	switch l.Kind {
	case plan.Strip:
		if l.Count > 1 {
			parts = append(parts, ordinal(pieceOf(g, f)+1)+" strip")
		}
		if f.Kind != PieceReversed && l.Segments > 1 {
			parts = append(parts, ordinal(f.Branch%l.Segments+1)+" segment")
		}
	case plan.SMD:
		if l.Count > 1 {
			parts = append(parts, ordinal(f.Branch+1)+" piece")
		}
	case plan.LEDs:
		if l.Count > 1 {
			parts = append(parts, ordinal(f.Branch+1)+" branch")
		}
	}
	if (f.Kind == ReversedLED || f.Kind == ShortedLED) && len(l.Series) > 1 {
		parts = append(parts, ordinal(f.LED+1)+" LED from plus")
	}
	return strings.Join(parts, ", ")
}

func ordinal(n int) string {
	suffix := "th"
	if n%100 < 11 || n%100 > 13 {
		switch n % 10 {
		case 1:
			suffix = "st"
		case 2:
			suffix = "nd"
		case 3:
			suffix = "rd"
		}
	}
	return fmt.Sprintf("%d%s", n, suffix)
}
