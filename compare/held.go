package compare

import (
	"slices"

	"sealworthy/capture"
	"sealworthy/compare/plan"
)

// HoldForChange holds all closures because the whole model, measured at its jack at
// a stage, changed since the stage before: something in it is wrong, and the jack
// doesn't tell where. It holds none once every group was measured again since, and
// says whether it held them.
func HoldForChange(cs []ClosureFinding, p *plan.Plan, h History, stage, what string) bool {
	if allMeasuredSince(p, h, stage) {
		return false
	}
	for i := range cs {
		c := &cs[i]
		switch c.Verdict {
		case ReadyToClose, LookFirst:
			c.Verdict, c.Reasons = NotSettled, []string{what}
		case ClosedByChoice:
			c.Verdict, c.Reasons = NotSettled, append([]string{what}, c.Reasons...)
		default:
			c.Reasons = append(slices.Clone(c.Reasons), what)
		}
	}
	return true
}

// allMeasuredSince: each group was measured after the whole model was at a stage.
func allMeasuredSince(p *plan.Plan, h History, stage string) bool {
	var whole capture.Order
	for _, r := range h.Steps {
		if r.Step.Kind == capture.Whole && r.Stage == stage && r.Outcome == capture.Measured {
			whole = r.EndedAt
		}
	}
	return !slices.ContainsFunc(p.Groups, func(g plan.Group) bool {
		return !slices.ContainsFunc(h.Steps, func(r capture.StepRecord) bool {
			return r.Step.Kind == capture.Power && r.Outcome == capture.Measured &&
				slices.Contains(r.Step.Groups, g.Name) && r.BeganAt.After(whole)
		})
	})
}

// BeforeLastWhole gives the steps up to the sitting in which the whole model was
// measured last; nil where it was measured in no sitting before that one, or
// something was told to be touched in between: then a change may have been mended.
func BeforeLastWhole(steps []capture.StepRecord, h History) []capture.StepRecord {
	isWhole := func(r capture.StepRecord) bool { return r.Step.Kind == capture.Whole && r.Outcome == capture.Measured }
	last := 0
	for _, r := range steps {
		if isWhole(r) {
			last = r.BeganAt.Sitting()
		}
	}
	var before []capture.StepRecord
	var whole capture.Order // the last of them
	for _, r := range steps {
		if r.BeganAt.Sitting() >= last {
			break
		}
		before = append(before, r)
		if isWhole(r) {
			whole = r.EndedAt
		}
	}
	touched := func(r Rework) bool { return !r.Clip && r.Order.After(whole) }
	if whole == 0 || slices.ContainsFunc(h.Reworks, touched) {
		return nil
	}
	return before
}
