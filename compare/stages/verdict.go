package stages

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/words"
)

// branchRel is how far a branch may be from its nominal current, as a standard
// deviation.
const (
	branchRel = 0.08
	mostFits  = 6
)

// verdict weighs the parts: one that changed decides, then one that can't be told.
func (p *pair) verdict(out *Change, parts []judged) {
	out.Verdict = Unchanged
	for _, x := range parts {
		switch {
		case x.Verdict == Changed:
			out.Verdict = Changed
			out.Fits = append(out.Fits, x.fits(p.c.rule.K)...)
		case x.Verdict != Unchanged && out.Verdict != Changed:
			out.Verdict = CantTell
		}
		out.Hidden = append(out.Hidden, x.hidden(p.c.rule)...)
	}
	if p.b.Poor && out.Verdict == Unchanged {
		out.Verdict = CantTell
	}
	switch out.Verdict {
	case Changed:
		out.Text = changedText(out, parts)
		out.Settle = p.settleChanged(out, parts)
	case Unchanged:
		out.Hidden = nil
		x := parts[0]
		out.Text = fmt.Sprintf("unchanged since it was %s: %s, where %s was to be expected", out.Before,
			words.Milliamps(x.NowA, x.U), words.Milliamps(x.ExpectedA, x.U))
		if x.SmallestA == 0 {
			out.Text += fmt.Sprintf("; a change of less than %s would not show", words.Milliamps(x.SeenFromA, 0))
		}
	default:
		p.cantTell(out, parts)
	}
}

// fits lists what would change a part by about as much: what the rule can't tell
// from the change, by its weight w and the density of a change that far from it,
// w exp(-s²/2)/u.
func (x judged) fits(k float64) []Fit {
	if x.state != "" {
		return nil // what it does explains it
	}
	type weighed struct {
		Fit
		log float64
	}
	var all []weighed
	for _, c := range x.candidates {
		d := x.scale * c.deltaA
		u := math.Hypot(x.U, branchRel*d)
		if d*x.DeltaA <= 0 || math.Abs(d) < 0.25*math.Abs(x.DeltaA) {
			continue
		}
		if s := math.Abs(x.DeltaA-d) / u; s <= k {
			all = append(all, weighed{Fit{Group: c.faults[0].Group, Kind: c.faults[0].Kind, What: c.what, DeltaA: d,
				Sigmas: s, Branch: c.branch}, math.Log(c.weight) - s*s/2 - math.Log(u)})
		}
	}
	slices.SortStableFunc(all, func(a, b weighed) int { return cmp.Compare(b.log, a.log) })
	var out []Fit
	for _, r := range all {
		out = append(out, r.Fit)
	}
	return out
}

// hidden lists the groups of which the loss of one branch isn't excluded.
func (x judged) hidden(r rule.Rule) []string {
	if x.Verdict != CantTell {
		return nil
	}
	var out []string
	for _, c := range x.candidates {
		if c.branch && math.Abs(x.DeltaA) > -x.scale*c.deltaA-r.Guard*x.U && c.deltaA < 0 &&
			!slices.Contains(out, c.faults[0].Group) {
			out = append(out, c.faults[0].Group)
		}
	}
	return out
}

// changedText says what changed, by how much, and what would do that.
func changedText(out *Change, parts []judged) string {
	var said []string
	for _, x := range parts {
		switch {
		case x.Verdict != Changed:
		case x.state != "":
			said = append(said, x.What+" "+x.state)
		default:
			way := "less"
			if x.DeltaA > 0 {
				way = "more"
			}
			said = append(said, fmt.Sprintf("%s draws %s %s than it should", x.What,
				words.Milliamps(math.Abs(x.DeltaA), x.U), way))
		}
	}
	s := fmt.Sprintf("changed since it was %s: %s", out.Before, strings.Join(said, "; "))
	var branches, others []string
	said = nil // groups
	for _, f := range out.Fits {
		if slices.Contains(said, f.Group) {
			continue
		}
		said = append(said, f.Group)
		if f.Branch {
			branches = append(branches, fmt.Sprintf("%s (%s)", f.Group, f.What))
		} else {
			others = append(others, fmt.Sprintf("%s (%s)", f.Group, f.What))
		}
	}
	switch {
	case len(branches) > 0:
		s += ". One dark branch would do that in: " + first(branches, mostFits)
	case len(others) > 0:
		s += ". That is as much as: " + first(others, 3)
	}
	return s
}

func first(list []string, n int) string {
	if len(list) <= n {
		return strings.Join(list, ", ")
	}
	return strings.Join(list[:n], ", ") + fmt.Sprintf(" and %d more groups", len(list)-n)
}

