package compare

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
)

const hotPlan = `build = "hot"
[jack.main]
volts = 12.0
[closure.hull]
[closure.house]
[[group]]
name = "stern light"
closure = "hull"
lights = [ { part = "red 1.8 mm", ohms = 100 } ]
[[group]]
name = "bridge"
closure = "hull"
lights = [ { part = "cold white 3 mm", ohms = 1000, count = 6 } ]
[[group]]
name = "galley"
closure = "house"
lights = [ { part = "cold white 3 mm", ohms = 1000, count = 6 } ]
`

func hazardsOf(s capture.Step) string {
	var out []string
	for _, h := range s.Hazards {
		out = append(out, h.Check)
	}
	return strings.Join(out, "; ")
}

// A 20 mA LED with 100 ohm at 12 V is a hazard of its own step and of the looks
// that it's lit in, and of no other.
func TestHazardsOfSteps(t *testing.T) {
	y := newYard(t, hotPlan)
	for _, o := range []StepOptions{{Stage: Fitted}, {Stage: Loose}, {Stage: Fitted, Sweep: true},
		{Stage: Fitted, OneVoltage: true}} {
		b, err := y.exp.At(scene.Scene{Loose: o.Stage == Loose})
		if err != nil {
			t.Fatal(err)
		}
		steps, err := Steps(y.plan, b, o)
		if err != nil {
			t.Fatal(err)
		}
		seen := 0
		for _, s := range steps {
			want := ""
			if s.Closure == "hull" && s.Feed != "bridge" {
				want = "LED current: stern light"
				seen++
			}
			if got := hazardsOf(s); got != want {
				t.Errorf("%+v: %s has the hazards %q, want %q", o, s.ID, got, want)
			}
			for _, h := range s.Hazards {
				if !strings.Contains(h.Text, "at 12 V, it is rated") ||
					!strings.Contains(h.Cure, "instead of 100 ohm") || !(h.Value > 0.09) {
					t.Errorf("%+v", h)
				}
			}
		}
		if seen < 2 {
			t.Errorf("%+v: %d steps with it, want its own and the look", o, seen)
		}
	}
}

// A limited voltage at which nothing burns is no hazard; one at which it does is.
func TestHazardsAtAnotherVoltage(t *testing.T) {
	y := newYard(t, hotPlan)
	b, err := y.exp.At(scene.Scene{})
	if err != nil {
		t.Fatal(err)
	}
	for volts, want := range map[float64]string{3: "", 9: "LED current: stern light"} {
		s, err := VoltsStep(y.plan, b, StepOptions{Stage: Fitted}, "stern light", volts)
		if err != nil || hazardsOf(s) != want {
			t.Errorf("%g V: %q, %v", volts, hazardsOf(s), err)
		}
	}
	s, err := LookStep(y.plan, b, StepOptions{Stage: Fitted}, "stern light")
	if err != nil || hazardsOf(s) == "" {
		t.Errorf("look: %q, %v", hazardsOf(s), err)
	}
	if s, err = LookStep(y.plan, b, StepOptions{Stage: Fitted}, "bridge"); err != nil || hazardsOf(s) != "" {
		t.Errorf("look at another: %q, %v", hazardsOf(s), err)
	}
}

