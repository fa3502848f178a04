package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"

	"sealworthy/compare"
	"sealworthy/compare/budget"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/profile"
	"sealworthy/plots"
)

func runBudget(_ context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "budget", `sealworthy budget BUILD [--json] [--plots DIR]

What each group should draw, with its band; what the plan's parts, wires, fuses
and boards make of it; what the chosen meter can see; and the usual cautions.
At the end, what the test that measure makes would let be glued in: of all the
faults that a closure can have, which current stops, which only a look.

What is WRONG holds the closures that it names until it is mended in the plan,
or accepted by its name: sealworthy measure BUILD --allow CHECK --reason TEXT

Exit status: 0 nothing is wrong, 3 something is and wasn't accepted, 1 failure,
2 usage.`)
	asJSON := f.Bool("json", false, "print the whole budget as JSON")
	volts := f.Float64("volts", 0, "at this `voltage`; 0: the jack's own")
	loose := f.Bool("loose", false, "each feed clipped at its own wire, without the joints before it")
	meter := f.String("meter-profile", "",
		"the `profile` of the meter to be used; else the one in bench.toml, or \"scpi meter\"")
	into := f.String("plots", "", "`folder` for the pictures: bands, feed tree")
	format := f.String("format", "svg", "`format` of the pictures: svg, png or pdf")
	dir, err := parseBuild(f, args)
	if err != nil {
		return exitUsage, err
	}
	if _, err := plots.FormatOf("." + *format); err != nil {
		return exitUsage, misuse("budget", "--format %v", err)
	}
	if !(*volts >= 0 && *volts <= mostVolts) {
		return exitUsage, misuse("budget", "--volts %g: it must lie between 0 and %g", *volts, mostVolts)
	}
	b, err := openBuild(e, dir)
	if err != nil {
		return exitFailure, err
	}
	cfg, err := b.readBench()
	if err != nil {
		return exitFailure, err
	}
	name := cmp.Or(*meter, cmp.Or(cfg.Meter.Profile, "scpi meter"))
	c := scene.Scene{Volts: scene.Given(*volts), LeadsOhm: cfg.Leads.Ohms, LeadsHalfOhm: cfg.Leads.HalfWidthOhm}
	if *loose {
		c.Loose = true
	}
	bud, err := budgetWith(e, b, name, c)
	if *meter != "" && errors.Is(err, profile.ErrUnknown) {
		return exitUsage, withHint(&usageError{fmt.Sprintf("budget: --meter-profile: %v", err)},
			"sealworthy ports lists the profiles")
	}
	if err != nil {
		return exitFailure, err
	}
	if *into != "" {
		a := newAlbum(*into, *format, bandsPicture, treePicture)
		if err := a.budget(bud); err != nil {
			return exitFailure, err
		}
		for _, x := range a.files {
			fmt.Fprintf(e.stderr, "drawn: %s\n", x)
		}
	}
	accepted, err := b.accepted()
	if err != nil {
		return exitFailure, err
	}
	bud = compare.Accepted(bud, accepted)
	wrong := bud.Binding("", compare.AllowedBy(accepted))
	status := exitReady
	if len(wrong) > 0 {
		status = exitKeepOpen
	}
	graded := gradedBudget{Budget: bud}
	if *volts == 0 {
		if graded, err = b.graded(e, bud); err != nil {
			return exitFailure, err
		}
	}
	if *asJSON {
		return status, writeJSON(e.stdout, graded)
	}
	if err := bud.Text(e.stdout, columnsOf(e.stdout)); err != nil {
		return exitFailure, err
	}
	graded.say(e.stdout)
	if len(wrong) > 0 {
		fmt.Fprintf(e.stdout, "\nto accept one as it is:\n%s\n",
			folded([]string{"sealworthy", "measure", quoted(b.dir), "--allow", quoted(wrong[0].Name), "--reason",
				"TEXT"}))
	}
	return status, nil
}

// graded grades the test that measure would make by a budget, with the build's priors.
// Where that can't be computed it says why, and the budget stands.
func (b build) graded(e env, bud *budget.Budget) (gradedBudget, error) {
	out := gradedBudget{Budget: bud}
	pr, err := b.priors()
	if err != nil {
		return out, err
	}
	o := compare.StepOptions{Stage: compare.Fitted, Sweep: true}
	if bud.At.Loose {
		o = compare.StepOptions{Stage: compare.Loose}
	}
	if out.TestCoverage, err = compare.Grade(b.plan, bud, o, rule.Default(), pr); err != nil {
		out.TestCoverageError = err.Error()
	}
	return out, nil
}

// budgetOn makes the budget of a build on its own bench, fitted.
func budgetOn(e env, b build, cfg *bench.Config) (*budget.Budget, error) {
	return budgetWith(e, b, cmp.Or(cfg.Meter.Profile, "scpi meter"), scene.Scene{LeadsOhm: cfg.Leads.Ohms,
		LeadsHalfOhm: cfg.Leads.HalfWidthOhm})
}

// budgetWith makes the budget for the range of a meter that holds every feed.
func budgetWith(e env, b build, meter string, c scene.Scene) (*budget.Budget, error) {
	exp := compare.NewExpected(b.plan)
	peak, err := exp.PeakA(c)
	if err != nil {
		return nil, err
	}
	folder := ""
	if dir, err := configDir(e); err == nil {
		folder = profileFolder(dir)
	}
	p, err := profile.Load(meter, folder)
	if err != nil {
		return nil, withHint(err, "sealworthy ports lists the profiles")
	}
	r, ok := rangeFor(p.RangesOf(instruments.Current), peak)
	if !ok {
		return exp.At(c)
	}
	c.BurdenOhm = r.BurdenOhm
	c.Accuracy = &scene.Accuracy{OfReading: r.Accuracy.OfReading, FloorA: r.Accuracy.Floor, ResolutionA: r.Resolution,
		RangeA: r.Max}
	return exp.At(c)
}

// rangeFor is the finest range that holds peak.
func rangeFor(ranges []instruments.Range, peak float64) (instruments.Range, bool) {
	var best instruments.Range
	for _, r := range ranges {
		if r.Max >= peak && (best.Max == 0 || r.Max < best.Max) {
			best = r
		}
	}
	return best, best.Max > 0
}
