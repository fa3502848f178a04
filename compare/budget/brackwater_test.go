package budget

import (
	"os"
	"path/filepath"
	"testing"

	"sealworthy/compare/plan"
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
	b := of(t, p, At{BurdenOhm: 1.7, LeadsOhm: 0.2, LeadsHalfOhm: 0.1, Trials: 300, Meter: &Accuracy{OfReading: 0.005, FloorA: 3e-5, ResolutionA: 1e-5}})
	for _, c := range b.Checks {
		if c.Severity == Wrong || c.Severity == Risky {
			t.Errorf("%s: %s", c.Severity, c.Text)
		}
	}
	if len(b.Groups) != len(p.Groups) || len(b.Bands()) != len(p.Groups) {
		t.Errorf("%d groups of %d", len(b.Groups), len(p.Groups))
	}
	for _, g := range b.Groups {
		d := g.Lit
		if !(d.LowA < d.NominalA && d.NominalA < d.HighA && d.UA > 0 && g.SmallestA > 0 && g.Visible.Known) || d.Differ {
			t.Errorf("%s: %+v", g.Group, g)
		}
		if !(g.FarVolts > g.FarVoltsLow && g.FarVoltsLow > 8 && g.FarVolts < 12) {
			t.Errorf("%s: far end at %g V, %g V at the lowest", g.Group, g.FarVolts, g.FarVoltsLow)
		}
	}
	// What flows into a joint flows out of it; no way gains voltage.
	in := map[string]float64{}
	for _, j := range b.Tree() {
		if j.Kind != "return" {
			in[j.From] += j.Amps
		}
		if j.Drop < -1e-9 {
			t.Errorf("%s gains %g V", j.Name, -j.Drop)
		}
	}
	for _, j := range b.Tree() {
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
	a, b := of(t, p, At{Volts: 6, Trials: 50}), of(t, p, At{Volts: 6, Trials: 50, FeedsOnly: true})
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

// The plan's wires are copper by the same tables; stranded and enamelled ones
// may differ by their lay and by what drawing takes off.
func TestPlanWiresAreCopper(t *testing.T) {
	p := brackwater(t)
	n := 0
	see := func(name string, w plan.Wire) {
		if w.Assumed || w.LengthM == 0 {
			return
		}
		n++
		want := CopperOhms(w.LengthM, w.AreaM2, 20)
		if d := w.Ohms.Nominal/want - 1; d < -0.01 || d > 0.06 {
			t.Errorf("%s, %s: %g ohm, copper has %g ohm", name, w.Text, w.Ohms.Nominal, want)
		}
	}
	for _, j := range p.Joints {
		see(j.Name, j.Wire)
	}
	for _, g := range p.Groups {
		see(g.Name, g.Wire)
	}
	if n < 10 {
		t.Errorf("only %d wires were compared", n)
	}
	keel := p.Joints[1]
	if d := keel.Wire.AreaM2/RoundAreaM2(AWGDiameterM(26)) - 1; keel.Wire.Text != "26 AWG, 350 mm" || d < -1e-3 || d > 1e-3 {
		t.Errorf("the keel's wire: %+v", keel.Wire)
	}
}
