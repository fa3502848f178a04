package budget

import (
	"encoding/json"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
)

// lamp is a resistor of r ohm, which makes every figure a line of arithmetic.
func lamp(r, half, share float64) plan.Light {
	return plan.Light{Part: "lamp", Kind: plan.LEDs, Count: 1, Ohms: plan.Value{Nominal: r, HalfWidth: half,
		Share: share},
		BranchSpread: plan.Value{Nominal: 1}, Reel: "bag of lamps"}
}

// Ohm's law and JCGM 100:2008, 5.1.2: I = V/R, u = V/R^2 a/sqrt(3), split by the share.
func TestOneResistor(t *testing.T) {
	skipStatistics(t)
	at := still
	at.Trials = 20000
	g := of(t, lone(12, lamp(1200, 60, 0.25)), at).Groups[0]
	u := 12.0 / (1200 * 1200) * 60 / math.Sqrt(3)
	near(t, "draw", g.Lit.NominalA, 0.010, 1e-9)
	near(t, "linear u", g.Lit.LinearUA, u, 0.002*u)
	near(t, "u by trials", g.Lit.UA, u, 0.02*u)
	near(t, "reel part", g.Lit.UReelA, u*math.Sqrt(0.25), 0.02*u)
	near(t, "own part", g.Lit.UOwnA, u*math.Sqrt(0.75), 0.02*u)
	near(t, "bench part", g.Lit.UBenchA, 0, 0.001*u)
	if g.Lit.WorstLowA > g.Lit.LowA || g.Lit.WorstHighA < g.Lit.HighA {
		t.Errorf("the worst case lies within the band: %+v", g.Lit)
	}
	alone := of(t, lone(12, lamp(1200, 60, 0)), still).Groups[0].Lit
	near(t, "worst case, low", alone.WorstLowA, 12.0/1260, 1e-8)
	near(t, "worst case, high", alone.WorstHighA, 12.0/1140, 1e-8)
	near(t, "dead light", g.SmallestA, 0.010, 1e-9)
	if g.Lit.Differ {
		t.Error("a resistor of ±5 % is no case for a warning")
	}
	if len(g.Reels) != 1 || g.Reels[0].Reel != "bag of lamps" {
		t.Errorf("reels: %+v", g.Reels)
	}
}

// Burden and leads lower the draw at the meter and not the one in service; what
// is not known of voltage and leads is the bench's part.
func TestMeterAndService(t *testing.T) {
	skipStatistics(t)
	p := lone(12, lamp(100, 0, 0))
	at := At{Scene: scene.Scene{BurdenOhm: 4, LeadsOhm: 1, LeadsHalfOhm: 0.5, SetVolts: scene.Is(0.12),
		Room: &scene.Room{C: 25}}, Trials: 20000}
	g := of(t, p, at).Groups[0]
	near(t, "at the meter", g.Lit.NominalA, 12.0/105, 1e-9)
	near(t, "in service", g.Service.NominalA, 12.0/100, 1e-9)
	u := math.Hypot(0.12/105, 12.0/105/105*0.5) / math.Sqrt(3)
	near(t, "u", g.Lit.UA, u, 0.02*u)
	near(t, "bench part", g.Lit.UBenchA, u, 0.02*u)
}

// Two equal lamps of one reel, wholly common, against independent ones.
func TestReelIsShared(t *testing.T) {
	skipStatistics(t)
	for _, c := range []struct{ share, want float64 }{{1, 2}, {0, math.Sqrt2}} {
		l := lamp(1200, 60, c.share)
		l.Count = 2
		at := still
		at.Trials = 20000
		g := of(t, lone(12, l), at).Groups[0]
		u := 12.0 / (1200 * 1200) * 60 / math.Sqrt(3)
		near(t, "u of two lamps", g.Lit.UA, c.want*u, 0.02*u)
	}
}

