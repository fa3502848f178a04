package main

import (
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
)

// A test that goes on measures what was touched since, without being told which,
// and nothing else.
func TestResumeMeasuresWhatWasTouched(t *testing.T) {
	t.Parallel()
	b := gig(t)
	s := session.Sitting{Stage: compare.Fitted, Seed: 3}
	end := sit(t, b, s, sittingBegan)
	before, _ := foundIn(t, b)
	rework := []capture.Mark{{Kind: capture.MarkReworked, Feed: "bow lamps", Groups: []string{"bow lamps"},
		Reason: "a joint soldered again"}}
	if err := writeMarks(quiet(), b, compare.Fitted, rework, end); err != nil {
		t.Fatal(err)
	}
	s.Resume = true
	sit(t, b, s, end.Add(time.Minute))
	after, _ := foundIn(t, b)
	if f := after["bow lamps"]; f.Verdict != compare.InBand || f.At.Equal(before["bow lamps"].At) {
		t.Errorf("bow lamps: %s, measured at %s", f.Verdict, f.At)
	}
	if !after["stern lamp"].At.Equal(before["stern lamp"].At) {
		t.Error("stern lamp was measured again")
	}
}

// What was measured at another voltage than the plan has now is measured again.
func TestResumeMeasuresAtTheVoltageOfThePlan(t *testing.T) {
	t.Parallel()
	b := gig(t)
	s := session.Sitting{Stage: compare.Fitted, Seed: 3}
	end := sit(t, b, s, sittingBegan)
	b.plan.Jacks[0].Volts += 0.4
	s.Resume = true
	sit(t, b, s, end.Add(time.Minute))
	after, folded := foundIn(t, b)
	if n := feedsMeasured(folded.Steps); n != 8 {
		t.Errorf("%d feeds measured in both tests, want all 4 twice", n)
	}
	if f := after["stern lamp"]; f.Verdict != compare.InBand {
		t.Errorf("stern lamp: %s, set %.1f V", f.Verdict, f.VoltsSet)
	}
}
