package compare

import (
	"maps"
	"slices"

	"sealworthy/capture"
	"sealworthy/compare/belief"
)

// heard is what a guide knows when it judges a step: all that is on the record,
// and what this test brought so far.
type heard struct {
	h     History
	tries map[string]map[string][]Finding // by group and pace; judged once; nil: not yet
	extra []capture.StepRecord
	plain map[string]map[string]standing // by group and pace: what they come to
	rows  map[string][]Finding           // by group, each by what was read of it alone
	next  capture.Order                  // of what isn't on the record yet
}

func newHeard(h History) heard {
	h = h.numbered()
	return heard{h: h, next: h.after()}
}

// place gives what comes now its place after all that came before.
func (x *heard) place() capture.Order {
	x.next++
	return x.next
}

// After tells the guide what is on the record before this test: what it says of
// a step is what the findings say of it later.
func (g *Guide) After(h History) *Guide {
	g.heard = newHeard(h)
	return g
}

// Hear implements capture.Hearer: what was touched while the test runs.
func (g *Guide) Hear(m capture.Mark) {
	x := &g.heard
	switch m.Kind {
	case capture.MarkReworked:
		at := m.Order
		if at == 0 {
			at = x.place()
		}
		x.h.Reworks = append(x.h.Reworks, Rework{What: m.Feed, Groups: m.Groups, Clip: m.Check == capture.TheClip,
			Order: at, At: m.At})
		x.next = max(x.next, at)
	case capture.MarkTakenBack:
		x.h.Reworks = slices.DeleteFunc(slices.Clone(x.h.Reworks), func(r Rework) bool { return r.Order == m.Of })
	default:
		return
	}
	x.plain, x.rows = nil, nil // it may void what was read of any group
}

var _ capture.Hearer = (*Guide)(nil)

// Judge says at once what a step tells of its groups, with all that was read of
// them and of others since they were last touched.
func (g *Guide) Judge(r capture.StepRecord) []capture.Said {
	x := &g.heard
	r.BeganAt, r.EndedAt = x.place(), x.place()
	if r.Seen != "" {
		r.SeenAt = r.EndedAt
	}
	return g.say(r)
}

// Preview implements capture.Previewer.
func (g *Guide) Preview(r capture.StepRecord) []capture.Said {
	g.heard.recall(g.judge) // once, whoever asks first
	kept := g.heard
	g.heard = kept.aside()
	defer func() { g.heard = kept }()
	return g.Judge(r)
}

var _ capture.Previewer = (*Guide)(nil)

// aside is all that is known, to judge by and to throw away.
func (x *heard) aside() heard {
	y := *x
	y.h.Steps, y.extra = slices.Clip(x.h.Steps), slices.Clip(x.extra)
	y.plain, y.rows = maps.Clone(x.plain), maps.Clone(x.rows)
	y.tries = map[string]map[string][]Finding{}
	for group, paces := range x.tries {
		y.tries[group] = map[string][]Finding{}
		for pace, fs := range paces {
			y.tries[group][pace] = slices.Clip(fs)
		}
	}
	return y
}

// say judges a step and puts it beside what was heard before.
func (g *Guide) say(r capture.StepRecord) (out []capture.Said) {
	x := &g.heard
	x.recall(g.judge)
	x.h.Steps = append(x.h.Steps, r)
	x.forget(r.Step.Groups)
	if g.judge.isExtra(r) {
		fs, err := g.judge.Step(r)
		for _, f := range g.judge.unjudged(r, err) {
			out = append(out, Say(f))
		}
		for _, f := range fs {
			// One of several readings: they are weighed together, later.
			s := Say(Finding{Group: f.Group, Verdict: InBand, MeasuredA: f.MeasuredA, MeasuredU: f.MeasuredU,
				Readings: f.Readings, Band: f.Band})
			s.Verdict = "read"
			out = append(out, s)
		}
		x.extra = append(x.extra, r)
		return out
	}
	tries, _ := g.judge.triesOf([]capture.StepRecord{r})
	if len(tries) == 0 {
		return nil
	}
	for group, paces := range tries {
		if x.tries[group] == nil {
			x.tries[group] = map[string][]Finding{}
		}
		for pace, fs := range paces {
			x.tries[group][pace] = append(x.tries[group][pace], fs...)
		}
	}
	rows := g.judge.rowsBeside(x, r.Step.Groups)
	for _, group := range r.Step.Groups {
		for _, f := range rows[group] {
			if len(tries[group][f.Pace]) > 0 {
				out = append(out, Say(f))
			}
		}
	}
	return out
}

// forget what groups come to: something new was read or seen of them.
func (x *heard) forget(groups []string) {
	for _, group := range groups {
		delete(x.plain, group)
		delete(x.rows, group)
	}
}

// recall judges what is on the record, once.
func (x *heard) recall(j *Judge) {
	if x.tries == nil {
		x.tries, x.extra = j.triesOf(x.h.Steps)
	}
}

// rowsBeside are the rows of some groups, weighed beside those of all others, as Findings
// makes them.
func (j *Judge) rowsBeside(x *heard, groups []string) map[string][]Finding {
	if x.plain == nil {
		x.plain, x.rows = map[string]map[string]standing{}, map[string][]Finding{}
	}
	fresh := []string{}
	for _, g := range j.Expected.Plan.Groups {
		if x.plain[g.Name] == nil {
			x.plain[g.Name] = j.standingsOf(g, x.tries[g.Name], x.h)
			fresh = append(fresh, g.Name)
		}
	}
	maps.Copy(x.rows, j.rowsOf(x.plain, x.extra, x.h, fresh))
	common, others, err := j.together(x.rows, x.plain)
	maps.DeleteFunc(others, func(group string, _ *belief.Others) bool { return !slices.Contains(groups, group) })
	return finished(j.rowsOf(j.sharpened(x.plain, others), x.extra, x.h, groups), x.plain, common, err)
}