// A board that alternates: dark, one, the other; never both. Its mean is its
// standing draw and each output for its duty.
func TestBoardLevels(t *testing.T) {
	b := of(t, beacon(bench(), plan.Alternate), At{})
	f, ok := b.FeedNamed("beacon 2") // by one of its groups
	if !ok || f.Feed != "beacon" || len(f.Levels) != 4 {
		t.Fatalf("feed of the group: %+v", f)
	}
	near(t, "dark", f.Levels[0].Draw.NominalA, 0.004, 1e-6)
	if both := f.Levels[3]; both.Usual || len(both.Groups) != 2 {
		t.Errorf("both at once: %+v", both)
	}
	one := f.Levels[1]
	if !one.Usual || !reflect.DeepEqual(one.Outputs, []int{1}) ||
		!reflect.DeepEqual(one.Groups, []string{"beacon 1"}) {
		t.Errorf("output 1 alone: %+v", one)
	}
	g, _ := b.GroupNamed("beacon 1")
	near(t, "the group's step", g.Lit.NominalA, one.Draw.NominalA-f.Levels[0].Draw.NominalA, 2e-6)
	near(t, "mean at slow", f.Paces[0].Mean.NominalA, f.Levels[0].Draw.NominalA+2*0.3*g.Lit.NominalA, 5e-6)
	near(t, "the group's mean", g.Paces[0].Mean.NominalA, 0.3*g.Lit.NominalA, 1e-9)
	// Duty 0.30 ±0.03 alone gives this much.
	if u := 0.03 / math.Sqrt(3) * g.Lit.NominalA; g.Paces[0].Mean.UA < u {
		t.Errorf("mean ± %g A, the duty alone gives %g A", g.Paces[0].Mean.UA, u)
	}
	near(t, "whole model, mean", b.Jacks[0].MeanService.NominalA, f.Paces[0].Mean.NominalA, 5e-5)
	if len(b.Jacks[0].ByPace) != 2 {
		t.Errorf("by pace: %+v", b.Jacks[0].ByPace)
	}
	together := of(t, beacon(bench(), plan.Together), At{})
	if l := together.Levels("beacon"); l[1].Usual || !l[3].Usual {
		t.Errorf("outputs together: %+v", l)
	}
}

// The same plan, conditions and seed give the same budget; another seed doesn't.
func TestReproducible(t *testing.T) {
	var got [3]string
	for i, seed := range []uint64{1, 1, 2} {
		b, err := Of(lightship(), At{Trials: 100}, seed)
		if err != nil {
			t.Fatal(err)
		}
		src, err := json.Marshal(b) // NaN and Inf would fail here
		if err != nil {
			t.Fatal(err)
		}
		got[i] = string(src)
	}
	if got[0] != got[1] {
		t.Error("two budgets of one seed differ")
	}
	if got[0] == strings.Replace(got[2], `"seed":2`, `"seed":1`, 1) {
		t.Error("another seed gave the same trials")
	}
}

func TestTerminals(t *testing.T) {
	b := of(t, lightship(), At{Scene: scene.Scene{On: []string{"cabin", "beacon 1"}, LeadsOhm: 0.1}})
	var names []string
	for _, f := range b.Feeds {
		names = append(names, f.Feed)
	}
	if !slices.Equal(names, []string{"cabin", "beacon"}) || len(b.Groups) != 3 {
		t.Errorf("feeds %v, %d groups", names, len(b.Groups))
	}
	sum := b.Groups[0].Lit.NominalA + 2*b.Groups[1].Lit.NominalA + 0.004
	near(t, "both together at the meter", b.Jacks[0].AllLitMeter.NominalA, sum, 0.01*sum)
	_, err := Of(lightship(), At{Scene: scene.Scene{On: []string{"galley"}}}, 1)
	if err == nil || !strings.Contains(err.Error(), `"galley"`) || !strings.Contains(err.Error(), "cabin") {
		t.Errorf("an unknown name must be named, with the known ones: %v", err)
	}
}

// Loose parts are clipped at their own wires: what lies in the joints doesn't
// count, and a part behind a converter gets the converter's voltage.
func TestLoose(t *testing.T) {
	p := hang(bench(), "windows", lamp(100, 1, 0))
	p.Joints[0].Wire.Ohms = plan.Value{Nominal: 5, HalfWidth: 0.5}
	p.Joints = append(p.Joints,
		plan.Joint{Name: "low", From: "keel", Wire: wireOf(0.05), Holds: []plan.Hold{{Kind: plan.HoldConverter,
			OutVolts: plan.Value{Nominal: 5, HalfWidth: 0.1}, Efficiency: plan.Value{Nominal: 0.85}, MinInVolts: 7,
			MaxOutAmps: 0.5}}})
	hang(p, "galley", lamp(100, 1, 0))
	p.Groups[1].Joint = "low"
	b := of(t, p, At{Scene: scene.Scene{Loose: true}})
	near(t, "windows, loose", b.Groups[0].Lit.NominalA, 12/100.2, 1e-5)
	near(t, "galley, loose", b.Groups[1].Lit.NominalA, 5/100.2, 1e-5)
	near(t, "galley's voltage", b.Feeds[1].Volts, 5, 0)
	fitted := of(t, p, At{})
	if x := fitted.Groups[0].Lit.NominalA; x >= 12/109.0 {
		t.Errorf("fitted, the joint's 10 ohm must show: %g A", x)
	}
	near(t, "galley in service", fitted.Groups[1].Service.NominalA, 5/100.2, 1e-5)
	near(t, "galley at the jack", fitted.Groups[1].Lit.NominalA, 5*5/100.2/0.85/11.7, 0.002)
}

