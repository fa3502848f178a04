package main

import (
	"fmt"
	"io"
	"strings"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/blink"
	"sealworthy/compare/returns"
	"sealworthy/compare/rule"
	"sealworthy/compare/stages"
	"sealworthy/compare/words"
	"sealworthy/plots"
)

// comparer sets stages of a build side by side, under the rule of the findings.
func (b build) comparer() (*stages.Comparer, error) {
	o, err := b.returnOptions()
	if err != nil {
		return nil, err
	}
	return stages.New(b.plan, rule.Default(), o.Priors)
}

// parted is a trace of several outputs, taken apart.
type parted struct {
	r capture.StepRecord
	d plots.BlinkersData
}

// blinkers takes every trace of several outputs apart, in the order of time.
func (b build) blinkers(e env, steps []capture.StepRecord, l compare.Leads) ([]parted, error) {
	c, err := b.comparer()
	if err != nil {
		return nil, err
	}
	var out []parted
	built := map[string]*blink.Parted{} // by feed and pace, as it was when it was good
	for _, r := range steps {
		if !severalBlink(r) {
			continue
		}
		x, err := stages.ReadingOf(r, l)
		if err != nil {
			continue // its finding says why
		}
		k := x.Jack + "\x00" + x.Pace
		a, err := c.Apart(x, built[k])
		if err != nil {
			wrap(e.stderr, "note: ", "  ", fmt.Sprintf("what blinks in the trace of %q can't be drawn in: %v",
				r.Step.Feed, err))
			continue
		}
		if len(a.Beats) == 0 {
			continue
		}
		if r.Stage != compare.Returned {
			built[k] = &a
		}
		d := plots.BlinkersOf(blinkersTitle(r), x, a)
		d.Began = words.There(d.Began, b.here)
		out = append(out, parted{r, d})
	}
	return out, nil
}

// plotBlinkers draws each of them.
func (b build) plotBlinkers(e env, a *album, closure string, steps []capture.StepRecord, l compare.Leads) error {
	ps, err := b.blinkers(e, steps, l)
	if err != nil {
		return err
	}
	for _, p := range ps {
		if closure != "" && p.r.Step.Closure != closure {
			continue
		}
		err := a.draw(tracePicture(blinkersKind, p.r), func(w io.Writer, f plots.Format) error {
			return plots.Blinkers(w, f, plots.DefaultStyle(), p.d)
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// blinkersOfReturn is what blinked when the model of a diagnosis was measured;
// nil where nothing does, or its trace is not on record.
func (b build) blinkersOfReturn(e env, d *returns.Diagnosis) (*plots.BlinkersData, error) {
	leads, err := b.leads()
	if err != nil {
		return nil, err
	}
	f, err := b.history(e)
	if err != nil {
		return nil, err
	}
	ps, err := b.blinkers(e, f.Kept(), leads)
	if err != nil {
		return nil, err
	}
	for _, p := range ps {
		if p.r.Step.Kind == capture.Whole && p.r.Stage == compare.Returned && p.r.Ended.Equal(d.At) {
			return &p.d, nil
		}
	}
	return nil, nil
}

// overStages sets the whole model against the stage before, for all that is on
// record, and every group against its first reading.
func (b build) overStages(e env, x *compare.Expected, steps []capture.StepRecord,
	l compare.Leads) ([]stages.Change, plots.TrendData, error) {
	var none plots.TrendData
	j, err := compare.NewJudge(x, rule.Default(), l)
	if err != nil {
		return nil, none, err
	}
	var fs []compare.Finding
	for _, r := range steps {
		x, err := j.Step(r)
		if err != nil {
			return nil, none, err
		}
		fs = append(fs, x...)
	}
	c, err := b.comparer()
	if err != nil {
		return nil, none, err
	}
	changes, warnings := c.Over(steps, l)
	for _, w := range warnings {
		wrap(e.stderr, "note: ", "  ", w)
	}
	d := plots.TrendOf(b.plan.Build, fs, changes)
	for i := range d.Stages {
		d.Stages[i].At = words.There(d.Stages[i].At, b.here)
	}
	return changes, d, nil
}

// plotTrend draws the draw of every group and of the whole model over the
// stages, where anything was measured at two of them.
func (b build) plotTrend(e env, a *album, steps []capture.StepRecord, l compare.Leads) error {
	_, d, err := b.overStages(e, compare.NewExpected(b.plan), steps, l)
	if err != nil || len(d.Series) == 0 {
		return err
	}
	return a.draw(trendPicture, func(w io.Writer, f plots.Format) error {
		return plots.Trend(w, f,
			plots.DefaultStyle(), d)
	})
}

// severalBlink: a measured trace of the whole model, of joined feeds, or of a
// board with more than one output.
func severalBlink(r capture.StepRecord) bool {
	if r.Outcome != capture.Measured {
		return false
	}
	switch r.Step.Kind {
	case capture.Whole:
		return forRecord(r)
	case capture.Power:
		return r.Step.Way == capture.Joined || r.Step.Board != "" && len(r.Step.Groups) > 1 && len(r.Step.Outputs) == 0
	}
	return false
}

// forRecord: the whole model at a pace, and not a look at it on the way there.
func forRecord(r capture.StepRecord) bool { return strings.HasPrefix(r.Step.ID, "whole/") }

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
