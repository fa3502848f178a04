package compare

import (
	"fmt"
	"slices"

	"sealworthy/capture"
	"sealworthy/compare/plan"
)

// Lost is a group that was measured as built and that the plan doesn't have any
// more. What was wrong with it may still be in there, under another name or none.
type Lost struct {
	Group   string // by its name of then
	Closure string // it was in; empty where the plan doesn't have that any more
}

// LostGroups lists the groups that the plan lost, as long as nobody told that
// they were touched since they were measured.
func LostGroups(p *plan.Plan, h History) []Lost {
	var out []Lost
	for _, r := range h.Steps {
		if r.Stage == Loose || r.Step.Kind != capture.Power || r.Outcome == capture.Skipped {
			continue
		}
		for _, g := range r.Step.Groups {
			if _, ok := p.Group(g); ok {
				continue
			}
			x := Lost{Group: g, Closure: r.Step.Closure}
			if p.ClosureAt(x.Closure) < 0 {
				x.Closure = ""
			}
			// what is said of it since counts for all of it
			out = slices.DeleteFunc(out, func(y Lost) bool { return y.Group == g })
			if v, _ := touched(p, g, h); !v.covers(r.BeganAt) {
				out = append(out, x)
			}
		}
	}
	return out
}

// addLost holds the closure that a lost group was in until the maker tells what
// became of it; all closures where it isn't known in which it was.
func (w *weigher) addLost(p *plan.Plan, closure string, h History) {
	for _, x := range LostGroups(p, h) {
		if x.Closure == closure || x.Closure == "" {
			w.open = append(w.open, fmt.Sprintf("%s was measured, and the plan doesn't have it any more. If you "+
				"took it out or gave it another name, say so: sealworthy measure BUILD --touched %q", x.Group,
				x.Group))
		}
	}
}

// addOtherName holds a closure while the latest sitting is of a build with another
// name: a folder that was copied for a sister ship has the readings of the first.
func (w *weigher) addOtherName(p *plan.Plan, h History) {
	if n := len(h.Sittings); n > 0 && w.rests != 0 && h.Sittings[n-1].Name != "" && h.Sittings[n-1].Name != p.Build {
		w.open = append(w.open, fmt.Sprintf("what was measured is of %q, and the plan is of %q. The same model with "+
			"a new name: sealworthy measure BUILD --touched nothing. Another model: begin a folder of its own",
			h.Sittings[n-1].Name, p.Build))
	}
}
