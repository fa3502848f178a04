package main

import (
	"fmt"
	"io"
	"slices"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/stages"
)

// changes sets the whole model against the stage before; none where the whole
// was never measured. beside is what couldn't be compared.
func (b build) changes(steps []capture.StepRecord, l compare.Leads) (cs []stages.Change, beside []string, err error) {
	if !slices.ContainsFunc(steps, func(r capture.StepRecord) bool { return r.Step.Kind == capture.Whole }) {
		return nil, nil, nil
	}
	c, err := b.comparer()
	if err != nil {
		return nil, nil, err
	}
	cs, beside = c.Over(steps, l)
	return cs, beside, nil
}

// sayChanges prints what became of the whole model between two stages.
func sayChanges(w io.Writer, k ink, cs []stages.Change) {
	for _, c := range cs {
		var mark string
		switch c.Verdict {
		case stages.Unchanged:
			mark = k.good("+ " + string(c.Verdict))
		case stages.Changed:
			mark = k.bad("! " + string(c.Verdict))
		default:
			mark = k.open("? " + string(c.Verdict))
		}
		fmt.Fprintf(w, "\n%s, %s against %s: %s\n", "whole model", c.Stage, c.Before, mark)
		wrap(w, "  ", "  ", c.Text)
		if c.Why != "" {
			wrap(w, "  why: ", "       ", c.Why)
		}
		for i, s := range c.Settle {
			lead := "  to settle it: "
			if i > 0 {
				lead = "  or:           "
			}
			wrap(w, lead, "                ", s)
		}
	}
}

// changed: the latest comparison found a change, so that the status says it.
func changed(cs []stages.Change) bool {
	return len(cs) > 0 && cs[len(cs)-1].Verdict == stages.Changed
}
