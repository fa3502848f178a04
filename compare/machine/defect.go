package machine

import (
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare"
)

// Defect is a bug planted between the record and the verdicts, to see that the
// machine finds it. Each field that is nil leaves things as they are.
type Defect struct {
	Name string
	// History spoils what is judged.
	History func(w *World, h *compare.History)
	// Build spoils the plan that is judged by.
	Build func(b Build) Build
	// Verdict spoils what is said.
	Verdict func(c *compare.ClosureFinding)
}

// Defects are the planted bugs.
func Defects() []Defect {
	return []Defect{
		{Name: "a rework is ignored", History: func(_ *World, h *compare.History) {
			h.Reworks = slices.DeleteFunc(h.Reworks,
				func(r compare.Rework) bool { return r.What != compare.Everything })
		}},
		{Name: "a rework voids no look", History: func(_ *World, h *compare.History) {
			for i := range h.Reworks {
				h.Reworks[i].Clip = true
			}
		}},
		{Name: "what came before what is told by the clock",
			History: func(_ *World, h *compare.History) { byClock(h) }},
		{Name: "damage is ignored", History: func(_ *World, h *compare.History) { h.Damage = nil }},
		{Name: "a retest is believed before it is made", History: func(_ *World, h *compare.History) {
			h.Reworks = slices.DeleteFunc(h.Reworks,
				func(r compare.Rework) bool { return r.What == compare.Everything })
		}},
		{Name: "a test that broke off is ignored", History: func(_ *World, h *compare.History) {
			h.Steps = slices.DeleteFunc(h.Steps, func(r capture.StepRecord) bool {
				return r.Outcome != capture.Measured && r.Outcome != capture.Tripped
			})
		}},
		{Name: "what was seen of one closure lands on all groups", History: func(w *World, h *compare.History) {
			for i := range h.Steps {
				if r := &h.Steps[i]; r.Step.Kind == capture.Look && r.Seen == allRight {
					r.Step.Groups, r.Step.Lights = w.build.groups(), nil
				}
			}
		}},
		{Name: "a look that found something is ignored", History: func(_ *World, h *compare.History) {
			h.Steps = slices.DeleteFunc(h.Steps, func(r capture.StepRecord) bool {
				return r.Step.Kind == capture.Look && r.Seen != "" && r.Seen != allRight
			})
		}},
		{Name: "a look holds whatever the plan says now", History: func(_ *World, h *compare.History) {
			for i := range h.Steps {
				h.Steps[i].Step.Lights = nil
			}
		}},
		{Name: "a plan that was changed after a reading is believed", History: func(_ *World, h *compare.History) {
			for i := range h.Steps {
				h.Steps[i].Step.Planned = nil
			}
		}},
		{Name: "loose counts as fitted", History: func(_ *World, h *compare.History) {
			for i := range h.Steps {
				if h.Steps[i].Stage == compare.Loose {
					h.Steps[i].Stage = compare.Fitted
				}
			}
		}},
		{Name: "the best of several readings counts", History: bestOf},
		{Name: "the first reading counts", History: firstOf},
		{Name: "hidden joints, boards and returns are ignored",
			Build: func(b Build) Build { return b.hidingNothing() }},
		{Name: "a group that leaves the plan takes its fault along", History: func(w *World, h *compare.History) {
			h.Steps = slices.DeleteFunc(h.Steps, func(r capture.StepRecord) bool {
				return slices.ContainsFunc(r.Step.Groups, func(g string) bool { return lightsOf(w.kit.plan, g) == "" })
			})
		}},
		{Name: "what no test tells of needs no tick", History: func(w *World, h *compare.History) {
			for _, c := range w.kit.plan.Closures {
				for _, name := range bareThings(w.kit.plan, c.Name) {
					h.Ticked = append(h.Ticked, record.ByName{Name: name, Closure: c.Name,
						Order: capture.OrderAt(1<<20, 1)})
				}
			}
		}},
		{Name: "ready without a look", Verdict: func(c *compare.ClosureFinding) {
			if c.Verdict == compare.LookFirst {
				c.Verdict = compare.ReadyToClose
			}
		}},
		{Name: "closed by choice is ready", Verdict: func(c *compare.ClosureFinding) {
			if c.Verdict == compare.ClosedByChoice {
				c.Verdict = compare.ReadyToClose
			}
		}},
		{Name: "what can't be told is ready", Verdict: func(c *compare.ClosureFinding) {
			if c.Verdict == compare.NotSettled {
				c.Verdict = compare.ReadyToClose
			}
		}},
	}
}

// byClock gives everything a place by its time.
func byClock(h *compare.History) {
	type timed struct {
		at  time.Time
		set *capture.Order
	}
	var all []timed
	for i := range h.Steps {
		r := &h.Steps[i]
		all = append(all, timed{r.Began, &r.BeganAt}, timed{r.Ended, &r.EndedAt})
		if r.SeenAt != 0 {
			all = append(all, timed{r.Ended, &r.SeenAt})
		}
	}
	for i := range h.Reworks {
		all = append(all, timed{h.Reworks[i].At, &h.Reworks[i].Order})
	}
	for i := range h.Accepts {
		all = append(all, timed{h.Accepts[i].At, &h.Accepts[i].Order})
	}
	slices.SortStableFunc(all, func(a, b timed) int { return a.at.Compare(b.at) })
	for i, x := range all {
		*x.set = capture.OrderAt(1, i+1)
	}
	for i := range h.Nothing {
		h.Nothing[i] = capture.OrderAt(2, i+1)
	}
	slices.SortStableFunc(h.Steps, func(a, b capture.StepRecord) int { return a.Began.Compare(b.Began) })
}

// bestOf keeps of each step the measurements that were in band, where there are any.
func bestOf(w *World, h *compare.History) {
	good := map[string]bool{}
	in := func(r capture.StepRecord) bool {
		if r.Outcome != capture.Measured {
			return false
		}
		fs, err := w.kit.judge.Step(r)
		return err == nil && len(fs) > 0 &&
			!slices.ContainsFunc(fs, func(f compare.Finding) bool { return f.Verdict != compare.InBand })
	}
	for _, r := range h.Steps {
		good[r.Step.ID] = good[r.Step.ID] || read(r) && in(r)
	}
	h.Steps = slices.DeleteFunc(h.Steps, func(r capture.StepRecord) bool {
		return read(r) && good[r.Step.ID] &&
			!in(r)
	})
}

// firstOf keeps of each step the first measurement.
func firstOf(_ *World, h *compare.History) {
	seen := map[string]bool{}
	h.Steps = slices.DeleteFunc(h.Steps, func(r capture.StepRecord) bool {
		was := seen[r.Step.ID]
		seen[r.Step.ID] = was || read(r)
		return was && read(r)
	})
}

// read: a feed was measured to the end, or tripped.
func read(r capture.StepRecord) bool {
	return r.Step.Kind == capture.Power && (r.Outcome == capture.Measured || r.Outcome == capture.Tripped)
}

// hidingNothing is the build with a plan in which closures hide groups alone.
func (b Build) hidingNothing() Build {
	s := b.spec
	s.joints, s.returns, s.boards = slices.Clone(s.joints), slices.Clone(s.returns), slices.Clone(s.boards)
	for i := range s.joints {
		s.joints[i].closure = ""
	}
	for i := range s.returns {
		s.returns[i].closure = ""
	}
	return Build{b.Shape, s}
}
