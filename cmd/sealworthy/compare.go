package main

import (
	"context"
	"fmt"
	"slices"

	"sealworthy/capture"
	"sealworthy/compare"
)

func runCompare(_ context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "compare", `sealworthy compare BUILD [--closure NAME] [--change NUMBER] [--json]

Sets what was measured against what the plan expects, and says of each closure
whether it is ready to close, and how probable it is that a fault is still in
what passed. Readings are never changed: a changed plan changes the
expectation. A whole model that was measured at its jack is set against the
stage before, too: a wire pinched while closing shows as a change.

Where the plan may be wrong, or a cure changes it, the changes are numbered;
--change NUMBER makes one: one value of the file, and no other byte.

Exit status: 0 ready to close, every closure asked for; 3 keep open, or the
whole model changed; 4 look first, not settled or closed by choice.`)
	closure := f.String("closure", "", "only this `closure` and what closes inside it")
	asJSON := f.Bool("json", false, "print the findings as JSON")
	change := f.String("change", "",
		"make this change to the plan first, by its `number`, or as PATH = VALUE: one value, and no other byte")
	all := f.Bool("all", false, "show groups that are in band, and what was learned of the reels, too")
	dir, err := parseBuild(f, args)
	if err != nil {
		return exitUsage, err
	}
	b, err := openBuild(e, dir)
	if err != nil {
		return exitFailure, err
	}
	leads, err := b.leads()
	if err != nil {
		return exitFailure, err
	}
	cs, h, err := b.findings(e, *closure, leads)
	if err != nil {
		return exitFailure, err
	}
	if *change != "" {
		edit, err := changeNumbered(planChanges(cs), *change)
		if err != nil {
			return exitUsage, err
		}
		if b, err = changePlan(e, b, edit); err != nil {
			return exitFailure, err
		}
		if cs, h, err = b.findings(e, *closure, leads); err != nil {
			return exitFailure, err
		}
	}
	status := exitOf(cs)
	if *asJSON {
		return status, writeJSON(e.stdout, whatIsCompared{cs})
	}
	changes := planChanges(cs)
	sayFindings(e.stdout, colour(e), cs, changes, *all)
	command := "sealworthy compare" + quotedBuild(dir)
	if *closure != "" {
		command += " --closure " + quoted(*closure)
	}
	sayPlanChanges(e.stdout, changes, command)
	if *closure == "" {
		whole, _, _ := b.changes(h.Kept(), leads) // what couldn't be compared stands beside the findings
		sayChanges(e.stdout, colour(e), whole)
	}
	if *all {
		reels, err := b.reels(e)
		if err != nil {
			return exitFailure, err
		}
		sayReels(e.stdout, reels)
	}
	if !anyReading(cs) && !slices.ContainsFunc(h.Steps, anyRead) {
		fmt.Fprintln(e.stdout, "\nNothing was measured yet: sealworthy measure", quoted(dir))
	}
	return status, nil
}

func anyReading(cs []compare.ClosureFinding) bool {
	for _, c := range cs {
		for _, g := range c.Groups {
			if g.Readings > 0 {
				return true
			}
		}
	}
	return false
}

func anyRead(r capture.StepRecord) bool {
	n, _ := r.Count()
	return n > 0
}
