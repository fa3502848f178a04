package compare

import (
	"slices"

	"sealworthy/capture"
	"sealworthy/compare/plan"
)

// Places lists all that a maker can touch: jacks, joints, returns, boards and
// groups, in the order of the plan.
func Places(p *plan.Plan) []capture.Place {
	var out []capture.Place
	add := func(name, kind string) { out = append(out, capture.Place{Name: name, Kind: kind}) }
	for _, x := range p.Jacks {
		add(x.Name, "jack")
	}
	for _, x := range p.Joints {
		add(x.Name, "joint")
	}
	for _, x := range p.Returns {
		add(x.Name, "return")
	}
	for _, x := range p.Boards {
		add(x.Name, "board")
	}
	for _, x := range p.Groups {
		add(x.Name, "group")
	}
	return out
}

// Behind names the groups that hang on a place, in the order of the plan: they
// must be measured and looked at anew when it was touched. A place that the plan
// doesn't have feeds none.
func Behind(p *plan.Plan, place string) []string {
	var out []string
	for _, g := range p.Groups {
		if behind(p, g.Name, place) {
			out = append(out, g.Name)
		}
	}
	return out
}

// Places implements capture.Toucher.
func (g *Guide) Places(closures []string) []capture.Place {
	return placesAt(g.judge.Expected.Plan, closures)
}

// placesAt are Places, those first on which something of closures hangs; no closures: all of them.
func placesAt(p *plan.Plan, closures []string) []capture.Place {
	all := Places(p)
	if len(closures) == 0 {
		return all
	}
	for i := range all {
		all[i].Elsewhere = !slices.ContainsFunc(Behind(p, all[i].Name), func(name string) bool {
			g, ok := p.Group(name)
			return ok && slices.Contains(closures, g.Closure)
		})
	}
	slices.SortStableFunc(all, func(a, b capture.Place) int {
		switch {
		case a.Elsewhere == b.Elsewhere:
			return 0
		case b.Elsewhere:
			return -1
		}
		return 1
	})
	return all
}

// Behind implements capture.Toucher.
func (g *Guide) Behind(place string) []string { return Behind(g.judge.Expected.Plan, place) }

var _ capture.Toucher = (*Guide)(nil)

// behind reports whether a group or board hangs behind a place, or is it. What
// a board feeds hangs behind all that the board hangs behind.
func behind(p *plan.Plan, name, place string) bool {
	if name == place {
		return true
	}
	at, back := "", ""
	if g, ok := p.Group(name); ok {
		if g.Board != "" && behind(p, g.Board, place) {
			return true
		}
		at, back = g.Joint, g.Return
	} else if b, ok := p.Board(name); ok {
		at, back = b.Joint, b.Return
	}
	return place != "" && (slices.Contains(p.UpFrom(at), place) || slices.Contains(p.BackFrom(back), place))
}

func isPlace(p *plan.Plan, name string) bool {
	return slices.ContainsFunc(Places(p), func(x capture.Place) bool { return x.Name == name })
}
