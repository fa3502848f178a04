package main

import (
	"fmt"
	"slices"
	"strings"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
)

// toldLook reads what is told of a look outside a test: all of one closure, or
// groups by name. What isn't understood, or names nothing, isn't kept.
func toldLook(p *plan.Plan, closure, seen string) ([]capture.GroupSeen, error) {
	groups, of := p.Groups, p.Build
	if closure != "" {
		if p.ClosureAt(closure) < 0 {
			return nil, fmt.Errorf("the plan has no closure %q", closure)
		}
		groups, of = slices.DeleteFunc(slices.Clone(groups), func(g plan.Group) bool { return g.Closure != closure }),
			closure
	}
	var names []string
	for _, g := range groups {
		names = append(names, g.Name)
	}
	if all := strings.ToLower(strings.TrimSpace(seen)); all == look.Right || all == look.RightNoColours {
		if closure == "" {
			return nil, withHint(misuse("measure", "--seen %q names no group: of what?", seen),
				"give --closure, or name the groups: \"GROUP: all right; GROUP: all right\"")
		}
		var out []capture.GroupSeen
		for _, g := range names {
			out = append(out, capture.GroupSeen{Group: g, Words: all})
		}
		return out, nil
	}
	u := look.Read(seen, groups)
	if u.Whole {
		return compare.Kept(u.Seen), nil
	}
	if named, ok := byName(seen, names); ok {
		return named, nil
	}
	hints := []string{`say "all right", or "GROUP: what is wrong; GROUP: ..."`, "its groups are: " +
		strings.Join(names, ", ")}
	if u.Text != "" {
		hints = append([]string{"understood was: " + u.Text}, hints...)
	}
	return nil, withHint(misuse("measure", "--seen %q isn't understood, or names no group of %s",
		strings.TrimSpace(seen), of), hints...)
}

// coloursAside takes what is all right for that but for colours, and tells whether some is.
func coloursAside(seen []capture.GroupSeen) (some bool) {
	for i, x := range seen {
		if l := look.Parse(x.Words, plan.Group{}); l.Saw == look.AllLit {
			seen[i].Words, some = l.ColoursAside().Words(), true
		}
	}
	return some
}

// byName reads "GROUP: words; GROUP: words": words that aren't understood say
// that something is wrong, if it is plain with which group.
func byName(seen string, groups []string) ([]capture.GroupSeen, bool) {
	var out []capture.GroupSeen
	for _, part := range strings.Split(seen, ";") {
		name, what, ok := look.NamedIn(part, groups)
		if !ok || what == "" || slices.ContainsFunc(out, func(x capture.GroupSeen) bool { return x.Group == name }) {
			return nil, false
		}
		if look.Parse(what, plan.Group{}).Saw == look.AllLit && !strings.EqualFold(what, look.Right) {
			return nil, false // "all lit" isn't all right: nothing passes by a manner of speaking
		}
		out = append(out, capture.GroupSeen{Group: name, Words: what})
	}
	return out, true
}

// wereLit refuses a look at what wasn't lit: nobody saw it. Each group must have
// been powered at this stage since it was touched last; before are marks that are
// told with it.
func wereLit(b build, f record.Folded, stage string, seen []capture.GroupSeen, before []capture.Mark) error {
	var dark []string
	for _, x := range seen {
		touched := capture.Order(-1)
		for _, r := range f.Reworked {
			if !r.Clip && (slices.Contains(r.Groups, x.Group) ||
				slices.Contains(compare.Behind(b.plan, r.Place), x.Group)) {
				touched = r.Order
			}
		}
		lit := slices.ContainsFunc(f.Steps, func(r capture.StepRecord) bool {
			return isLit(r, stage, x.Group) && (touched < 0 || r.BeganAt.After(touched))
		})
		if slices.ContainsFunc(before, func(m capture.Mark) bool {
			return m.Kind == capture.MarkReworked &&
				slices.Contains(m.Groups, x.Group)
		}) {
			lit = false
		}
		if !lit {
			dark = append(dark, x.Group)
		}
	}
	if len(dark) == 0 {
		return nil
	}
	return withHint(fmt.Errorf("at stage %s these weren't lit since they were touched last, so nobody saw them: %s",
		stage, strings.Join(dark, ", ")),
		"measure them first: the look is asked for in the test")
}

// isLit: a group had its full voltage in a step.
func isLit(r capture.StepRecord, stage, group string) bool {
	return r.Stage == stage && !r.On.IsZero() && !r.Settled.IsZero() && slices.Contains(r.Step.Groups, group)
}

// lookMarks keeps what was seen of groups, a step for each closure that they are in.
func lookMarks(p *plan.Plan, seen []capture.GroupSeen) []capture.Mark {
	var out []capture.Mark
	for _, c := range p.Closures {
		s := capture.Step{ID: c.Name + "/" + string(capture.Look), Kind: capture.Look, Way: capture.Alone,
			Closure: c.Name,
			Feed:    c.Name, PlanRevision: p.Revision, Lights: map[string]string{}}
		var words []string
		for _, g := range p.Groups {
			i := slices.IndexFunc(seen, func(x capture.GroupSeen) bool { return x.Group == g.Name })
			if i < 0 || g.Closure != c.Name {
				continue
			}
			s.Groups = append(s.Groups, g.Name)
			s.Lights[g.Name] = look.Digest(g)
			words = append(words, g.Name+": "+strings.ReplaceAll(seen[i].Words, ";", ","))
		}
		if s.Groups != nil {
			out = append(out, stepMarks(s, capture.Mark{Kind: capture.MarkLooked, Seen: strings.Join(words, "; ")},
				capture.Measured)...)
		}
	}
	return out
}
