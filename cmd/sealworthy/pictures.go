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
		return plots.Bands(w, f, plots.DefaultStyle(), bandsData(b))
	})
	if err != nil {
		return nil, err
	}
	tree, err := draw(dir, "feed-tree", format, func(w io.Writer, f plots.Format) error {
		return plots.FeedTree(w, f, plots.DefaultStyle(), treeData(b, nil))
	})
	return []string{bands, tree}, err
}

func bandsData(b *budget.Budget) plots.BandsData {
	d := plots.BandsData{Title: b.Build + ": what each group should draw"}
	for _, g := range b.Groups {
		r := plots.BandRow{Group: g.Group}
		if !g.AsFound {
			r.ExpectedA, r.SmallestA = g.Lit.MeanA, g.SmallestA
			r.Band = compare.Band{LowA: g.Lit.LowA, HighA: g.Lit.HighA, Coverage: b.Coverage}
		}
		d.Rows = append(d.Rows, r)
	}
	return d
}

// treeData is the feed tree in service; suspects say why a group is suspected.
func treeData(b *budget.Budget, suspects map[string]string) plots.FeedTreeData {
	d := plots.FeedTreeData{Title: b.Build + ": feed tree in service, everything lit"}
	for _, j := range b.Joints {
		d.Nodes = append(d.Nodes, plots.TreeNode{Name: j.Name, From: j.From, Kind: j.Kind, Wire: j.Wire,
			CurrentA: j.Amps, VoltageV: j.Volts, DropV: j.Drop, Suspect: suspects[j.Name]})
	}
	return d
}

// traceData is the picture of one step with the levels that were expected.
func traceData(j *compare.Judge, r capture.StepRecord) (plots.TraceData, error) {
	return plots.TraceOf(r, "", levelsOf(j, r))
}

// drawable: a step of which a picture can be made.
func drawable(r capture.StepRecord) bool {
	return r.Step.Kind == capture.Power && len(r.Readings) > 0
}

// traceName names the picture of a step.
func traceName(r capture.StepRecord) string {
	s := "trace-" + r.Step.Feed
	if r.Step.Pace != "" {
		s += "-" + r.Step.Pace
	}
	return fmt.Sprintf("%s-%s", s, r.Stage)
}
