package compare

import (
	"fmt"
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/plan"
)

// addMoved weighs what moving the wires of a closure's own groups showed, and
// looks at them that too much current ended. What showed once counts until something was told to be
// touched and the same came out well.
func (w *weigher) addMoved(p *plan.Plan, own []string, h History) {
	hidden := func(g string) bool { return slices.Contains(own, g) }
	for _, kind := range []capture.Kind{capture.Wiggle, capture.Look} {
		var bad *capture.StepRecord
		good := false // after the bad one
		for i := range h.Steps {
			r := &h.Steps[i]
			if r.Step.Kind != kind || !slices.ContainsFunc(r.Step.Groups, hidden) || allTouched(p, *r, h) {
				continue
			}
			switch {
			case r.Outcome == capture.Tripped || len(r.Drops) > 0:
				bad, good = r, false
			case r.Outcome == capture.Measured:
				good = true
			}
			if kind == capture.Wiggle && r.Outcome == capture.Measured {
				w.rests = max(w.rests, r.EndedAt)
			}
		}
		if bad == nil {
			continue
		}
		what := whatMoved(*bad)
		switch {
		case !anyTouched(p, *bad, h):
			if good {
				what += "; not the next time, with nothing told to be touched in between: something moves"
			}
			w.failed = append(w.failed, what)
		case !good:
			w.open = append(w.open, what+"; something was touched since: do that again")
		}
	}
}

func whatMoved(r capture.StepRecord) string {
	if r.Outcome == capture.Tripped {
		doing := "when all was lit to be looked at"
		if r.Step.Kind == capture.Wiggle {
			doing = "when its wires were moved"
		}
		return fmt.Sprintf("too much current %s: %s", doing, r.Reason)
	}
	longest := time.Duration(0)
	for _, d := range r.Drops {
		longest = max(longest, d.For)
	}
	return fmt.Sprintf("when its wires were moved the draw dropped %d times, the longest for %s: find what is loose",
		len(r.Drops), longest.Round(time.Millisecond))
}

// anyTouched: something that was lit in a step was touched since.
func anyTouched(p *plan.Plan, r capture.StepRecord, h History) bool {
	return slices.ContainsFunc(r.Step.Groups, func(g string) bool {
		v, _ := touched(p, g, h)
		return v.covers(r.BeganAt)
	})
}

// allTouched: all that was lit in a step was touched since, so it tells nothing.
func allTouched(p *plan.Plan, r capture.StepRecord, h History) bool {
	return !slices.ContainsFunc(r.Step.Groups, func(g string) bool {
		v, _ := touched(p, g, h)
		return !v.covers(r.BeganAt)
	})
}

// addWhole weighs what was measured of the whole model at its jack: what stopped
// it there concerns every closure that hides something behind that jack.
func (w *weigher) addWhole(p *plan.Plan, all hidden, h History) {
	var bad *capture.StepRecord
	good := false
	for i := range h.Steps {
		r := &h.Steps[i]
		if r.Step.Kind != capture.Whole || !all.fedBy(p, r.Step.Feed) {
			continue
		}
		switch r.Outcome {
		case capture.Tripped:
			bad, good = r, false
		case capture.Measured:
			good = true
		}
	}
	if bad == nil {
		return
	}
	what := fmt.Sprintf("the whole model at its jack, stage %s: too much current: %s", bad.Stage, bad.Reason)
	touched := slices.ContainsFunc(h.Reworks, func(r Rework) bool { return !r.Clip && r.Order.After(bad.EndedAt) })
	switch {
	case !touched:
		if good {
			what += "; not the next time, with nothing told to be touched in between: something moves"
		}
		w.failed = append(w.failed, what)
	case !good:
		w.open = append(w.open, what+"; something was touched since: do that again")
	}
}

// fedBy: something hidden hangs on a jack, or may: the plan has no such jack any more.
func (h hidden) fedBy(p *plan.Plan, jack string) bool {
	return !isPlace(p, jack) || slices.ContainsFunc(h.groups, func(g string) bool { return behind(p, g, jack) }) ||
		slices.ContainsFunc(h.through, func(f fed) bool { return behind(p, f.group, jack) })
}
