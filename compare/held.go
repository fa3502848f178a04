package compare

import (
	"slices"

	"sealworthy/capture"
	"sealworthy/compare/plan"
)

// HoldForChange holds all closures because the whole model, measured at its jack at
// a stage, changed since the stage before: something in it is wrong, and the jack
// doesn't tell where. It holds none once every group was measured again since.
func HoldForChange(cs []ClosureFinding, p *plan.Plan, h History, stage, what string) {
	if allMeasuredSince(p, h, stage) {
		return
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
			return r.Step.Kind == capture.Power && r.Outcome == capture.Measured && slices.Contains(r.Step.Groups, g.Name) && r.BeganAt.After(whole)
		})
	})
}