// 24 V typed for parts of 12 V: nothing of it is powered, nor the whole model.
func TestHazardsOfTheWholeModel(t *testing.T) {
	y := newYard(t, strings.Replace(`build = "typed"
[jack.main]
volts = 12.0
[closure.hull]
[[group]]
name = "cabin"
closure = "hull"
lights = [ { part = "strip warm white 12 V", segments = 3 } ]
`, "12.0", "24.0", 1))
	b, err := y.exp.At(scene.Scene{})
	if err != nil {
		t.Fatal(err)
	}
	steps, err := WholeSteps(y.plan, b, WholeOptions{Stage: Closed})
	if err != nil || len(steps) == 0 || hazardsOf(steps[0]) != "voltage rating: cabin" {
		t.Errorf("%v: %+v", err, steps)
	}
	steps, err = Steps(y.plan, b, StepOptions{Stage: Fitted})
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range steps {
		if hazardsOf(s) != "voltage rating: cabin" {
			t.Errorf("%s: %q", s.ID, hazardsOf(s))
		}
	}
	// Accepted by name it is none any more; that of another still is.
	for name, want := range map[string]string{"voltage rating: cabin": "",
		"LED current: cabin": "voltage rating: cabin"} {
		steps, err := WholeSteps(y.plan, b,
			WholeOptions{Stage: Closed, Allowed: func(c budget.Check) bool { return c.Name == name }})
		if err != nil || hazardsOf(steps[0]) != want {
			t.Errorf("%s allowed: %q, %v", name, hazardsOf(steps[0]), err)
		}
	}
}

// Loose, what hangs behind a converter is clipped without it: it's powered with
// what the converter would give, also when it's looked at.
func TestLooseBehindAConverter(t *testing.T) {
	y := newYard(t, `build = "two voltages"
[jack.main]
volts = 12.0
[closure.hull]
[joint.five]
from = "main"
holds = [ { converter = "step-down", out_volts = 5.0 } ]
[[group]]
name = "lamps"
joint = "five"
lights = [ { part = "warm white 3 mm", ohms = 150, count = 2 } ]
[[group]]
name = "cabin"
joint = "main"
lights = [ { part = "strip warm white 12 V", segments = 3 } ]
`)
	for stage, lamps := range map[string]float64{Loose: 5, Fitted: 12} {
		b, err := y.exp.At(scene.Scene{Loose: stage == Loose})
		if err != nil {
			t.Fatal(err)
		}
		steps, err := Steps(y.plan, b, StepOptions{Stage: stage})
		if err != nil {
			t.Fatal(err)
		}
		ids, looked := map[string]bool{}, map[string]bool{}
		for _, s := range steps {
			if ids[s.ID] {
				t.Errorf("%s: %s twice", stage, s.ID)
			}
			ids[s.ID] = true
			for _, on := range s.On {
				want := 12.0
				if on == "lamps" {
					want = lamps
				}
				if s.Volts != want || hazardsOf(s) != "" {
					t.Errorf("%s: %s is powered with %g V in %s, want %g; hazards %q", stage, on, s.Volts, s.ID, want,
						hazardsOf(s))
				}
				looked[on] = looked[on] || s.Kind == capture.Look
			}
		}
		if !looked["lamps"] || !looked["cabin"] {
			t.Errorf("%s: looked at %v", stage, looked)
		}
	}
}

// The plans that the program itself hands out burn nothing at any stage.
func TestNoHazardsInOurOwnPlans(t *testing.T) {
	files, err := filepath.Glob("../testdata/*/plan.toml")
	if err != nil || len(files) == 0 {
		t.Fatal(files, err)
	}
	for _, f := range files {
		src, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		p, problems := plan.Parse(f, src)
		if len(problems) > 0 {
			t.Fatal(problems[0])
		}
		for _, stage := range []string{Loose, Fitted, Closed} {
			b, err := NewExpected(p).At(scene.Scene{Loose: stage == Loose})
			if err != nil {
				t.Fatal(err)
			}
			for _, c := range b.Binding("", nil) {
				t.Errorf("%s: %s: %s", f, c.Name, c.Text)
			}
			steps, err := Steps(p, b, StepOptions{Stage: stage, Sweep: true})
			if err != nil {
				t.Fatal(err)
			}
			whole, err := WholeSteps(p, b, WholeOptions{Stage: stage, AllPaces: true})
			if err != nil {
				t.Fatal(err)
			}
			for _, s := range append(steps, whole...) {
				for _, h := range s.Hazards {
					t.Errorf("%s, %s, %s: %s", f, stage, s.ID, h.Text)
				}
			}
		}
	}
}
