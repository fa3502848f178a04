package main

import (
	"fmt"
	"io"
	"strings"

	"sealworthy/compare/budget"
	"sealworthy/compare/coverage"
	"sealworthy/compare/fault"
	"sealworthy/compare/words"
)

// gradedBudget is a budget with what its test would let pass, as --json prints it.
type gradedBudget struct {
	*budget.Budget
	// TestCoverage is by closure, inner ones first; where it can't be computed, why.
	TestCoverage      []coverage.Closure `json:"test_coverage,omitempty"`
	TestCoverageError string             `json:"test_coverage_error,omitempty"`
}

// likeliestKinds of what is missed are named.
const likeliestKinds = 3

// say prints a few plain lines for each closure.
func (g gradedBudget) say(w io.Writer) {
	if g.TestCoverageError != "" {
		fmt.Fprintln(w)
		wrap(w, "note: ", "      ", "what the test lets pass can't be computed: "+g.TestCoverageError)
		return
	}
	if len(g.TestCoverage) == 0 {
		return
	}
	fmt.Fprintln(w, "\nWHAT THE TEST SEES OF EACH CLOSURE")
	for _, c := range g.TestCoverage {
		sayGrade(w, c)
	}
	wrap(w, "  ", "  ", words.RatesOf(string(g.TestCoverage[0].Rates)))
}

func sayGrade(w io.Writer, c coverage.Closure) {
	if text := gradeText(c); text != "" {
		wrap(w, "  "+c.Closure+": ", "    ", text)
	}
}

// gradeText says what the test sees of a closure; empty where there's nothing to see.
func gradeText(c coverage.Closure) string {
	text := ""
	if c.All.Faults > 0 {
		var kinds []string
		for _, k := range c.Kinds {
			if len(kinds) < likeliestKinds && k.Missed.Weight > 0.05*c.Missed.Weight {
				kinds = append(kinds, fault.AboutKind(k.Kind).Short)
			}
		}
		text = words.Graded(c.All.Faults, c.ByCurrent.Faults, c.ByLook.Faults, c.Missed.Faults) + " " +
			words.StillIn(c.Slip, c.Unlooked, kinds)
		if len(c.Next) > 0 {
			text += " " + words.Closing(remedy(c.Next[0]), c.Next[0].Slip)
		} else {
			text += " " + words.NothingCloses
		}
	}
	for _, h := range c.Held {
		text += " " + words.HealthyHeld(h.Group, h.Passes)
	}
	if len(c.Ungraded) > 0 {
		text += " " + words.NotGraded(c.Ungraded)
	}
	return strings.TrimSpace(text)
}

func remedy(r coverage.Remedy) string {
	switch r.Kind {
	case coverage.SecondVoltage:
		return words.ReadToo(r.Group, r.Volts)
	case coverage.SampleReel:
		return words.SampleOf(r.Reel, r.Pieces)
	case coverage.SmallerParts:
		return words.InParts(r.Group, r.Parts)
	}
	return string(r.Kind)
}
