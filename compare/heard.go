package compare

import (
	"slices"

	"sealworthy/capture"
)

// heard is what a guide knows when it judges a step: all that is on the record,
// and what this test brought so far.
type heard struct {
	h     History
	tries map[string]map[string][]Finding // by group and pace; judged once
	extra []capture.StepRecord
	found map[string][]Finding // of this test, for what they tell of their reels
	next  capture.Order        // of what isn't on the record yet
}

func newHeard(h History) heard {
	h = h.numbered()
	return heard{h: h, tries: map[string]map[string][]Finding{}, found: map[string][]Finding{}, next: h.after()}
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
	}
}

var _ capture.Hearer = (*Guide)(nil)

// Judge says at once what a step tells of its groups, with all that was read of
// them since they were last touched.
func (g *Guide) Judge(r capture.StepRecord) []capture.Said {
	r.BeganAt, r.EndedAt = g.heard.place(), g.heard.place()
	if r.Seen != "" {
		r.SeenAt = r.EndedAt
	}
	out, err := g.say(r)
	if err != nil {
		return []capture.Said{{Group: r.Step.Feed, Verdict: string(CantTell), Causes: []string{err.Error()}}}
	}
	g.heard.h.Steps = append(g.heard.h.Steps, r)
	return out
}

// say judges a step and puts it beside what was heard before.
func (g *Guide) say(r capture.StepRecord) (out []capture.Said, err error) {
	for _, group := range r.Step.Groups {
		g.heard.recall(g.judge, group)
	}
	if g.judge.isExtra(r) {
		fs, err := g.judge.Step(r)
		for _, f := range fs {
			// One of several readings: they are weighed together, later.
			x := Say(Finding{Group: f.Group, Verdict: InBand, MeasuredA: f.MeasuredA, MeasuredU: f.MeasuredU,
				Readings: f.Readings, Band: f.Band})
			x.Verdict = "read"
			out = append(out, x)
		}
		g.heard.extra = append(g.heard.extra, r)
		return out, err
	}
	tries, _, err := g.judge.triesOf([]capture.StepRecord{r})
	for _, group := range r.Step.Groups {
		for pace, fs := range tries[group] {
			out = append(out, Say(g.row(group, pace, fs)))
		}
	}
	return out, err
}

// row is the finding of a group at a pace after one more try, as Findings makes it.
func (g *Guide) row(group, pace string, now []Finding) Finding {
	x, j := &g.heard, g.judge
	of, _ := groupNamed(j.Expected.Plan, group)
	x.tries[group][pace] = append(x.tries[group][pace], now...)
	readings, _ := touched(j.Expected.Plan, group, x.h)
	s := j.standing(notMeasured(of, pace), x.tries[group][pace], readings)
	s.now = g.sharper(s.now)
	return j.row(of, s, x.extra, x.h)
}

// recall judges what is on the record of a group, once.
func (x *heard) recall(j *Judge, group string) {
	if x.tries[group] != nil {
		return
	}
	x.tries[group] = map[string][]Finding{}
	of := slices.DeleteFunc(slices.Clone(x.h.Steps),
		func(r capture.StepRecord) bool { return !slices.Contains(r.Step.Groups, group) })
	tries, extra, err := j.triesOf(of)
	if err != nil {
		return // a step that can't be judged is said by the findings
	}
	for pace, fs := range tries[group] {
		x.tries[group][pace] = fs
	}
	x.extra = append(x.extra, extra...)
}

// sharper judges by what the groups before it tell, too, and keeps it for those
// that follow.
func (g *Guide) sharper(f Finding) Finding {
	g.heard.found[f.Group] = []Finding{f}
	_, others, err := g.judge.together(g.heard.found, nil)
	if err != nil {
		f.Notes = append(f.Notes, err.Error())
	}
	return g.judge.sharper(f, others[f.Group])
}
