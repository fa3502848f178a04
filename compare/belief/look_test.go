package belief

import (
	"math"
	"slices"
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
)

// tight is six windows of parts that hardly differ: a tenth of a branch is seen.
func tight() *plan.Plan {
	l := light("white", 1, 6, 1000, 0)
	l.Ohms.HalfWidth = 5
	l.Series[0].Volts.HalfWidth = 0.01
	return onJack(l)
}

func at(e *Ensemble, amps ...float64) []Reading {
	var rs []Reading
	for i, a := range amps {
		rs = append(rs, Reading{Volts: e.Volts[i], Amps: a, U: 2e-5, GainU: 0.001})
	}
	return rs
}

func posterior(t *testing.T, e *Ensemble, rs []Reading, l look.Look) Result {
	t.Helper()
	r, err := e.Posterior(rs, l)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func decision(t *testing.T, e *Ensemble, rs []Reading, l look.Look) Decision {
	t.Helper()
	d, err := e.Decide(rs, l, rule.Rule{K: k, Guard: guard})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestALookPassesWhatCurrentAloneCant(t *testing.T) {
	e := ensemble(t, onJack(light("white", 3, 20, 330, 0.5)), []float64{12}, scene.Scene{}, Options{})
	rs := at(e, e.HealthyA[0])
	if d := decision(t, e, rs, look.Look{}); d.Verdict != rule.Undecided || d.CanPass {
		t.Fatalf("without a look: %+v", d)
	}
	d := decision(t, e, rs, look.Look{Saw: look.AllLit})
	if d.Verdict != rule.Pass || !d.ByLook {
		t.Errorf("all lit: %+v", d)
	}
	before, after := posterior(t, e, rs, look.Look{}), posterior(t, e, rs, look.Look{Saw: look.AllLit})
	if !(after.None > before.None) {
		t.Errorf("nothing wrong: %.3f with the look, %.3f without", after.None, before.None)
	}
	if d := decision(t, e, rs, look.Look{Saw: look.SomeDark, Dark: 3, Of: 60}); d.Verdict == rule.Pass {
		t.Errorf("three dark: %+v", d)
	}
}

// What the current says can't be argued away by "all right".
func TestALookCantOverrideTheCurrent(t *testing.T) {
	e := ensemble(t, tight(), []float64{12}, scene.Scene{SetVolts: scene.Is(0.001)}, Options{})
	branch := e.HealthyA[0] / 6
	for _, x := range []struct {
		name string
		amps float64
	}{
		{"a short", 2.9}, {"far too much", 4 * e.HealthyA[0]}, {"nothing flows", 0},
		{"half a branch less", e.HealthyA[0] - branch/2}, {"a branch and a half less", e.HealthyA[0] - 1.5*branch},
		{"half a branch more", e.HealthyA[0] + branch/2}, {"one branch less", e.HealthyA[0] - branch},
	} {
		t.Run(x.name, func(t *testing.T) {
			rs := at(e, x.amps)
			l := look.Look{Saw: look.AllLit}
			if r := posterior(t, e, rs, l); r.None > 0.01 {
				t.Errorf("nothing wrong: %.3g", r.None)
			}
			if d := decision(t, e, rs, l); d.Verdict != rule.FailLow && d.Verdict != rule.FailHigh {
				t.Errorf("%+v", d)
			}
		})
	}
}

func TestAnOverloadedOutputIsntArguedAway(t *testing.T) {
	p := blinker()
	e, err := New(p, []string{"beacon"}, []float64{12}, scene.Scene{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	r := posterior(t, e, at(e, 3*e.HealthyA[0]), look.Look{Saw: look.AllLit})
	if r.None > 1e-6 || !slices.ContainsFunc(r.Classes, func(c Class) bool {
		return c.P > 0.05 &&
			slices.Contains(c.Kinds, fault.Overloaded)
	}) {
		t.Errorf("none %.2g, %+v", r.None, r.Classes)
	}
}

// blinker is an invented board whose output drives two red LEDs.
func blinker() *plan.Plan {
	led := device(1.8, 0.1, 0.5)
	led.Part, led.TempcoVPerK = "red", -0.0018
	return &plan.Plan{
		Jacks: []plan.Jack{{Name: "main", Volts: 12}},
		Boards: []plan.Board{{Name: "flasher", Joint: "main", Standing: plan.Value{Nominal: 0.004, HalfWidth: 0.002},
			LowVolts: 6,
			Outputs: []plan.Output{{Number: 1, FollowsSupply: true, Ohms: plan.Value{Nominal: 30, HalfWidth: 10},
				MaxAmps: 0.05},
				{Number: 2, FollowsSupply: true, Ohms: plan.Value{Nominal: 30, HalfWidth: 10}, MaxAmps: 0.05}},
			Paces: []plan.Pace{{Name: "slow", PeriodS: 1, Duty: 0.5}}}},
		Groups: []plan.Group{
			{Name: "beacon", Board: "flasher", Output: 1,
				Lights: []plan.Light{{Part: "red", Kind: plan.LEDs, Count: 2, Reel: "red",
					Ohms: plan.Value{Nominal: 1000, HalfWidth: 50, Share: .5}, BranchSpread: exactly(1),
					Series: []plan.LED{led}}}},
			{Name: "other", Board: "flasher", Output: 2,
				Lights: []plan.Light{{Part: "red", Kind: plan.LEDs, Count: 1, Reel: "red",
					Ohms: plan.Value{Nominal: 470, HalfWidth: 23, Share: .5}, BranchSpread: exactly(1),
					Series: []plan.LED{led}}}},
		},
	}
}

func TestDarkLightsFavourTheFaultsThatDarkenThem(t *testing.T) {
	e := ensemble(t, mixed(0.5), []float64{12}, scene.Scene{}, Options{})
	// A deficit of one branch: one white has one light, three white have three.
	rs := at(e, e.HealthyA[0]-0.0093)
	for _, x := range []struct {
		dark, light int
	}{{1, 0}, {3, 1}} {
		r := posterior(t, e, rs, look.Look{Saw: look.SomeDark, Dark: x.dark, Of: 18})
		best := slices.Index(r.Weighed, slices.Max(r.Weighed))
		h := e.Hypotheses[best]
		if !slices.Contains(h.Kinds, fault.OpenBranch) || h.Lights[0] != x.light || r.Weighed[best] < 0.5 {
			t.Errorf("%d dark: %v of light %v at %.2f", x.dark, h.Kinds, h.Lights, r.Weighed[best])
		}
	}
}

func TestSeveralDarkLightsAreSeveralFaults(t *testing.T) {
	e := ensemble(t, tight(), []float64{12}, scene.Scene{SetVolts: scene.Is(0.001)}, Options{})
	branch := e.HealthyA[0] / 6
	for n := 2; n <= 4; n++ {
		r := posterior(t, e, at(e, e.HealthyA[0]-float64(n)*branch), look.Look{Saw: look.SomeDark, Dark: n, Of: 6})
		if len(r.Classes) == 0 || r.Classes[0].Count != n || !slices.Contains(r.Classes[0].Kinds, fault.OpenBranch) ||
			r.Classes[0].P < 0.5 {
			t.Errorf("%d dark: %+v", n, r.Classes[0])
		}
	}
}

// However many lights a fault darkens, a look that says all lit weighs no more
// against it than the floor: six standard deviations of current stand.
func TestALookHasAFloor(t *testing.T) {
	pr := fault.DefaultPriors()
	for dark := range 40 {
		for _, l := range []look.Look{{Saw: look.AllLit}, {Saw: look.SomeDark, Dark: 7}, {Saw: look.SomeDark}} {
			if x := math.Exp(pr.Eye.LogOf(l, dark, 0, 40)); x < pr.Eye.Floor*(1-1e-12) || x > 1+1e-12 {
				t.Errorf("%d dark, %+v: %g", dark, l, x)
			}
		}
	}
	l := light("chain", 6, 4, 330, 0)
	for i := range l.Series {
		l.Series[i].Volts.HalfWidth = 0.01
		for j := range l.Series[i].Points {
			l.Series[i].Points[j].Volts -= 1.2 // six fit into 12 V
		}
	}
	e := ensemble(t, onJack(l), []float64{12}, scene.Scene{SetVolts: scene.Is(0.001)}, Options{})
	branch := e.HealthyA[0] / 4
	rs := []Reading{{Volts: 12, Amps: e.HealthyA[0] - branch, U: branch / 6}}
	r := posterior(t, e, rs, look.Look{Saw: look.AllLit})
	if r.None > 0.1 || len(r.Classes) == 0 || !slices.Contains(r.Classes[0].Kinds, fault.OpenBranch) {
		t.Errorf("a chain of six missing, all lit said: none %.3g, %+v", r.None, r.Classes[0])
	}
}

// Where more lights than planned explain the draw as well, "all lit" settles nothing.
func TestALookPassesOnlyWhatIsProbablyHealthy(t *testing.T) {
	e := ensemble(t, mixed(0.5), []float64{12}, scene.Scene{}, Options{})
	undecided, passed := 0, 0
	for d := 0.0; d < 0.009; d += 0.0002 {
		rs := at(e, e.HealthyA[0]+d)
		l := look.Look{Saw: look.AllLit}
		r, v := posterior(t, e, rs, l), decision(t, e, rs, l)
		plain := decision(t, e, rs, look.Look{})
		switch {
		case plain.Verdict != rule.Undecided:
			if v.Verdict != plain.Verdict {
				t.Errorf("%.1f mA more: %s with the look, %s without", 1e3*d, v.Verdict, plain.Verdict)
			}
		case r.None < SurePass:
			undecided++
			if v.Verdict != rule.Undecided {
				t.Errorf("%.1f mA more, none %.2f: %s", 1e3*d, r.None, v.Verdict)
			}
		default:
			passed++
			if v.Verdict != rule.Pass || !v.ByLook {
				t.Errorf("%.1f mA more, none %.2f: %+v", 1e3*d, r.None, v)
			}
		}
	}
	if undecided == 0 || passed == 0 {
		t.Errorf("%d undecided and %d passed by the look: both were meant to be seen", undecided, passed)
	}
}
