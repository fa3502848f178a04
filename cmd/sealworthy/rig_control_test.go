package main

import (
	"context"
	"io"
	"strings"
	"testing"

	"sealworthy/compare/load"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
)

// tenderBench is the smallest build on a bench with memory ports.
func tenderBench(t *testing.T) *rig.Bench {
	t.Helper()
	b, err := openBuild(env{stderr: io.Discard, getenv: func(string) string { return "" }}, "testdata/plans/tender")
	if err != nil {
		t.Fatal(err)
	}
	r, err := putUp(context.Background(), clock.Wall{}, b.plan, bench.Default(), nil, 1, load.Options{}, true)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close() })
	return r
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
		{"blow", "ok"},
		{"fuse", "ok"},
		{"warm 30", "ok"},
		{"warm up", "? \"up\" is no temperature"},
		{"dance", "? \"dance\" is nothing that hands can do here"},
	} {
		var said []string
		hands(r, strings.NewReader("\n"+c.line+"\n"), func(s string) { said = append(said, s) })
		if len(said) != 1 || !strings.HasPrefix(said[0], c.says) {
			t.Errorf("%q: %q, want %q", c.line, said, c.says)
		}
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
