package compare

import (
	"fmt"
	"slices"
	"strings"

	"sealworthy/capture/record"
	"sealworthy/compare/budget"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
)

// CheckFinding is a check of the plan that speaks against closing.
type CheckFinding struct {
	Name  string `json:"name"`
	Text  string `json:"text"`            // in plain words
	Burns bool   `json:"burns,omitempty"` // something may burn by it, melt or be destroyed
	// Accepted is the maker's reason; empty: it wasn't accepted.
	Accepted string `json:"accepted,omitempty"`
	// Edit is the change to the plan that goes with the cure, as PATH = VALUE; empty:
	// none that is one value.
	Edit string `json:"edit,omitempty"`

	concerns []string // closures
}

// checks are the checks of the plan that bind, and what was allowed that the plan
// doesn't say any more: it may have been powered.
func (j *Judge) checks(h History) ([]CheckFinding, error) {
	p := j.Expected.Plan
	binding, err := j.Expected.Binding()
	if err != nil {
		return nil, err
	}
	var out []CheckFinding
	for _, c := range binding {
		out = append(out, CheckFinding{Name: c.Name, Text: c.Text, Burns: c.Burns, Accepted: reasonFor(c, h.Allowed),
			Edit: j.resistorFor(c), concerns: c.Closures})
	}
	for _, a := range h.Allowed {
		if slices.ContainsFunc(out, func(c CheckFinding) bool { return c.Name == a.Name }) || mendedSince(p, a, h) {
			continue
		}
		out = append(out, CheckFinding{Name: a.Name, Text: fmt.Sprintf("%q was allowed, and the plan doesn't say it "+
			"any more", a.Name),
			Burns: true, Accepted: a.Reason, concerns: concerned(p, a)})
	}
	return out, nil
}

// resistorFor is the change to the plan that goes with the resistor that a check names
// for bare LEDs; empty where it names none, or where it would be more than one value.
func (j *Judge) resistorFor(c budget.Check) string {
	if !(c.Instead > 0) || c.Kind != budget.KindLED && c.Kind != budget.KindNoLimit {
		return ""
	}
	g, ok := j.Expected.Plan.Group(c.Group)
	if !ok {
		return ""
	}
	at := -1
	for i, l := range g.Lights {
		if l.Kind == plan.LEDs && (l.Pos == c.Pos || len(g.Lights) == 1) {
			at = i
		}
	}
	if at < 0 {
		return ""
	}
	path := fmt.Sprintf("group.%q.lights[%d].ohms", g.Name, at)
	if _, err := fault.Amend(j.PlanSource, path, c.Instead, j.PlanOptions); err != nil {
		return ""
	}
	return fmt.Sprintf("%s = %g", path, c.Instead)
}

// aboutGroups lists the groups that an allowed check is about: by the name that
// stands in it, else by the closure in which it was allowed, else all.
func aboutGroups(p *plan.Plan, a record.ByName) []string {
	_, subject, _ := strings.Cut(a.Name, ": ")
	best := ""
	for _, x := range Places(p) {
		for _, lead := range []string{"", x.Kind + " "} {
			if name := lead + x.Name; (subject == name || strings.HasPrefix(subject, name+", ")) &&
				len(x.Name) > len(best) {
				best = x.Name
			}
		}
	}
	if best != "" {
		return Behind(p, best)
	}
	var out []string
	for _, g := range p.Groups {
		if a.Closure == "" || g.Closure == a.Closure {
			out = append(out, g.Name)
		}
	}
	return out
}

// concerned lists the closures that hide what an allowed check is about.
func concerned(p *plan.Plan, a record.ByName) []string {
	about := aboutGroups(p, a)
	var out []string
	for _, c := range p.Closures {
		if slices.ContainsFunc(hides(p, c.Name).groups, func(g string) bool { return slices.Contains(about, g) }) {
			out = append(out, c.Name)
		}
	}
	return out
}

// mendedSince: what an allowed check is about was touched after it was allowed.
func mendedSince(p *plan.Plan, a record.ByName, h History) bool {
	about := aboutGroups(p, a)
	return !slices.ContainsFunc(about, func(g string) bool {
		_, v := touched(p, g, h)
		return !v.covers(a.Order)
	})
}

// addCheck holds a closure until a check is mended in the plan or accepted by name.
func (w *weigher) addCheck(c CheckFinding) {
	switch {
	case c.Accepted != "":
		w.accepted = append(w.accepted, fmt.Sprintf("%s, accepted: %s", c.Text, c.Accepted))
	case c.Burns:
		w.failed = append(w.failed, c.Text+". "+waysOut(c))
	default:
		w.open = append(w.open, c.Text+". "+waysOut(c))
	}
}

func waysOut(c CheckFinding) string {
	return fmt.Sprintf("Change the plan, or accept it: sealworthy measure BUILD --allow %q --reason TEXT", c.Name)
}

// addDamage caps a closure while something is wrong with the record.
func (w *weigher) addDamage(d record.Damage) {
	at := d.File
	if d.Line > 0 {
		at = fmt.Sprintf("%s, line %d", d.File, d.Line)
	}
	switch d.Answered {
	case "":
		w.open = append(w.open, fmt.Sprintf("the record: %s: %s; sealworthy check BUILD shows it", at, d.What))
	case Retest:
	default:
		w.accepted = append(w.accepted, fmt.Sprintf("the record: %s: %s, taken as it stands: %s", at, d.What,
			d.Answered))
	}
}
