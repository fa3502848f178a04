package main

import (
	"testing"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
)

// A newcomer who does everything right on the lightship, with nothing wrong in
// it, gets ready to close for each of its closures: a key for each look, one for
// each wiggle, one where the current alone can't tell, and one at the end.
func TestNewcomerOnTheLightship(t *testing.T) {
	t.Parallel()
	b, err := unpack(quiet(), t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	var asked []capture.QuestionKind
	sitBefore(t, careful(&asked), b, session.Sitting{Stage: compare.Fitted, Seed: 1}, sittingBegan)
	n := map[capture.QuestionKind]int{}
	for _, k := range asked {
		n[k]++
	}
	cfg, err := b.readBench()
	if err != nil {
		t.Fatal(err)
	}
	cs, _, err := b.findings(quiet(), "", compare.Leads{Ohm: cfg.Leads.Ohms, HalfOhm: cfg.Leads.HalfWidthOhm})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range cs {
		if c.Verdict != compare.ReadyToClose {
			t.Errorf("%s: %s %q", c.Closure, c.Verdict, c.Reasons)
		}
	}
	if n[capture.AskLook] != len(cs) || n[capture.AskWiggle] != len(cs) || n[capture.AskTouched] != 1 ||
		n[capture.AskClip] != 0 || n[capture.AskPress] != 0 {
		t.Errorf("%d closures, asked %v", len(cs), n)
	}
}
