package compare

import (
	"fmt"
	"slices"

	"sealworthy/compare/plan"
)

// ticked says of each item of a closure's list how it was ticked: by what was
// measured of it and of all that hangs on it, else by hand where no test tells.
func ticked(items []Item, rows map[string][]Finding, closure string, h History) []Item {
	out := slices.Clone(items)
	for i := range out {
		x := &out[i]
		groups := x.Feeds
		if x.isGroup() {
			groups = []string{x.Name}
		}
		switch {
		case len(groups) > 0:
			x.By = byTest(groups, rows, x.Kind == ItemGroup)
		case tickedByHand(*x, closure, h):
			x.By = ByHand
		}
	}
	return out
}

// byTest: every group of an item passed, or was accepted as it is.
func byTest(groups []string, rows map[string][]Finding, looks bool) TickedBy {
	by := ByTest
	for _, g := range groups {
		for _, f := range rows[g] {
			switch {
			case accepted(f):
				by = ByChoice
			case f.Verdict != InBand || f.Stage == Loose || !isStage(f.Stage) || seenWrong(f) || looks && !f.Looked:
				return ""
			}
		}
	}
	return by
}

// tickedByHand: the maker ticked it in this closure, and hasn't touched it since.
func tickedByHand(x Item, closure string, h History) bool {
	for _, t := range h.Ticked {
		if t.Name != x.Name || t.Closure != closure {
			continue
		}
		if !slices.ContainsFunc(h.Reworks, func(r Rework) bool {
			return !r.Clip && (r.What == x.Name || r.What == Everything) && r.Order.After(t.Order)
		}) {
			return true
		}
	}
	return false
}

// addItems holds a closure until all is in it that no test tells of.
func (w *weigher) addItems(items []Item, closure string) {
	for _, x := range items {
		if x.LeftToTick() {
			w.open = append(w.open, fmt.Sprintf("%s: see that it is in, no test tells of it; then sealworthy "+
				"measure BUILD --tick %q --closure %q",
				x.said(), x.Name, closure))
		}
	}
}

// LeftToTick: no test tells of it, and nobody said yet that it is in.
func (x Item) LeftToTick() bool { return x.By == "" && x.byHandOnly() }

// said names an item; a thing needs no word for what it is.
func (x Item) said() string {
	if x.Kind == ItemThing {
		return x.Name
	}
	return fmt.Sprintf("%s %q", x.Kind, x.Name)
}

// ByHandOnly lists the items of a closure that no test tells of: they are ticked
// by hand. The error names the closures that there are.
func ByHandOnly(p *plan.Plan, closure string) ([]string, error) {
	if _, err := closuresOf(p, closure); err != nil {
		return nil, err
	}
	var out []string
	for _, x := range itemsOf(p, closure) {
		if x.byHandOnly() {
			out = append(out, x.Name)
		}
	}
	return out, nil
}
