package compare

import (
	"os"
	"testing"

	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
)

const mixedPlan = `build = "mixed"
[jack.main]
volts = 12.0
[closure.hull]
[[group]]
name = "cabin"
closure = "hull"
lights = [ { part = "cold white 3 mm", ohms = 1000, count = 6 }, { part = "cold white 3 mm", in_series = 3, ohms = 330, count = 4 } ]
[[group]]
name = "bridge"
closure = "hull"
lights = [ { part = "cold white 3 mm", ohms = 1000, count = 6 } ]
[[group]]
name = "saloon"
closure = "hull"
lights = [ { part = "cold white 3 mm", in_series = 3, ohms = 330, ohms_tolerance = 0.01, count = 6 } ]
`

// A group of two kinds is read at a second voltage where the longer chains are
// dark or nearly so, and the single LEDs are lit; one of a single kind where its
// resistors tell more than its LEDs, unless one reading tells it.
func TestSecondVoltage(t *testing.T) {
	y := newYard(t, mixedPlan)
	b, err := y.exp.At(scene.Scene{})
	if err != nil {
		t.Fatal(err)
	}
	steps, err := Steps(y.plan, b, StepOptions{Stage: Fitted})
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range steps {
		switch s.Feed {
		case "cabin":
			if len(s.Sweep) != 1 || s.Sweep[0].Volts < 5 || s.Sweep[0].Volts > 8.5 {
				t.Errorf("cabin: %+v", s.Sweep)
			}
		case "bridge":
			if len(s.Sweep) != 0 {
				t.Errorf("bridge: %+v", s.Sweep)
			}
		case "saloon":
			if len(s.Sweep) != 1 || s.Sweep[0].Volts < 9 || s.Sweep[0].Volts > 11.25 {
				t.Errorf("saloon: %+v", s.Sweep)
			}
		}
	}
	one, err := Steps(y.plan, b, StepOptions{Stage: Fitted, OneVoltage: true})
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range one {
		if len(s.Sweep) != 0 {
			t.Errorf("one voltage was asked for: %s %+v", s.ID, s.Sweep)
		}
	}
}

func BenchmarkSecondVoltage(b *testing.B) {
	src, err := os.ReadFile("../testdata/brackwater/plan.toml")
	if err != nil {
		b.Fatal(err)
	}
	p, problems := plan.Parse("plan.toml", src)
	if len(problems) > 0 {
		b.Fatal(problems[0])
	}
	bud, err := NewExpected(p).At(scene.Scene{})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		for _, f := range bud.Feeds {
			m := maker{p: p, b: bud}
			v, ok := m.secondVolts(f, 12, 0)
			if ok {
				b.Log(f.Feed, v)
			}
		}
	}
}
