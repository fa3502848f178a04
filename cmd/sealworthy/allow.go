package main

import (
	"fmt"
	"strings"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/scene"
)

// allowMarks says that checks of the plan are accepted as they are: each by its
// name, at the value that it has, in the plan or in a step of a test.
func allowMarks(b build, stage string, names []string, reason string) ([]capture.Mark, error) {
	bud, err := compare.NewExpected(b.plan).At(scene.Scene{Loose: stage == compare.Loose})
	if err != nil {
		return nil, err
	}
	values := map[string]float64{}
	var order []string
	add := func(name string, value float64) {
		if _, ok := values[name]; !ok {
			order = append(order, name)
		}
		values[name] = max(values[name], value)
	}
	for _, c := range bud.Binding("", nil) {
		add(c.Name, c.Value)
	}
	steps, err := compare.Steps(b.plan, bud, compare.StepOptions{Stage: stage})
	if err != nil {
		return nil, err
	}
	whole, err := compare.WholeSteps(b.plan, bud, compare.WholeOptions{Stage: stage})
	if err != nil {
		return nil, err
	}
	for _, s := range append(steps, whole...) {
		for _, h := range s.Hazards {
			add(h.Check, h.Value)
		}
	}
	var out []capture.Mark
	for _, n := range names {
		value, ok := values[n]
		switch {
		case !ok && len(order) == 0:
			return nil, fmt.Errorf("nothing is wrong in the plan: there is no check %q to allow", n)
		case !ok:
			return nil, withHint(fmt.Errorf("no check of the plan is called %q", n), "what is wrong in it: "+
				strings.Join(order, "; "))
		}
		out = append(out, capture.Mark{Kind: capture.MarkAllowed, Check: n, Reason: reason, Value: value})
	}
	return out, nil
}
