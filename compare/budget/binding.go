package budget

import (
	"fmt"
	"slices"

	"sealworthy/compare/plan"
)

// Binds tells whether a check speaks against powering or closing: what is wrong
// binds, until it's mended in the plan or accepted by its name.
func (c Check) Binds() bool { return c.Severity == Wrong }

// Concerns tells whether a check is about something that a closure hides, or
// about what feeds it.
func (c Check) Concerns(closure string) bool { return slices.Contains(c.Closures, closure) }

// Binding lists the checks that bind a plan in service, as [Budget.Binding] does for all closures. They
// rest on nominal operating points, so none of a budget's trials are made for them.
func Binding(p *plan.Plan, at At) ([]Check, error) {
	if err := at.check(); err != nil {
		return nil, fmt.Errorf("conditions of the checks: %w", err)
	}
	c := newChecker(p)
	for j := range p.Jacks {
		w, err := wired(p, j, at.filled())
		if err != nil {
			return nil, err
		}
		if err := c.operate(w, j); err != nil {
			return nil, err
		}
	}
	return binding(c.run(), "", nil), nil
}

// Binding lists the checks that bind a closure and were not accepted: worst
// first, as in Checks. An empty closure stands for all of them. accepted may be nil.
func (b *Budget) Binding(closure string, accepted func(Check) bool) []Check {
	return binding(b.Checks, closure, accepted)
}

func binding(of []Check, closure string, accepted func(Check) bool) []Check {
	var out []Check
	for _, c := range of {
		if c.Binds() && (closure == "" || c.Concerns(closure)) && (accepted == nil || !accepted(c)) {
			out = append(out, c)
		}
	}
	return out
}

func (c Check) accepted() bool { return c.Accepted != "" }

// bindingText says of a check that binds what it does.
func (c Check) bindingText() string {
	if c.accepted() {
		return "accepted: " + c.Accepted
	}
	does := "it holds " + list(c.Closures)
	if len(c.Closures) == 0 {
		does = "it holds no closure"
	}
	if c.Burns {
		does = "it isn't powered like this, and holds " + list(c.Closures)
	}
	return does
}

// CheckNamed finds a check by its name.
func (b *Budget) CheckNamed(name string) (Check, bool) {
	for _, c := range b.Checks {
		if c.Name == name {
			return c, true
		}
	}
	return Check{}, false
}

// worseBy is how far beyond what was accepted a value may go before the
// acceptance no longer covers it: more than rounding and a meter's burden make
// of it (invented).
const worseBy = 1.05

// Covers tells whether accepting a check at a value covers it as it is now. An
// acceptance is of one value: where an edit of the plan made it worse, it is to
// be thought of again. Value 0 was not stated and covers what has no value.
func (c Check) Covers(acceptedValue float64) bool {
	if c.below() {
		return c.Value*worseBy >= acceptedValue
	}
	return c.Value <= acceptedValue*worseBy
}

// below: such a check is the worse the smaller its value is.
func (c Check) below() bool { return c.Limit > 0 && c.Value < c.Limit }

// nameAll gives every check its name: its kind and what it is about. The name
// depends on the plan and not on what else is wrong with it.
func nameAll(cs []Check) {
	seen := map[string]int{}
	for i := range cs {
		c := &cs[i]
		c.Name = c.Kind + ": " + c.subject()
		if seen[c.Name]++; seen[c.Name] > 1 {
			c.Name += fmt.Sprintf(", %d", seen[c.Name])
		}
	}
}

// subject names what a check is about. Groups and boards go by their names,
// which differ; all else says what it is, too.
func (c Check) subject() string {
	s := ""
	switch {
	case c.Group != "":
		s = c.Group
	case c.Board != "":
		s = c.Board
		if c.Output > 0 {
			s += fmt.Sprintf(", output %d", c.Output)
		}
	case c.ret:
		s = "return " + c.Joint
	case c.Joint != "":
		s = "joint " + c.Joint
	case c.Jack != "":
		s = "jack " + c.Jack
	case c.Closure != "":
		s = "closure " + c.Closure
	}
	if c.detail != "" {
		s += ", " + c.detail
	}
	return s
}

// and joins details of a name.
func and(a, b string) string {
	if a == "" {
		return b
	}
	return a + ", " + b
}

// lightName tells a light of a group from its others: by its part where that
// does, else by its place.
func lightName(g plan.Group, k int) string {
	if len(g.Lights) == 1 {
		return ""
	}
	for i, l := range g.Lights {
		if i != k && l.Part == g.Lights[k].Part {
			return fmt.Sprintf("light %d", k+1)
		}
	}
	return g.Lights[k].Part
}

// holdName tells a thing in a joint from its others of the same kind.
func holdName(j plan.Joint, k int) string {
	n, which := 0, 0
	for i, h := range j.Holds {
		if h.Kind == j.Holds[k].Kind {
			n++
			if i <= k {
				which++
			}
		}
	}
	switch {
	case n == 1 && j.Holds[k].Kind == plan.HoldFuse:
		return "" // the check's kind says so already
	case n == 1:
		return string(j.Holds[k].Kind)
	}
	return fmt.Sprintf("%s %d", j.Holds[k].Kind, which)
}

// concern fills in which closures each check concerns: that which hides it,
// those of what is fed through it, and those that they close inside of. What is
// about a whole jack concerns every closure.
func concern(p *plan.Plan, cs []Check) {
	for i := range cs {
		c := &cs[i]
		hidden := map[string]bool{}
		switch {
		case c.Group != "":
			hidden[closureOf(p, c.Group)] = true
		case c.Board != "":
			hidden[c.Closure] = true
			for _, g := range p.Groups {
				if g.Board == c.Board && (c.Output == 0 || g.Output == c.Output) {
					hidden[g.Closure] = true
				}
			}
		case c.ret:
			hidden[c.Closure] = true
			for _, name := range darkBehindReturn(p, c.Joint) {
				hidden[closureOf(p, name)] = true
			}
		case c.Joint != "":
			hidden[c.Closure] = true
			for _, name := range darkBehind(p, c.Joint) {
				hidden[closureOf(p, name)] = true
			}
		case c.Closure != "":
			hidden[c.Closure] = true
		default:
			for _, cl := range p.Closures {
				hidden[cl.Name] = true
			}
		}
		// Outer closures come before inner ones: walk back to hand it outwards.
		for _, cl := range slices.Backward(p.Closures) {
			if hidden[cl.Name] && cl.Inside != "" {
				hidden[cl.Inside] = true
			}
		}
		c.Closures = nil
		for _, cl := range p.Closures {
			if hidden[cl.Name] {
				c.Closures = append(c.Closures, cl.Name)
			}
		}
	}
}

func closureOf(p *plan.Plan, group string) string {
	if i := p.GroupAt(group); i >= 0 {
		return p.Groups[i].Closure
	}
	return ""
}