func TestAsFound(t *testing.T) {
	p := hang(bench(), "windows", lamp(100, 1, 0))
	p.Groups = append(p.Groups, plan.Group{Name: "old hold", Closure: "hull", Joint: "keel", AsFound: true,
		Wire: wireOf(0.1)})
	b := of(t, p, At{Scene: scene.Scene{Accuracy: &scene.Accuracy{OfReading: 0.005}}})
	g, _ := b.GroupNamed("old hold")
	if !g.AsFound || g.Visible.Known || g.SmallestA != 0 || !b.Feeds[1].AsFound {
		t.Errorf("as found: %+v", g)
	}
	if len(b.Warnings) == 0 || b.Warnings[0].Group != "old hold" {
		t.Errorf("the sums lack it, and nothing says so: %v", b.Warnings)
	}
}

// An envelope load has no branch to lose: its band is its envelope.
func TestEnvelope(t *testing.T) {
	l := plan.Light{Part: "galley fire", Kind: plan.Envelope, Count: 1,
		Envelope: &plan.Draw{State: "flickers", LowAmps: 0.004, MeanAmps: 0.010, HighAmps: 0.020}}
	g := of(t, lone(12, l), At{Scene: scene.Scene{Accuracy: &scene.Accuracy{OfReading: 0.005}}}).Groups[0]
	near(t, "mean", g.Lit.NominalA, 0.010, 1e-6)
	if g.SmallestA != 0 || g.Visible.Known || g.Lit.HighA > 0.0201 || g.Lit.WorstHighA > 0.0201 ||
		g.Lit.LowA < 0.0039 {
		t.Errorf("envelope: %+v", g.Lit)
	}
}

// A branch near its knee bends: the linear figures must be marked.
func TestDifferIsSaid(t *testing.T) {
	b := of(t, lone(8.4, own(1, 3, led("white", 2.9, 0.3, 1), 100, 0.05, 0)), still)
	if !b.Groups[0].Lit.Differ || len(b.Warnings) != 2 || b.Warnings[1].Group != "windows" {
		t.Errorf("0.3 V per LED at 8.4 V: %+v", b.Groups[0].Lit)
	}
}

func TestBadConditions(t *testing.T) {
	bad := []At{{Trials: -1}}
	for _, s := range []scene.Scene{{Volts: scene.Is(-1)}, {BurdenOhm: math.NaN()}, {Room: &scene.Room{C: 300}},
		{Accuracy: &scene.Accuracy{OfReading: math.NaN()}}, {LeadsOhm: math.Inf(1)}} {
		bad = append(bad, At{Scene: s})
	}
	for _, at := range bad {
		if b, err := Of(lightship(), at, 1); err == nil || b != nil {
			t.Errorf("%+v was taken", at)
		}
	}
	if _, err := Of(nil, At{}, 1); err == nil {
		t.Error("no plan was taken")
	}
	p := hang(bench(), "windows", lamp(0, 0, 0))
	if _, err := Of(p, At{}, 1); err == nil || !strings.Contains(err.Error(), "windows") ||
		!strings.Contains(err.Error(), "line 10") {
		t.Errorf("a lamp of 0 ohm must be an error by group and line: %v", err)
	}
}

// One trial of everything costs no memory.
func TestTrialDoesNotAllocate(t *testing.T) {
	m := &model{p: lightship(), at: At{}.filled(), seed: 1}
	if err := m.choose(); err != nil {
		t.Fatal(err)
	}
	for name, make := range map[string]func() (*side, error){
		"feeds": func() (*side, error) { a, err := m.alone(0); return a.side, err },
		"whole": func() (*side, error) { w, err := m.whole(0); return w.side, err },
	} {
		s, err := make()
		if err != nil {
			t.Fatal(err)
		}
		smp := newSampler(s.law, 1)
		dev, out := zeros(s.law.inputs), zeros(s.outs)
		k := 0
		if n := testing.AllocsPerRun(50, func() {
			k++
			smp.draw(k, dev)
			if err := s.eval(dev, out); err != nil {
				t.Fatal(err)
			}
		}); n != 0 {
			t.Errorf("%s: %g allocations per trial", name, n)
		}
	}
}

func zeros(n int) []float64 { return make([]float64, n) }
