package main

import (
	"fmt"
	"io"
	"os"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/budget"
	"sealworthy/plots"
)

// draw writes one picture into a folder and returns its path.
func draw(dir, name, format string, write func(io.Writer, plots.Format) error) (string, error) {
	f, err := plots.FormatOf("." + format)
	if err != nil {
		return "", err
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return "", err
	}
	file := inFolder(dir, name, format)
	return file, replaceFile(file, func(w io.Writer) error { return write(w, f) })
}

// budgetPictures draws the bands and the feed tree.
func budgetPictures(dir, format string, b *budget.Budget) ([]string, error) {
	bands, err := draw(dir, "bands", format, func(w io.Writer, f plots.Format) error {
		return plots.Bands(w, f, plots.DefaultStyle(), plots.BandsOf(b))
	})
	if err != nil {
		return nil, err
	}
	tree, err := draw(dir, "feed-tree", format, func(w io.Writer, f plots.Format) error {
		return plots.FeedTree(w, f, plots.DefaultStyle(), plots.FeedTreeOf(b, nil))
	})
	return []string{bands, tree}, err
}

// levels gives what a healthy feed shows in a step, under the conditions of
// that step.
func levels(exp *compare.Expected, l compare.Leads) func(capture.StepRecord) []plots.Level {
	return func(r capture.StepRecord) []plots.Level {
		b, err := exp.At(compare.ConditionsOf(r, l))
		if err != nil {
			return nil // the finding of this step says why
		}
		return plots.LevelsOf(b, r)
	}
}

// drawable: a step of which a picture can be made.
func drawable(r capture.StepRecord) bool {
	if r.Step.Kind == capture.Whole && !forRecord(r) && r.Outcome != capture.Tripped {
		return false
	}
	return (r.Step.Kind == capture.Power || r.Step.Kind == capture.Whole) && len(r.Readings) > 0
}

// traceName names the picture of a step.
func traceName(r capture.StepRecord) string {
	s := "trace-" + r.Step.Feed
	if r.Step.Pace != "" {
		s += "-" + r.Step.Pace
	}
	return fmt.Sprintf("%s-%s", s, r.Stage)
}
