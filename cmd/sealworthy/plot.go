package main

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"path/filepath"

	"sealworthy/compare"
	"sealworthy/compare/scene"
	"sealworthy/compare/words"
	"sealworthy/plots"
)

func runPlot(_ context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "plot", `sealworthy plot BUILD [--into DIR] [--format svg|png|pdf]

Draws what was measured: the trace of each step with its band, what blinks in
it drawn in, and measured against expected for each closure; the whole model
over its stages; a return's sweep against its signature; the bands of the budget
and the feed tree.`)
	into := f.String("into", "", "`folder` for the pictures; else BUILD/pictures. Only pictures that this program "+
		"made are replaced")
	format := f.String("format", "svg", "`format`: svg, png or pdf")
	closure := f.String("closure", "", "only this `closure`")
	asJSON := f.Bool("json", false, "print the files as JSON")
	dir, err := parseBuild(f, args)
	if err != nil {
		return exitUsage, err
	}
	if _, err := plots.FormatOf("." + *format); err != nil {
		return exitUsage, misuse("plot", "%v", err)
	}
	b, err := openBuild(e, dir)
	if err != nil {
		return exitFailure, err
	}
	files, err := b.plot(e, cmp.Or(*into, filepath.Join(b.dir, "pictures")), *format, *closure)
	if err != nil {
		return exitFailure, err
	}
	if *asJSON {
		return exitReady, writeJSON(e.stdout, whatIsDrawn{files})
	}
	for _, x := range files {
		fmt.Fprintln(e.stdout, x)
	}
	return exitReady, nil
}

// plot draws every picture of a build and returns their files.
func (b build) plot(e env, dir, format, closure string) ([]string, error) {
	leads, err := b.leads()
	if err != nil {
		return nil, err
	}
	cs, folded, err := b.findings(e, closure, leads)
	if err != nil {
		return nil, err
	}
	exp := compare.NewExpected(b.plan)
	bud, err := exp.At(scene.Scene{LeadsOhm: leads.Ohm, LeadsHalfOhm: leads.HalfOhm})
	if err != nil {
		return nil, err
	}
	a := newAlbum(dir, format, picturesOf(b.plan, folded.Kept())...)
	if err := a.budget(bud); err != nil {
		return nil, err
	}
	for _, c := range cs {
		if len(c.Groups) == 0 {
			continue
		}
		err := a.draw(closurePicture(c.Closure), func(w io.Writer, f plots.Format) error {
			return plots.Closure(w, f, plots.DefaultStyle(), c)
		})
		if err != nil {
			return a.files, err
		}
	}
	for _, r := range folded.Kept() {
		if !drawable(r) || (closure != "" && r.Step.Closure != closure) {
			continue
		}
		err := a.draw(tracePicture(traceKind, r), func(w io.Writer, f plots.Format) error {
			d, err := plots.TraceOf(r, "", levels(exp, leads)(r))
			if err != nil {
				return err
			}
			d.Began = words.There(d.Began, b.here)
			return plots.Trace(w, f, plots.DefaultStyle(), d)
		})
		if err != nil {
			return a.files, err
		}
	}
	if err := b.plotBlinkers(e, a, closure, folded.Kept(), leads); err != nil {
		return a.files, err
	}
	if closure == "" {
		if err := b.plotTrend(e, a, folded.Kept(), leads); err != nil {
			return a.files, err
		}
	}
	return a.files, b.plotReturn(a)
}

// plotReturn draws the sweep of the latest return, where there is one.
func (b build) plotReturn(a *album) error {
	k, err := b.lastReturn()
	if err != nil || len(k.Diagnosis.Volts) < 2 {
		return nil // none came back, or none has a sweep
	}
	err = a.draw(sweepBackPicture, func(w io.Writer, f plots.Format) error {
		return plots.Sweep(w, f, plots.DefaultStyle(), plots.SweepOf(k.Diagnosis))
	})
	if err != nil {
		return err
	}
	bud, err := compare.NewExpected(b.plan).At(scene.Scene{})
	if err != nil {
		return err
	}
	suspected := map[string]string{}
	for _, c := range k.Diagnosis.Set {
		suspected[c.Place] = string(c.Best().Class)
	}
	return a.draw(treeBackPicture, func(w io.Writer, f plots.Format) error {
		d := plots.FeedTreeOf(bud, suspected)
		d.Title, d.Simulated = b.plan.Build+": feed tree, with what is suspected since it came back",
			k.Diagnosis.Simulated
		return plots.FeedTree(w, f, plots.DefaultStyle(), d)
	})
}
