package budget

import (
	"os"
	"path/filepath"
	"testing"

	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
)

// brackwater reads the demo build, an invented lightship.
func brackwater(t testing.TB) *plan.Plan {
	t.Helper()
	name := filepath.Join("..", "..", "testdata", "brackwater", "plan.toml")
	src, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	p, problems := plan.Parse(name, src)
	if p == nil {
		t.Fatal(problems)
	}
	return p
}

// The demo build works as planned, and every figure of it hangs together.
func TestBrackwater(t *testing.T) {
	p := brackwater(t)
	b := of(t, p, At{Scene: scene.Scene{BurdenOhm: 1.7, LeadsOhm: 0.2, LeadsHalfOhm: 0.1,
		Accuracy: &scene.Accuracy{OfReading: 0.005, FloorA: 3e-5, ResolutionA: 1e-5}}, Trials: 300})
	for _, c := range b.Checks {
		if c.Severity == Wrong || c.Severity == Risky {
			t.Errorf("%s: %s", c.Severity, c.Text)
		}
	}
	if len(b.Groups) != len(p.Groups) {
		t.Errorf("%d groups of %d", len(b.Groups), len(p.Groups))
	}
	for _, g := range b.Groups {
		d := g.Lit
		if !(d.LowA < d.NominalA && d.NominalA < d.HighA && d.UA > 0 && g.SmallestA > 0 && g.Visible.Known) ||
			d.Differ {
			t.Errorf("%s: %+v", g.Group, g)
		}
		if !(g.FarVolts > g.FarVoltsLow && g.FarVoltsLow > 8 && g.FarVolts < 12) {
			t.Errorf("%s: far end at %g V, %g V at the lowest", g.Group, g.FarVolts, g.FarVoltsLow)
		}
	}
	// What flows into a joint flows out of it; no way gains voltage.
	in := map[string]float64{}
	for _, j := range b.Joints {
		if j.Kind != "return" {
			in[j.From] += j.Amps
		}
		if j.Drop < -1e-9 {
			t.Errorf("%s gains %g V", j.Name, -j.Drop)
		}
	}
	for _, j := range b.Joints {
		if j.Kind == "joint" || j.Kind == "jack" {
			near(t, j.Name+": current in and out", j.Amps, in[j.Name], 1e-9)
		}
	}
	// Alone at the meter or with all others: the same but for what shared wires and the meter take: 0.9 V of 12 here.
	sum := 0.0
	for _, f := range b.Feeds {
		sum += f.Levels[len(f.Levels)-1].Draw.NominalA
	}
	all := b.Jacks[0].AllLitMeter.NominalA
	if all > sum || all < 0.75*sum {
		t.Errorf("all together %g A, one by one %g A", all, sum)
	}
}

// Feeds alone are the same with and without the whole model beside them.
func TestFeedsOnly(t *testing.T) {
	p := brackwater(t)
	a, b := of(t, p, At{Scene: scene.Scene{Volts: scene.Is(6)}, Trials: 50}), of(t, p,
		At{Scene: scene.Scene{Volts: scene.Is(6)}, Trials: 50, FeedsOnly: true})
	if len(b.Checks)+len(b.Jacks)+len(b.Joints) != 0 {
		t.Error("the whole model was not left out")
	}
	for i, f := range a.Feeds {
		for k, l := range f.Levels {
			if got := b.Feeds[i].Levels[k].Draw; got != l.Draw {
				t.Errorf("%s, level %d: %+v, then %+v", f.Feed, k, l.Draw, got)
			}
		}
	}
}
