package main

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"time"

	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/wording"
	"sealworthy/compare"
	"sealworthy/compare/scene"
	"sealworthy/compare/words"
	"sealworthy/plots"
)

func runSheet(_ context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "sheet", `sealworthy sheet BUILD [--form FORM] [--into FILE] [--json]

Makes a page to print and keep: on its first sheet of paper the verdicts, each
group, and the map of its wires; behind it, as an appendix, why, with what, the
pictures and the cautions. It needs no other file and no network.

Forms: test, this page; delivery, the client's; label, what must be plugged in,
to put beside the jack; return, what came back and why; reply, what its client
is told of that, without chances; buy, what the plan takes to build.`)
	into := f.String("into", "", "the `file`; else BUILD/sheet.html. What is there is replaced only if this program "+
		"made it")
	form := f.String("form", formTest, "the `form` of the page: "+sheetForms)
	var c clientFlags
	c.declare(f)
	asJSON := f.Bool("json", false, "print what the sheet holds as JSON, too")
	dir, err := parseBuild(f, args)
	if err != nil {
		return exitUsage, err
	}
	b, err := openBuild(e, dir)
	if err != nil {
		return exitFailure, err
	}
	if *form != formTest {
		file, err := b.form(e, *form, *into, c, time.Now())
		if err != nil {
			return exitFailure, err
		}
		if *asJSON {
			return exitReady, writeJSON(e.stdout, whatIsOnSheet{Sheet: file})
		}
		fmt.Fprintln(e.stdout, file)
		return exitReady, nil
	}
	leads, err := b.leads()
	if err != nil {
		return exitFailure, err
	}
	cs, folded, err := b.findings(e, "", leads)
	if err != nil {
		return exitFailure, err
	}
	file := cmp.Or(*into, filepath.Join(b.dir, sheetFile))
	if err := writeSheet(file, b, cs, folded, leads, time.Now()); err != nil {
		return exitFailure, err
	}
	if *asJSON {
		return exitReady, writeJSON(e.stdout, whatIsOnSheet{file, cs})
	}
	fmt.Fprintln(e.stdout, file)
	return exitReady, nil
}

// writeSheet writes the printed page of a build.
func writeSheet(file string, b build, cs []compare.ClosureFinding, folded record.Folded, l compare.Leads,
	now time.Time) error {
	d, err := sheetData(b, cs, folded, l, now)
	if err != nil {
		return err
	}
	return writeMade(file, func(w io.Writer) error { return plots.Sheet(w, d) })
}

// sheetData is what the printed page of a build shows.
func sheetData(b build, cs []compare.ClosureFinding, folded record.Folded, l compare.Leads,
	now time.Time) (d plots.SheetData, err error) {
	exp := compare.NewExpected(b.plan)
	bud, err := exp.At(scene.Scene{LeadsOhm: l.Ohm, LeadsHalfOhm: l.HalfOhm})
	if err != nil {
		return d, err
	}
	tree, bands := plots.FeedTreeOf(bud, suspects(cs)), plots.BandsOf(bud)
	tree.Simulated = slices.ContainsFunc(cs, func(c compare.ClosureFinding) bool { return c.Simulated })
	d = plots.SheetData{
		Build: b.plan.Build, Scale: b.plan.Scale, PlanRevision: b.plan.Revision, Made: words.There(now, b.here),
		Closures: wording.Gravest(cs), Steps: folded.Steps, Levels: levels(exp, l), AllTraces: true,
		Wires: plots.WireMarksOf(b.plan), Tree: &tree, Bands: &bands, Style: plots.DefaultStyle(),
	}
	if d.Photos, err = b.sheetPhotos(folded, false); err != nil {
		return d, err
	}
	quiet := env{stderr: io.Discard} // what can't be compared is no fault of the sheet
	changes, trend, err := b.overStages(quiet, compare.NewExpected(b.plan), folded.Kept(), l)
	if err != nil {
		return d, err
	}
	if d.Changes = changes; len(trend.Series) > 0 {
		d.Trend = &trend
	}
	for _, c := range compare.Accepted(bud, folded.Allowed).Checks {
		if c.Accepted != "" {
			c.Text += " Accepted: " + c.Accepted
		}
		if c.Severity == "caution" || c.Severity == "wrong" {
			d.Cautions = append(d.Cautions, c.Text)
		}
	}
	for _, w := range folded.Warnings {
		d.Warnings = append(d.Warnings, w.String())
	}
	if beforeChain(cs) {
		d.Warnings = append(d.Warnings, ofBeforeTheChain)
	}
	return d, nil
}

// suspects says of each group that failed what is likely wrong.
func suspects(cs []compare.ClosureFinding) map[string]string {
	out := map[string]string{}
	for _, c := range cs {
		for _, g := range c.Groups {
			if g.Verdict != compare.InBand && g.Verdict != compare.CantTell && g.Verdict != compare.NotMeasured &&
				len(g.Causes) > 0 {
				out[g.Group] = g.Causes[0].Name
			}
		}
	}
	return out
}
