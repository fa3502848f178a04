package budget

import (
	"math"
	"testing"

	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
)

// What follows from a group's leader is what trying every input in the whole
// model gives: strips with copper, boards whose outputs take turns, thin shared
// wires, a converter, a mast that leads back.
func TestFollowersDoWhatTheyDoInTheWhole(t *testing.T) {
	thin := dock(27)
	for i := range thin.Groups {
		for k := range thin.Groups[i].Lights {
			if l := &thin.Groups[i].Lights[k]; l.Kind == plan.Strip {
				l.CopperOhms = plan.Value{Nominal: 0.05, HalfWidth: 0.01}
			}
		}
	}
	thin.Joints[0].Wire = wireOf(1)
	thin.Joints[2].Holds = []plan.Hold{{Kind: plan.HoldConverter, Text: "step-down",
		OutVolts:   plan.Value{Nominal: 9, HalfWidth: 0.1},
		Efficiency: plan.Value{Nominal: 0.85, HalfWidth: 0.03},
		IdleAmps:   plan.Value{Nominal: 0.004, HalfWidth: 0.001}, MinInVolts: 10}}
	thin.Returns = []plan.Return{{Name: "mast", To: "main", Wire: wireOf(2)}}
	thin.Groups[1].Return, thin.Groups[3].Return = "mast", "mast"
	for name, p := range map[string]*plan.Plan{"brackwater": brackwater(t), "dock": thin} {
		m := &model{p: p, at: At{Scene: scene.Scene{BurdenOhm: 1.7, LeadsOhm: 0.2, LeadsHalfOhm: 0.1},
			Trials: 2}.filled(), seed: 1}
		if err := m.choose(); err != nil {
			t.Fatal(err)
		}
		w, err := m.whole(0)
		if err != nil {
			t.Fatal(err)
		}
		s := w.side
		nominal := zeros(s.outs)
		if err := s.eval(zeros(s.law.inputs), nominal); err != nil {
			t.Fatal(err)
		}
		step := s.step()
		groups, err := s.followers(1, step, s.like())
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, g := range groups {
			n += len(g.followers)
		}
		if n < 2*len(p.Groups) {
			t.Errorf("%s: only %d inputs follow in %d groups", name, n, len(p.Groups))
		}
		all, err := sensitivities(step, nil, nominal,
			func(int) (function, []int) { return s.eval, nil })
		if err != nil {
			t.Fatal(err)
		}
		worst := 0.0
		each, quick := table(all), table(w.drawn.c)
		for k := range each {
			u := 0.0
			for i, c := range each[k] {
				u = math.Max(u, math.Abs(c*step[i]))
			}
			for i, c := range each[k] {
				worst = math.Max(worst, math.Abs(quick[k][i]-c)*step[i]/u)
			}
		}
		t.Logf("%s: %d of %d inputs follow; furthest off by %.2g of an output's largest part", name, n,
			s.law.inputs, worst)
		if worst > 1e-5 {
			t.Errorf("%s: off by %.2g", name, worst)
		}
	}
}