// settleChanged says what to do about a change.
func (p *pair) settleChanged(out *Change, parts []judged) []string {
	s := []string{"take the clips off, put them on again and measure once more, before anything is opened"}
	var names []string
	for _, x := range parts {
		if x.Verdict == Changed {
			names = append(names, x.Groups...)
		}
	}
	if names = append(names, groupsOf(out.Fits)...); len(names) > 0 {
		s = append(s, "look at these lit: "+strings.Join(names, ", "))
	}
	if out.Stage == "returned" {
		return append(s, "the sweep against the signature tells more: sealworthy return")
	}
	return append(s, "look at what was done between the two readings: a pinched wire, a joint that came loose")
}

func groupsOf(fs []Fit) []string {
	var out []string
	for _, f := range fs {
		if !slices.Contains(out, f.Group) && len(out) < mostFits {
			out = append(out, f.Group)
		}
	}
	return out
}

// cantTell says why, and what would settle it: by the largest doubt of the part
// that can't be told.
func (p *pair) cantTell(out *Change, parts []judged) {
	x := parts[0]
	for _, q := range parts {
		if q.Verdict == CantTell {
			x = q
			break
		}
	}
	out.Text = fmt.Sprintf("can't tell whether it changed since it was %s: %s, where %s was to be expected",
		out.Before,
		words.Milliamps(x.NowA, x.U), words.Milliamps(x.ExpectedA, x.U))
	switch {
	case p.b.Poor:
		out.Why = "something else changes as well while it is read: what is always lit and what blinks don't " +
			"account for the readings"
		out.Settle = []string{"measure it again without touching anything; if it stays so, wiggle the leads: a " +
			"contact may open now and then"}
		return
	case len(x.Doubts) == 0:
		out.Why = "nothing is known of how far the readings can be trusted"
		return
	case math.Abs(x.DeltaA) <= p.c.rule.Guard*x.U || x.SmallestA <= p.c.rule.Guard*x.U:
		out.Why = fmt.Sprintf("one branch of %s is worth %s, the doubt is %s: too near; most of it is %s (%s)",
			several(out.Hidden),
			words.Milliamps(x.SmallestA, 0), words.Milliamps(p.c.rule.Guard*x.U, 0), x.Doubts[0].What,
			words.Milliamps(x.Doubts[0].U, 0))
	default:
		out.Why = fmt.Sprintf("it differs by %s, give or take %s: between as it was and one branch of %s dark; most "+
			"of the doubt is %s", words.Milliamps(math.Abs(x.DeltaA), x.U),
			words.Milliamps(x.U, 0), several(out.Hidden), x.Doubts[0].What)
	}
	for _, d := range x.Doubts[:min(2, len(x.Doubts))] {
		if s := p.cure(d); s != "" && d.U > 0.3*x.U {
			out.Settle = append(out.Settle, s)
		}
	}
	if len(out.Settle) == 0 {
		out.Settle = append(out.Settle, "measure it once more")
	}
	out.Settle = append(out.Settle, "look at every light")
}

func several(names []string) string {
	switch {
	case len(names) == 0:
		return "a group"
	case len(names) > 3:
		return strings.Join(names[:3], ", ") + fmt.Sprintf(" or %d others", len(names)-3)
	}
	return words.Either(names)
}

// cure says what makes a doubt smaller.
func (p *pair) cure(d Doubt) string {
	switch d.What {
	case doubtScatter:
		return "read for longer"
	case doubtMeter:
		return "use a meter with a finer step"
	case doubtVolts:
		return "use one supply at both stages, one that can be read back"
	case doubtRoomUnk:
		return "note the room temperature at every stage: --room"
	case doubtRoom, doubtRoom + ", by the plan's coefficient":
		return "measure in a room as warm as then"
	case doubtClip:
		return "use the same bench and leads as then; press the clips on afresh and measure again"
	case doubtWarm:
		return fmt.Sprintf("measure it as warm as then: it had been on for %.0f s, now for %.0f s", p.before.warmest(),
			p.now.warmest())
	case doubtAge:
		return ""
	}
	if strings.Contains(d.What, "meter") {
		return "measure it with the meter of the stage before, in the same range"
	}
	return ""
}

// notes says what can't be judged by name.
func (p *pair) notes() []string {
	var out []string
	var found, loads []string
	for _, g := range p.m.p.Groups {
		switch {
		case !p.m.lit(g):
		case g.AsFound:
			found = append(found, g.Name)
		case slices.ContainsFunc(g.Lights, func(l plan.Light) bool { return l.Kind == plan.Envelope }):
			loads = append(loads, g.Name)
		}
	}
	if len(found) > 0 {
		out = append(out, "as found, so that no branch of it is known: "+strings.Join(found, ", "))
	}
	if len(loads) > 0 {
		out = append(out, "no steady draw of its own, so that a change of it tells little: "+strings.Join(loads, ", "))
	}
	if p.before.Sum != nil {
		out = append(out, fmt.Sprintf("the whole was not measured when it was %s: what its groups drew alone is "+
			"taken together", p.before.Stage))
	}
	if !p.a.Known || !p.b.Known {
		out = append(out, "outputs take turns without a dark moment: the draw over full periods is compared")
	}
	return out
}
