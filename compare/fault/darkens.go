package fault

import "sealworthy/compare/plan"

// Darkens tells how many lights a fault puts out, of how many that the maker
// can see in the group: a strip counts by its segments, pre-resistored parts by
// the piece, LEDs one by one. A fault that makes lights dim, too bright or
// steady darkens none. Of is 0 for a group as found or unknown.
func Darkens(p *plan.Plan, f Fault) (lights, of int) {
	g, ok := p.Group(f.Group)
	if !ok {
		return 0, 0
	}
	for _, l := range g.Lights {
		of += visible(l, l.Branches())
	}
	if of == 0 {
		return 0, 0
	}
	var l plan.Light
	if f.Light < len(g.Lights) {
		l = g.Lights[f.Light]
	}
	if AboutKind(f.Kind).Dark {
		return of, of
	}
	switch f.Kind {
	case OpenBranch, DarkSegment:
		return visible(l, 1), of
	case PieceReversed:
		return visible(l, max(1, l.Segments)), of
	case ShortedLED:
		// It is bridged: its neighbours go on. A lone one is all its branch has.
		return 1, of
	case ReversedLED:
		if f.LED < len(l.Series) && l.Series[f.LED].Conducts {
			return 1, of
		}
		return visible(l, 1), of
	}
	return 0, of
}

// visible is how many lights a maker sees in so many branches of a light.
func visible(l plan.Light, branches int) int {
	if l.Kind == plan.TestLoad {
		return 0
	}
	if l.Kind == plan.LEDs {
		return branches * max(1, len(l.Series))
	}
	return branches
}
