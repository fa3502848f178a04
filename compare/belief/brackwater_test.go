package belief

import (
	"os"
	"path/filepath"
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
)

// Every group of the demo build can be judged, and one that draws what is expected
// is healthy: nothing wrong is the likeliest, and the rule never fails it.
func TestEveryGroupOfBrackwater(t *testing.T) {
	file := filepath.Join("..", "..", "testdata", "brackwater", "plan.toml")
	src, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	p, problems := plan.Parse(file, src)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	judged := 0
	for _, g := range p.Groups {
		if g.AsFound {
			continue
		}
		e, err := New(p, []string{g.Name}, []float64{12, 8.5}, scene.Scene{BurdenOhm: 0.5},
			Options{Suspects: fault.Suspects(p, src, g.Name, plan.Options{}, fault.DefaultPriors().Plan)})
		if err != nil {
			t.Errorf("%s: %v", g.Name, err)
			continue
		}
		judged++
		var rs []Reading
		for k, v := range e.Volts {
			rs = append(rs, Reading{Volts: v, Amps: e.HealthyA[k], U: 5e-5, GainU: 0.003})
		}
		r := posterior(t, e, rs, look.Look{})
		d := decision(t, e, rs, look.Look{})
		t.Logf("%-20s %3d hypotheses, %6.2f ±%.2f mA, none %.2f, d' %.1f, %s", g.Name, len(e.Hypotheses),
			1e3*e.HealthyA[0], 1e3*e.HealthyU[0], r.None, d.DPrime, d.Verdict)
		if d.Verdict != rule.Pass && d.Verdict != rule.Undecided || len(r.Classes) > 0 && r.Classes[0].P > r.None {
			t.Errorf("%s: %+v, none %.3f", g.Name, d, r.None)
		}
	}
	if judged < 5 {
		t.Errorf("only %d groups were judged", judged)
	}
}
