package main

import (
	"fmt"
	"io"
	"slices"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/stages"
	"sealworthy/plots"
)

// comparer sets stages of a build side by side, under the rule of the findings.
func (b build) comparer() (*stages.Comparer, error) {
	return stages.New(b.plan, stages.Rule(compare.DefaultRule()))
}

// plotWhole draws what blinks in every trace of several outputs, and the draw
// over the stages.
func (b build) plotWhole(e env, dir, format, closure string, steps []capture.StepRecord, l compare.Leads) ([]string, error) {
	c, err := b.comparer()
	if err != nil {
		return nil, err
	}
	var files []string
	built := map[string]*stages.Apart{} // by feed and pace, as it was when it was good
	for _, r := range steps {
		if !severalBlink(r) || closure != "" && r.Step.Closure != closure {
			continue
		}
		x, err := stages.ReadingOf(r, stages.Leads(l))
		if err != nil {
			continue // its finding says why
		}
		k := x.Jack + "\x00" + x.Pace
		a, err := c.Apart(x, built[k])
		if err != nil {
			wrap(e.stderr, "note: ", "  ", fmt.Sprintf("%s: %v", r.Step.Feed, err))
			continue
		}
		if len(a.Clocks) == 0 {
			continue
		}
		if r.Stage != compare.Returned {
			built[k] = &a
		}
		file, err := draw(dir, "blinkers"+traceName(r)[len("trace"):], format, func(w io.Writer, f plots.Format) error {
			return plots.Blinkers(w, f, plots.DefaultStyle(), plots.BlinkersOf(blinkersTitle(r), x, a))
		})
		if err != nil {
			return files, err
		}
		if !slices.Contains(files, file) {
			files = append(files, file)
		}
	}
	return files, nil
}

// plotTrend draws the draw of every group and of the whole model over the
// stages, where anything was measured at two of them.
func (b build) plotTrend(e env, dir, format string, steps []capture.StepRecord, l compare.Leads) (string, error) {
	j, err := compare.NewJudge(compare.NewExpected(b.plan), compare.DefaultRule(), l)
	if err != nil {
		return "", err
	}
	var fs []compare.Finding
	for _, r := range steps {
		x, err := j.Step(r)
		if err != nil {
			return "", err
		}
		fs = append(fs, x...)
	}
	c, err := b.comparer()
	if err != nil {
		return "", err
	}
	changes, warnings := c.Over(steps, stages.Leads(l))
	for _, w := range warnings {
		wrap(e.stderr, "note: ", "  ", w)
	}
	d := plots.TrendOf(b.plan.Build, fs, changes)
	if len(d.Stages) < 2 {
		return "", nil
	}
	return draw(dir, "trend", format, func(w io.Writer, f plots.Format) error { return plots.Trend(w, f, plots.DefaultStyle(), d) })
}

// severalBlink: a measured trace of the whole model, of joined feeds, or of a
// board with more than one output.
func severalBlink(r capture.StepRecord) bool {
	if r.Outcome != capture.Measured {
		return false
	}
	switch r.Step.Kind {
	case capture.Whole:
		return true
	case capture.Power:
		return r.Step.Way == capture.Joined || r.Step.Board != "" && len(r.Step.Groups) > 1 && len(r.Step.Outputs) == 0
	}
	return false
}

func blinkersTitle(r capture.StepRecord) string {
	title := r.Step.Feed
	if r.Step.Kind == capture.Whole {
		title = "the whole model at jack " + r.Step.Feed
	}
	if r.Step.Pace != "" {
		title += " (" + r.Step.Pace + ")"
	}
	return title + ", " + r.Stage + ": what blinks in it"
}
