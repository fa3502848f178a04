package session

import (
	"testing"

	"sealworthy/capture"
)

// A look that the maker left out is asked for where the test goes on; a feed that
// was left out with a reason isn't.
func TestResumeAsksForALookThatWasLeftOut(t *testing.T) {
	step := func(kind capture.Kind, id string) capture.StepRecord {
		return capture.StepRecord{Step: capture.Step{ID: id, Kind: kind, Groups: []string{"bow lamps"}},
			Outcome: capture.Skipped, Reason: "later"}
	}
	have := []capture.StepRecord{step(capture.Power, "hull/bow lamps"), step(capture.Look, "hull/look")}
	done, _ := Sitting{Resume: true}.sort(have, []capture.Step{have[0].Step, have[1].Step})
	if len(done) != 1 || done[0].Step.Kind != capture.Power {
		t.Errorf("done: %+v", done)
	}
}
