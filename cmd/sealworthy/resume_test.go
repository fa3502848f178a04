package main

import (
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
)

// A test that goes on measures what was touched since, without being told which,
// and nothing else.
func TestResumeMeasuresWhatWasTouched(t *testing.T) {
	t.Parallel()
	b := gig(t)
	s := sitting{stage: compare.Fitted, seed: 3}
	end := sit(t, b, s, sittingBegan)
	before, _ := foundIn(t, b)
	rework := []capture.Mark{{Kind: capture.MarkReworked, Feed: "bow lamps", Groups: []string{"bow lamps"}, Reason: "a joint soldered again"}}
	if err := writeMarks(quiet(), b, compare.Fitted, rework, end); err != nil {
		t.Fatal(err)
	}
	s.resume = true
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
	s := sitting{stage: compare.Fitted, seed: 3}
	end := sit(t, b, s, sittingBegan)
	b.plan.Jacks[0].Volts += 0.4
	s.resume = true
	sit(t, b, s, end.Add(time.Minute))
	after, folded := foundIn(t, b)
	if n := feedsMeasured(folded.Steps); n != 8 {
		t.Errorf("%d feeds measured in both tests, want all 4 twice", n)
	}
	if f := after["stern lamp"]; f.Verdict != compare.InBand {
		t.Errorf("stern lamp: %s, set %.1f V", f.Verdict, f.VoltsSet)
	}
}

// A look that the maker left out is asked for where the test goes on; a feed that
// was left out with a reason isn't.
func TestResumeAsksForALookThatWasLeftOut(t *testing.T) {
	step := func(kind capture.Kind, id string) capture.StepRecord {
		return capture.StepRecord{Step: capture.Step{ID: id, Kind: kind, Groups: []string{"bow lamps"}}, Outcome: capture.Skipped, Reason: "later"}
	}
	have := []capture.StepRecord{step(capture.Power, "hull/bow lamps"), step(capture.Look, "hull/look")}
	done, _ := sitting{resume: true}.sort(have, []capture.Step{have[0].Step, have[1].Step})
	if len(done) != 1 || done[0].Step.Kind != capture.Power {
		t.Errorf("done: %+v", done)
	}
}
