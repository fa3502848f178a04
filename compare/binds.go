package compare

import (
	"fmt"
	"slices"

	"sealworthy/capture/record"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
)

// CheckFinding is a check of the plan that speaks against closing.
type CheckFinding struct {
	Name  string `json:"name"`
	Text  string `json:"text"`
	Burns bool   `json:"burns,omitempty"`
	// Accepted is the maker's reason; empty: it wasn't accepted.
	Accepted string `json:"accepted,omitempty"`

	concerns []string // closures
}

// Covers finds the word by which the maker accepted a check as it is now; an
// acceptance of a lesser value doesn't cover it.
func (h History) Covers(c budget.Check) (record.ByName, bool) {
	for _, a := range slices.Backward(h.Allowed) {
		if a.Name == c.Name && c.Covers(a.Value) {
			return a, true
		}
	}
	return record.ByName{}, false
}

// checks are the checks of the plan that bind, and what was accepted at a step
// of its own without being one of them.
func (j *Judge) checks(h History) ([]CheckFinding, error) {
	b, err := j.Expected.At(Conditions{})
	if err != nil {
		return nil, err
	}
	var out []CheckFinding
	for _, c := range b.Binding("", nil) {
		a, _ := h.Covers(c)
		out = append(out, CheckFinding{Name: c.Name, Text: c.Text, Burns: c.Burns, Accepted: a.Reason, concerns: c.Closures})
	}
	for _, a := range h.Allowed {
		known := slices.ContainsFunc(out, func(c CheckFinding) bool { return c.Name == a.Name })
		if !known && a.Closure != "" && !mendedSince(j.Expected.Plan, a, h) {
			out = append(out, CheckFinding{Name: a.Name, Text: a.Name + " was allowed in a test", Burns: true, Accepted: a.Reason,
				concerns: around(j.Expected.Plan, a.Closure)})
		}
	}
	return out, nil
}

// mendedSince: something that the closure hides was touched after a check was
// allowed that the plan doesn't have any more.
func mendedSince(p *plan.Plan, a record.ByName, h History) bool {
	groups := hides(p, a.Closure).groups
	return slices.ContainsFunc(h.Reworks, func(r Rework) bool {
		return !r.Clip && r.Order.After(a.Order) && slices.ContainsFunc(groups, func(g string) bool { return r.touches(p, g) })
	})
}

// around lists a closure and those that it closes inside of.
func around(p *plan.Plan, closure string) []string {
	var out []string
	for _, c := range p.Closures {
		if slices.Contains(inside(p, c.Name), closure) {
			out = append(out, c.Name)
		}
	}
	return out
}

// addCheck holds a closure until a check is mended in the plan or accepted by name.
func (w *weigher) addCheck(c CheckFinding) {
	switch {
	case c.Accepted != "":
		w.accepted = append(w.accepted, fmt.Sprintf("%s, accepted: %s", c.Text, c.Accepted))
	case c.Burns:
		w.failed = append(w.failed, c.Text+" "+waysOut(c))
	default:
		w.open = append(w.open, c.Text+" "+waysOut(c))
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
		w.accepted = append(w.accepted, fmt.Sprintf("the record: %s: %s, taken as it stands: %s", at, d.What, d.Answered))
	}
}
