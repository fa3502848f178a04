package main

import (
	"context"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"sealworthy/compare/load"
	"sealworthy/compare/plan"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
)

// tenderBench is the smallest build on a bench with memory ports.
func tenderBench(t *testing.T) *atRig {
	t.Helper()
	b, err := openBuild(env{stderr: io.Discard, getenv: func(string) string { return "" }}, "testdata/plans/tender")
	if err != nil {
		t.Fatal(err)
	}
	faults, err := parseFaults(b.plan, []string{"stern light=open branch"}, 1)
	if err != nil {
		t.Fatal(err)
	}
	r, err := putUp(context.Background(), clock.Wall{}, b.plan, bench.Default(), faults, 1, load.Options{}, true)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close() })
	return &atRig{Bench: r, plan: b.plan, faults: faults, seed: 1}
}

// What hands do at the rig, in order, and what it answers.
func TestHands(t *testing.T) {
	r := tenderBench(t)
	for _, c := range []struct{ line, says string }{
		{"state", "output off"},
		{"clip stern light, cabin lamps", "ok: clip stern light, cabin lamps"},
		{"clip stern light", "ok"},
		{"clip", "ok"},
		{"clip no such light", "? the model has no terminal called \"no such light\""},
		{"open", "ok"},
		{"together", "ok"},
		{"resistor 1000", "ok"},
		{"resistor", "? \"\" is no resistance"},
		{"resistor -5", "? \"-5\" is no resistance"},
		{"resistor much", "? \"much\" is no resistance"},
		{"press lamp driver", "ok"},
		{"unplug meter", "ok: unplug meter"},
		{"replug meter", "ok: replug meter: memory:"},
		{"unplug kettle", "? the bench has no instrument \"kettle\""},
		{"replug kettle", "? the bench has no instrument"},
		{"cure cabin lamps", "? nothing is broken at \"cabin lamps\"; what is: stern light=open branch"},
		{"fault cabin lamps=short", "ok"},
		{"fault cabin lamps=gone", "? "},
		{"cure cabin lamps", "ok"},
		{"cure", "ok"},
		{"cure", "? nothing is broken"},
		{"blow", "ok"},
		{"fuse", "ok"},
		{"warm 30", "ok"},
		{"warm up", "? \"up\" is no temperature"},
		{"dance", "? \"dance\" is nothing that hands can do here"},
	} {
		var said []string
		hands(r, strings.NewReader("\n"+c.line+"\n"), func(s string) { said = append(said, s) }, func() {})
		if len(said) != 1 || !strings.HasPrefix(said[0], c.says) {
			t.Errorf("%q: %q, want %q", c.line, said, c.says)
		}
	}
}

// What was broken draws as if it were whole once it's mended, and the rest of the model
// stays the same pieces.
func TestHandsMend(t *testing.T) {
	r := tenderBench(t)
	draws := func() (stern, cabin float64) {
		l, err := load.New(r.plan, r.faults, r.seed, r.o)
		if err != nil {
			t.Fatal(err)
		}
		for i, name := range l.Terminals() {
			on := make([]bool, len(l.Terminals()))
			on[i] = true
			a := l.Current(rig.State{Volts: 5, On: on})
			if name == "stern light" {
				stern = a
			} else {
				cabin = a
			}
		}
		return stern, cabin
	}
	broken, before := draws()
	if _, err := hand(r, "cure stern light"); err != nil {
		t.Fatal(err)
	}
	mended, after := draws()
	if broken > 0.001 || mended < 0.005 || before != after {
		t.Errorf("stern light drew %v A and %v A mended; cabin lamps %v A and %v A", broken, mended, before, after)
	}
}

// A group that hangs on a board has its current from there: the clip goes to the board.
func TestClipOfABoardsOutput(t *testing.T) {
	b, err := unpack(env{stderr: io.Discard, getenv: func(string) string { return "" }},
		filepath.Join(t.TempDir(), "brackwater"))
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(b.plan.Groups, func(g plan.Group) bool { return g.Board != "" })
	if i < 0 {
		t.Fatal("no group of the demo's build hangs on a board")
	}
	r, err := putUp(context.Background(), clock.Wall{}, b.plan, bench.Default(), nil, 1, load.Options{}, true)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close() })
	g := b.plan.Groups[i]
	said, err := hand(&atRig{Bench: r, plan: b.plan, seed: 1}, "clip "+g.Name)
	if c := r.Connected(); err != nil || len(c) != 1 || c[0] != g.Board || !strings.Contains(said, g.Board) {
		t.Errorf("%q connects %v, %v", said, c, err)
	}
}

// Clips and fuse are as the hands left them.
func TestHandsMoveTheBench(t *testing.T) {
	r := tenderBench(t)
	do := func(line string) {
		t.Helper()
		if _, err := hand(r, line); err != nil {
			t.Fatal(err)
		}
	}
	do("clip stern light,cabin lamps")
	if c := r.Connected(); strings.Join(c, "+") != "stern light+cabin lamps" {
		t.Errorf("connected %v", c)
	}
	do("open")
	if c := r.Connected(); len(c) != 0 {
		t.Errorf("connected %v", c)
	}
	do("blow")
	if !r.MeterFuseBlown() {
		t.Error("the fuse didn't blow")
	}
	do("fuse")
	if r.MeterFuseBlown() {
		t.Error("the fuse wasn't replaced")
	}
}
