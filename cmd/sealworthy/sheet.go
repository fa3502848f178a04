package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare"
	"sealworthy/compare/budget"
	"sealworthy/plots"
)

// sheetReport is what the verb prints with --json.
type sheetReport struct {
	Sheet    string                   `json:"sheet"` // the file
	Closures []compare.ClosureFinding `json:"closures"`
}

func runSheet(_ context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "sheet", `sealworthy sheet BUILD [--into FILE] [--json]

Writes one page to print and keep: the findings, what was measured and with
what, the pictures, the cautions. It needs no other file and no network.`)
	into := f.String("into", "", "the file; else BUILD/"+sheetFile)
	asJSON := f.Bool("json", false, "print its path and the findings as JSON")
	rest, err := parse(f, args, 1)
	if err != nil {
		return exitUsage, err
	}
	b, err := openBuild(e, rest[0])
	if err != nil {
		return exitFailure, err
	}
	leads, err := b.leads()
	if err != nil {
		return exitFailure, err
	}
	cs, folded, err := b.findings(e, "", leads)
	if err != nil {
		return exitFailure, err
	}
	rep := sheetReport{Sheet: or(*into, filepath.Join(b.dir, sheetFile)), Closures: cs}
	if err := writeSheet(rep.Sheet, b, cs, folded, leads); err != nil {
		return exitFailure, err
	}
	if *asJSON {
		return exitReady, writeJSON(e.stdout, rep)
	}
	fmt.Fprintln(e.stdout, rep.Sheet)
	return exitReady, nil
}

// writeSheet writes the sheet of a build into a file, whole or not at all.
func writeSheet(file string, b build, cs []compare.ClosureFinding, folded record.Folded, leads compare.Leads) error {
	d, err := sheetData(b, cs, folded, leads)
	if err != nil {
		return err
	}
	return replaceFile(file, func(w io.Writer) error { return plots.Sheet(w, d) })
}

// sheetData gathers what stands on the sheet.
func sheetData(b build, cs []compare.ClosureFinding, folded record.Folded, leads compare.Leads) (plots.SheetData, error) {
	exp := compare.NewExpected(b.plan)
	j, err := compare.NewJudge(exp, compare.DefaultRule(), leads)
	if err != nil {
		return plots.SheetData{}, err
	}
	bud, err := exp.At(compare.Conditions{LeadsOhm: leads.Ohm, LeadsHalfOhm: leads.HalfOhm})
	if err != nil {
		return plots.SheetData{}, err
	}
	if len(cs) == 0 {
		return plots.SheetData{}, withHint(errors.New("the plan has no closure, so there is nothing to say on a sheet"), "name what closes over the groups: [closure.hull]")
	}
	d := plots.SheetData{
		Build: b.plan.Build, Scale: b.plan.Scale, PlanRevision: b.plan.Revision, Made: time.Now(),
		Closures: cs, Steps: folded.Steps, Cautions: ownCautions(bud), Style: plots.DefaultStyle(),
		Levels: func(r capture.StepRecord) []plots.Level { return levelsOf(j, r) },
	}
	for _, w := range folded.Warnings {
		d.Warnings = append(d.Warnings, w.String())
	}
	tree := treeData(bud, suspects(cs))
	d.Tree = &tree
	bands := bandsData(bud)
	d.Bands = &bands
	return d, nil
}

// levelsOf gives the levels of a step for its picture; none where the plan has
// changed so far that it knows nothing of the step.
func levelsOf(j *compare.Judge, r capture.StepRecord) []plots.Level {
	bands, err := j.Levels(r)
	if err != nil {
		return nil
	}
	var out []plots.Level
	for _, l := range bands {
		out = append(out, plots.Level{Name: l.Name, Band: l.Band})
	}
	return out
}

// suspects names what isn't in band, for the feed tree.
func suspects(cs []compare.ClosureFinding) map[string]string {
	out := map[string]string{}
	for _, c := range cs {
		for _, g := range c.Groups {
			if mark(g.Verdict) == "!" {
				out[g.Group] = string(g.Verdict)
			}
		}
	}
	return out
}

// ownCautions are those that this plan calls for.
func ownCautions(b *budget.Budget) []string {
	var out []string
	for _, c := range b.Checks {
		if c.Severity != budget.Advice {
			out = append(out, c.Text)
		}
	}
	return out
}
