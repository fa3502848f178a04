package stages

import (
	"fmt"
	"slices"

	"sealworthy/capture"
)

// Order of the stages of a build.
var order = []string{"loose", "fitted", "closed", "delivered", "returned"}

// Over compares, over all that was recorded of a build, the whole model at each
// stage with the stage before at which it was measured, for each set of paces.
// The latest reading of a stage counts. Where the whole wasn't measured before,
// its groups are taken together, each measured alone (SumOf). Changes are in the
// order of stages; warnings say which readings couldn't be compared, and why.
func (c *Comparer) Over(steps []capture.StepRecord, l Leads) ([]Change, []string) {
	type series struct{ jack, pace string }
	latest := map[series]map[string]Reading{}
	var all []series
	var warnings []string
	for _, r := range steps {
		if r.Step.Kind != capture.Whole || r.Outcome != capture.Measured {
			continue
		}
		x, err := ReadingOf(r, l)
		if err != nil {
			warnings = append(warnings, fmt.Sprintf("the whole model at stage %q: %v", r.Stage, err))
			continue
		}
		k := series{x.Jack, x.Pace}
		if latest[k] == nil {
			latest[k] = map[string]Reading{}
			all = append(all, k)
		}
		latest[k][x.Stage] = x
	}
	var out []Change
	for _, k := range all {
		var before *Reading
		for _, stage := range order {
			x, ok := latest[k][stage]
			if !ok {
				continue
			}
			if before == nil {
				if s, err := c.SumOf(steps, l, x); err == nil {
					before = &s
				}
			}
			if before != nil {
				ch, err := c.Compare(*before, x)
				if err != nil {
					warnings = append(warnings, fmt.Sprintf("the whole model at stage %q against %q: %v", x.Stage, before.Stage, err))
				} else {
					out = append(out, ch)
				}
			}
			before = &x
		}
	}
	slices.SortStableFunc(out, func(a, b Change) int { return slices.Index(order, a.Stage) - slices.Index(order, b.Stage) })
	return out, warnings
}
