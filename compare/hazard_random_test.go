package compare_test

import (
	"testing"

	"sealworthy/compare"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
)

// Plans whose parts are within their ratings are never refused, at any stage and
// in any step.
func TestNoHazardsInRandomPlans(t *testing.T) {
	plans := uint64(25)
	if raceEnabled {
		plans = 3 // what more plans show is arithmetic, the same without the detector
	}
	for seed := range plans {
		p, problems := plan.Parse("plan.toml", []byte(randomPlan(seed)))
		if len(problems) > 0 {
			t.Fatal(problems[0])
		}
		for _, stage := range []string{compare.Loose, compare.Fitted} {
			b, err := compare.NewExpected(p).At(scene.Scene{Loose: stage == compare.Loose})
			if err != nil {
				t.Fatal(err)
			}
			steps, err := compare.Steps(p, b, compare.StepOptions{Stage: stage})
			if err != nil {
				t.Fatal(err)
			}
			for _, s := range steps {
				for _, h := range s.Hazards {
					t.Errorf("seed %d, %s, %s: %s: %s", seed, stage, s.ID, h.Check, h.Text)
				}
			}
		}
	}
}
