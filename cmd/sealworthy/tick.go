package main

import (
	"slices"
	"strings"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/plan"
)

// tickMarks says that the maker saw that things are in a closure, of which no
// test tells.
func tickMarks(p *plan.Plan, closure string, items []string) ([]capture.Mark, error) {
	if closure == "" {
		return nil, misuse("measure", "--tick needs --closure: in what is it?")
	}
	all, err := compare.ByHandOnly(p, closure)
	if err != nil {
		return nil, err
	}
	var out []capture.Mark
	for _, x := range items {
		if !slices.Contains(all, x) {
			hint := "nothing in " + closure + " is ticked by hand"
			if len(all) > 0 {
				hint = "by hand are ticked: " + strings.Join(all, ", ")
			}
			return nil, withHint(misuse("measure",
				"%q isn't ticked by hand in %s: its test ticks it, or the plan doesn't have it there", x, closure),
				hint)
		}
		out = append(out, capture.Mark{Kind: capture.MarkTicked, Closure: closure, Check: x})
	}
	return out, nil
}
