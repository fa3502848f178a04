package plots_test

import (
	"bytes"
	"math"
	"os"
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/plots"
)

// brackwater is the demo build's budget.
func brackwater(t testing.TB) *budget.Budget {
	t.Helper()
	src, err := os.ReadFile("../testdata/brackwater/plan.toml")
	if err != nil {
		t.Fatal(err)
	}
	p, problems := plan.Parse("plan.toml", src)
	if p == nil {
		t.Fatal(problems)
	}
	b, err := budget.Of(p, budget.At{Trials: 100}, 1)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestPicturesOfTheDemoBuild: tree and bands of a whole plan can be drawn, and
// carry its numbers.
func TestPicturesOfTheDemoBuild(t *testing.T) {
	b := brackwater(t)
	joint := ""
	for _, j := range b.Joints {
		if j.Kind == "joint" {
			joint = j.Name
		}
	}
	tree := plots.FeedTreeOf(b, map[string]string{joint: "some ohms too many"})
	if len(tree.Nodes) != len(b.Joints) {
		t.Fatalf("%d nodes of %d", len(tree.Nodes), len(b.Joints))
	}
	suspects := 0
	for i, n := range tree.Nodes {
		if n.CurrentA != b.Joints[i].Amps || n.VoltageV != b.Joints[i].Volts || n.DropV != b.Joints[i].Drop ||
			n.LowA != b.Joints[i].LowA || n.HighA != b.Joints[i].HighA ||
			n.LowDropV != b.Joints[i].LowDrop || n.HighDropV != b.Joints[i].HighDrop {
			t.Errorf("%+v is not %+v", n, b.Joints[i])
		}
		if n.Suspect != "" {
			suspects++
		}
	}
	if suspects != 1 {
		t.Errorf("%d suspects", suspects)
	}
	bands := plots.BandsOf(b)
	for i, r := range bands.Rows {
		g := b.Groups[i]
		if r.Group != g.Group || !g.AsFound && (r.Band.LowA != g.Lit.LowA || r.Band.HighA != g.Lit.HighA ||
			r.ExpectedA != g.Lit.NominalA || r.SmallestA != g.SmallestA) {
			t.Errorf("%+v is not %+v", r, g)
		}
		if g.AsFound && r.ExpectedA != 0 {
			t.Errorf("%s was built as found and is expected to draw %g A", g.Group, r.ExpectedA)
		}
	}
	var w bytes.Buffer
	if err := plots.FeedTree(&w, plots.PNG, style(), tree); err != nil {
		t.Error(err)
	}
	keep(t, "demo-tree.png", w.Bytes())
	w.Reset()
	if err := plots.Bands(&w, plots.PNG, style(), bands); err != nil {
		t.Error(err)
	}
	keep(t, "demo-bands.png", w.Bytes())
}

// keep leaves a picture to be looked at, where SEALWORTHY_KEEP names a folder.
func keep(t *testing.T, name string, b []byte) {
	t.Helper()
	dir := os.Getenv("SEALWORTHY_KEEP")
	if dir == "" {
		return
	}
	if err := os.WriteFile(dir+"/"+name, b, 0o600); err != nil {
		t.Error(err)
	}
}

func TestLevelsOfAStep(t *testing.T) {
	b := brackwater(t)
	var board, plain budget.Feed
	for _, f := range b.Feeds {
		switch {
		case f.Board && len(f.Levels) > 2:
			board = f
		case !f.Board && !f.AsFound:
			plain = f
		}
	}
	if board.Feed == "" || plain.Feed == "" {
		t.Fatal("the demo build has no board with several levels, or no plain feed")
	}
	step := func(f budget.Feed) capture.StepRecord {
		return capture.StepRecord{Step: capture.Step{Kind: capture.Power, Way: capture.Alone, Feed: f.Feed,
			Volts: f.Volts}}
	}
	got := plots.LevelsOf(b, step(plain))
	if len(got) != 1 || got[0].Name != "" || got[0].Band.LowA != plain.Levels[0].Draw.LowA ||
		got[0].Band.Coverage != b.Coverage {
		t.Errorf("%s: %+v", plain.Feed, got)
	}
	got = plots.LevelsOf(b, step(board))
	names := ""
	for _, l := range got {
		names += l.Name + "; "
	}
	if !strings.Contains(names, "dark") || !strings.Contains(names, "lit: ") {
		t.Errorf("%s: levels %s", board.Feed, names)
	}
	one := step(board)
	one.Step.Outputs = []int{1}
	if few := plots.LevelsOf(b, one); len(few) == 0 || len(few) >= len(got) {
		t.Errorf("with output 1 alone: %d levels, with all %d", len(few), len(got))
	}
	for name, spoil := range map[string]func(*capture.StepRecord){
		"another voltage": func(s *capture.StepRecord) { s.Step.Volts = math.Nextafter(6, 7) },
		"added":           func(s *capture.StepRecord) { s.Step.Way = capture.Added },
		"a look":          func(s *capture.StepRecord) { s.Step.Kind = capture.Look },
		"unknown":         func(s *capture.StepRecord) { s.Step.Feed = "none of it" },
	} {
		s := step(plain)
		spoil(&s)
		if l := plots.LevelsOf(b, s); l != nil {
			t.Errorf("%s: %+v", name, l)
		}
	}
}
