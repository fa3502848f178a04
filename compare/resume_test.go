package compare

import (
	"slices"
	"testing"

	"sealworthy/capture"
	"sealworthy/compare/look"
)

// What was touched, or got other lights in the plan, is asked for again where a
// test goes on; what wasn't stays done.
func TestStillDone(t *testing.T) {
	for _, c := range []struct {
		name string
		do   func(*yard)
		want map[string][]string // groups of each step that is still done; the others aren't
	}{
		{"nothing happened since", func(*yard) {}, map[string][]string{"house/look": {"fore", "mid"},
			"house/fore": {"fore"}, "house/mid": {"mid"}}},
		{"one was touched", func(y *yard) { y.rework("fore") },
			map[string][]string{"house/look": {"mid"}, "house/mid": {"mid"}}},
		{"the joint before both", func(y *yard) { y.rework("keel") }, map[string][]string{}},
		{"only a clip", func(y *yard) {
			y.rework("fore")
			y.h.Reworks[len(y.h.Reworks)-1].Clip = true
		}, map[string][]string{"house/look": {"fore", "mid"}, "house/mid": {"mid"}}},
		{"other lights in the plan", func(y *yard) { y.plan.Groups[1].Lights[0].Count = 9 },
			map[string][]string{"house/look": {"mid"}, "house/fore": {"fore"}, "house/mid": {"mid"}}},
		{"the maker wanted it again, and that broke off", func(y *yard) { y.h.Steps[0].Redone = true },
			map[string][]string{"house/look": {"fore", "mid"}, "house/mid": {"mid"}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(t, lighter)
			var steps []capture.Step
			for _, s := range []capture.Step{
				{ID: "house/fore", Kind: capture.Power, Groups: []string{"fore"}, Volts: 12},
				{ID: "house/mid", Kind: capture.Power, Groups: []string{"mid"}, Volts: 12},
				{ID: "house/look", Kind: capture.Look, Groups: []string{"fore", "mid"}, Volts: 12,
					Lights: map[string]string{}},
			} {
				for _, g := range y.plan.Groups {
					if s.Lights != nil && slices.Contains(s.Groups, g.Name) {
						s.Lights[g.Name] = look.Digest(g)
					}
				}
				r := capture.StepRecord{Step: s, Stage: Fitted, Outcome: capture.Measured, BeganAt: y.order(),
					EndedAt: y.order()}
				if s.Kind == capture.Look {
					r.Seen, r.SeenAt = look.Right, r.EndedAt
				}
				steps, y.h.Steps = append(steps, s), append(y.h.Steps, r)
			}
			c.do(y)
			got := map[string][]string{}
			for _, r := range StillDone(y.plan, y.h, steps, y.h.Steps) {
				got[r.Step.ID] = r.Step.Groups
			}
			if len(got) != len(c.want) {
				t.Errorf("still done: %v, want %v", got, c.want)
			}
			for id, groups := range c.want {
				if !slices.Equal(got[id], groups) {
					t.Errorf("%s: %v, want %v", id, got[id], groups)
				}
			}
			// At another voltage none of the readings counts.
			for i := range steps {
				steps[i].Volts = 12.6
			}
			if slices.ContainsFunc(StillDone(y.plan, y.h, steps, y.h.Steps),
				func(r capture.StepRecord) bool { return r.Step.Kind == capture.Power }) {
				t.Error("a reading at another voltage is still done")
			}
		})
	}
}
