package compare

import (
	"testing"

	"sealworthy/capture"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
	"sealworthy/testdata/brackwater"
)

// What is kept as it was built is read in full, at every stage. Without that a steady
// group alone may end sooner, after as many readings as its scatter needs to be told; a
// blinker, what nothing is planned of and what is added on top never do.
func TestWhatIsKeptIsReadInFull(t *testing.T) {
	p, problems := plan.Parse("plan.toml", brackwater.Plan)
	if p == nil {
		t.Fatal(problems)
	}
	e := NewExpected(p)
	for _, stage := range []string{Loose, Fitted} {
		b, err := e.At(scene.Scene{Loose: stage == Loose})
		if err != nil {
			t.Fatal(err)
		}
		for _, o := range []StepOptions{{Stage: stage, Sweep: true}, {Stage: stage, Way: capture.Added},
			{Stage: stage}} {
			steps, err := Steps(p, b, o)
			if err != nil {
				t.Fatal(err)
			}
			sooner := 0
			for _, s := range steps {
				if s.Enough == (capture.Enough{}) {
					continue
				}
				sooner++
				if o.Sweep || o.Way != "" || s.Board != "" || s.Kind != capture.Power {
					t.Errorf("%s, sweep %v, way %q: %s may end early", stage, o.Sweep, o.Way, s.ID)
				}
				g, _ := b.GroupNamed(s.Feed)
				if s.Enough.Readings < enoughReads || s.Enough.UA <= 0 || s.Enough.UA > enoughOfBand*g.Lit.UA {
					t.Errorf("%s: %+v, the band is uncertain by %v A", s.ID, s.Enough, g.Lit.UA)
				}
			}
			if full := o.Sweep || o.Way != ""; (sooner == 0) != full {
				t.Errorf("%s, sweep %v, way %q: %d steps may end early", stage, o.Sweep, o.Way, sooner)
			}
		}
	}
}
