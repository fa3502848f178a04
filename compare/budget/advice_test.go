package budget

import (
	"strings"
	"testing"

	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
)

// Where a dead light can't be seen, the advice must be one that works.
func TestAdvice(t *testing.T) {
	skipStatistics(t)
	for _, c := range []struct {
		name  string
		l     plan.Light
		meter scene.Accuracy
		says  string
		cure  func(p *plan.Plan, at *At)
	}{
		{"wide reel: measure in parts", part(plan.SMD, 10, 1, 2.95, 820, 0.15, 0.25), scene.Accuracy{OfReading: 0.005},
			"measure it in 2 parts of at most 5 lights each",
			func(p *plan.Plan, _ *At) { p.Groups[0].Lights[0].Count = 5 }},
		{"wide reel: measure a sample", part(plan.SMD, 10, 1, 2.95, 820, 0.3, 1), scene.Accuracy{OfReading: 0.005},
			"measure a sample of smd reel: then up to ",
			func(p *plan.Plan, _ *At) { p.Groups[0].Lights[0].BranchSpread.HalfWidth = sampled }},
		{"coarse digits: a finer range", part(plan.SMD, 10, 1, 2.95, 820, 0.01, 0),
			scene.Accuracy{OfReading: 0.005, FloorA: 0.010, ResolutionA: 0.001},
			"use a finer range", func(_ *plan.Plan, at *At) {
				at.Accuracy.FloorA, at.Accuracy.ResolutionA = 1e-4,
					1e-5
			}},
		{"poor meter", part(plan.SMD, 40, 1, 2.95, 820, 0.01, 0), scene.Accuracy{OfReading: 0.03},
			"use a better meter", func(_ *plan.Plan, at *At) { at.Accuracy.OfReading = 0.002 }},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := lone(12, c.l)
			at := At{Scene: scene.Scene{Accuracy: &c.meter, SetVolts: scene.Is(1e-6), Room: &scene.Room{C: 25,
				HalfC: 1}}, Trials: 2000}
			g := of(t, p, at).Groups[0]
			if g.Visible.OnPlan || !strings.Contains(strings.Join(g.Visible.Advice, "; "), c.says) {
				t.Fatalf("want %q, got %+v", c.says, g.Visible)
			}
			if n := len(g.Visible.Advice); !strings.Contains(g.Visible.Advice[n-1], "look") {
				t.Errorf("the look is missing: %v", g.Visible.Advice)
			}
			c.cure(p, &at)
			if g := of(t, p, at).Groups[0]; !g.Visible.OnPlan {
				t.Errorf("the advice was taken and doesn't help: a dead light takes %g A, %g A can be seen",
					g.SmallestA, g.Visible.PlanA)
			}
		})
	}
}

// Without a meter nothing is claimed to be visible.
func TestNoMeterNoClaim(t *testing.T) {
	g := of(t, tidy(), At{Trials: 10}).Groups[0]
	if g.Visible.Known || g.Visible.OnPlan {
		t.Errorf("%+v", g.Visible)
	}
}
