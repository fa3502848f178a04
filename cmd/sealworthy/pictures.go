package main

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/plots"
)

// album is a folder of pictures. All that can come into it is known before the
// first is drawn, so that each has a name of its own.
type album struct {
	dir, format string
	names       map[string]string // by what a picture is of, see pictureID
	files       []string          // drawn, in their order
}

// The pictures of which there is one at most.
const (
	bandsPicture     = "bands"
	treePicture      = "feed-tree"
	trendPicture     = "trend"
	sweepBackPicture = "sweep-returned"
	treeBackPicture  = "feed-tree-returned"
)

func newAlbum(dir, format string, ids ...string) *album {
	return &album{dir: dir, format: format, names: fileNames(ids)}
}

// draw writes one picture. What was measured twice under the same conditions
// has one picture, the latest.
func (a *album) draw(id string, write func(io.Writer, plots.Format) error) error {
	name, ok := a.names[id]
	if !ok {
		return fmt.Errorf("the picture of %q has no name in this album", id)
	}
	if err := makeFolder(a.dir); err != nil {
		return err
	}
	file := filepath.Join(a.dir, name+"."+a.format)
	if err := drawInto(file, write); err != nil {
		return err
	}
	if !slices.Contains(a.files, file) {
		a.files = append(a.files, file)
	}
	return nil
}

// drawnToo is what --picture does.
const drawnToo = "draw it, too, into this `file`: .svg, .png or .pdf"

// pictureNamed looks at what --picture says, before anything is read; "" is none.
func pictureNamed(verb, file string) error {
	if _, err := plots.FormatOf(file); file != "" && err != nil {
		return misuse(verb, "%v", err)
	}
	return nil
}

// drawInto draws one picture into a file, in the format that its name says.
func drawInto(file string, write func(io.Writer, plots.Format) error) error {
	f, err := plots.FormatOf(file)
	if err != nil {
		return err
	}
	return writeMade(file, func(w io.Writer) error { return write(w, f) })
}

// budget draws the bands and the feed tree.
func (a *album) budget(b *budget.Budget) error {
	err := a.draw(bandsPicture, func(w io.Writer, f plots.Format) error {
		return plots.Bands(w, f, plots.DefaultStyle(), plots.BandsOf(b))
	})
	if err != nil {
		return err
	}
	return a.draw(treePicture, func(w io.Writer, f plots.Format) error {
		return plots.FeedTree(w, f, plots.DefaultStyle(), plots.FeedTreeOf(b, nil))
	})
}

// levels gives what a healthy feed shows in a step, under the conditions of
// that step.
func levels(exp *compare.Expected, l compare.Leads) func(capture.StepRecord) []plots.Level {
	return func(r capture.StepRecord) []plots.Level {
		b, err := exp.At(compare.SceneOf(r, l))
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
	n, _ := r.Count()
	return (r.Step.Kind == capture.Power || r.Step.Kind == capture.Whole) && n > 0
}

// tracePicture is the id of the picture of a step, of its kind: the trace as it
// is, or with what blinks in it.
func tracePicture(kind string, r capture.StepRecord) string {
	return pictureID(kind, r.Step.Feed, r.Step.Pace, r.Stage)
}

const (
	traceKind    = "trace"
	blinkersKind = "blinkers"
)

func closurePicture(name string) string { return pictureID("closure", name) }

// picturesOf names all that can be drawn of a build.
func picturesOf(p *plan.Plan, steps []capture.StepRecord) []string {
	ids := []string{bandsPicture, treePicture, trendPicture, sweepBackPicture, treeBackPicture}
	for _, c := range p.Closures {
		ids = append(ids, closurePicture(c.Name))
	}
	for _, r := range steps {
		ids = append(ids, tracePicture(traceKind, r), tracePicture(blinkersKind, r))
	}
	return ids
}
