package compare

import "slices"

// Findings judges every closure of a plan, or one and what closes inside it,
// from what was recorded. Outer closures come last. The error names the step
// or group that could not be judged.
func (j *Judge) Findings(h History, closure string) ([]ClosureFinding, error) {
	p := j.Expected.Plan
	names, err := closuresOf(p, "")
	if err != nil {
		return nil, err
	}
	if closure != "" {
		if _, err := closuresOf(p, closure); err != nil {
			return nil, err
		}
		within := inside(p, closure)
		names = slices.DeleteFunc(names, func(n string) bool { return !slices.Contains(within, n) })
	}
	h = h.numbered()
	rows := j.rows(h)
	checks, err := j.checks(h)
	if err != nil {
		return nil, err
	}
	var out []ClosureFinding
	for _, n := range names {
		out = append(out, j.closure(n, rows, checks, h, out))
	}
	return out, nil
}

// closure weighs all that a closure hides, what is fed through it, the verdicts
// of what closes inside it, the checks that concern it and the record itself.
func (j *Judge) closure(name string, rows map[string][]Finding, checks []CheckFinding, h History,
	before []ClosureFinding) ClosureFinding {
	p := j.Expected.Plan
	of, _ := p.Closure(name)
	c := ClosureFinding{Build: p.Build, Closure: name, Inside: of.Inside, Damage: h.Damage}
	all := hides(p, name)
	var w weigher
	var own []string
	for _, g := range p.Groups {
		if g.Closure == name {
			own = append(own, g.Name)
			c.Groups = append(c.Groups, rows[g.Name]...)
		}
	}
	for _, f := range c.Groups {
		w.add(f)
	}
	for _, g := range all.groups {
		for _, f := range rows[g] {
			w.rest(f)
		}
	}
	for _, b := range before {
		if b.Inside == name {
			w.addInner(b)
		}
	}
	w.addThrough(all, rows)
	w.addMoved(p, own, h)
	w.addWhole(p, all, h)
	w.addLost(p, name, h)
	w.addOtherName(p, h)
	c.Items = ticked(itemsOf(p, name), rows, name, h)
	w.addItems(c.Items, name)
	for _, x := range checks {
		if slices.Contains(x.concerns, name) {
			c.Checks = append(c.Checks, x)
			w.addCheck(x)
		}
	}
	for _, d := range h.Damage {
		w.addDamage(d)
	}
	c.Verdict, c.Reasons = w.result(c, h.answeredAfter(w.rests))
	c.Simulated, c.BeforeChain = w.simulated, h.beforeChain()
	c.Slip = j.slip(c)
	return c
}
