package reel

import (
	"fmt"
	"math"
	"os"
	"slices"
	"testing"

	"sealworthy/compare/plan"
)

// The parts and plans of the tests are invented.

// long asks for the full size of the statistical tests.
var long = os.Getenv("SEALWORTHY_LONG") == "1"

// skipStatistics leaves a test of many trials out under the race detector: it
// races nothing and would take minutes.
func skipStatistics(t *testing.T) {
	t.Helper()
	if raceOn {
		t.Skip("statistics run without the race detector")
	}
}

// white is an LED whose forward voltage is v at 5 mA, ideality 2, 8 ohm.
func white(v, half, share float64) plan.LED {
	d := plan.LED{Part: "white 1.8 mm", Colour: "white", TempcoVPerK: -3e-3, MaxAmps: 0.030}
	for _, a := range []float64{0.001, 0.005, 0.020} {
		d.Points = append(d.Points, plan.VoltsAtAmps{Volts: v + 0.052*math.Log(a/0.005) + 8*(a-0.005), Amps: a})
	}
	d.Volts = plan.Value{Nominal: d.Points[2].Volts, HalfWidth: half, Share: share}
	return d
}

// smd is count pre-resistored pieces of n LEDs of one reel.
func smd(count, n int, v, ohms, spread, share float64) plan.Light {
	l := plan.Light{Part: "SMD warm", Kind: plan.SMD, Count: count, Ohms: plan.Value{Nominal: ohms}, RatedVolts: 12, Reel: "reel of May",
		BranchSpread: plan.Value{Nominal: 1, HalfWidth: spread, Share: share}}
	for range n {
		l.Series = append(l.Series, white(v, 0, share))
	}
	return l
}

// chain is count branches of n LEDs with the maker's own resistor.
func chain(count, n int, ohms, tol, half, share float64) plan.Light {
	l := plan.Light{Part: "white 1.8 mm", Kind: plan.LEDs, Count: count, Ohms: plan.Value{Nominal: ohms, HalfWidth: tol * ohms, Share: share},
		BranchSpread: plan.Value{Nominal: 1}, Reel: "white 1.8 mm"}
	for range n {
		l.Series = append(l.Series, white(2.9, half, share))
	}
	return l
}

// build is a plan of one jack of 12 V and one group for each set of lights, wires
// without resistance.
func build(groups ...plan.Light) *plan.Plan {
	p := &plan.Plan{Build: "Brackwater", Revision: "0123456789ab",
		Jacks:    []plan.Jack{{Name: "main", Volts: 12, LowVolts: 11.4, HighVolts: 12.6, Source: "adapter"}},
		Closures: []plan.Closure{{Name: "hull"}}}
	for i, l := range groups {
		p.Groups = append(p.Groups, plan.Group{Name: fmt.Sprintf("windows %d", i+1), Closure: "hull", Joint: "main", Lights: []plan.Light{l}})
	}
	return p
}

// alike is n groups of one light.
func groupsOf(n int, l plan.Light) *plan.Plan {
	all := make([]plan.Light, n)
	for i := range all {
		all[i] = l
	}
	return build(all...)
}

// nominal is what a group draws with every part nominal.
func nominal(t testing.TB, p *plan.Plan, group string) *sense {
	t.Helper()
	s, err := newSenses(p).of(Observation{Group: group, Volts: 12}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// seenAs is a healthy reading of a group that draws rel times what is expected.
func seenAs(t testing.TB, p *plan.Plan, group string, rel float64) Observation {
	a := nominal(t, p, group).amps
	return Observation{Group: group, Volts: 12, AmpsA: a * rel, ExpectedA: a, PHealthy: 1, SetHalfV: 1e-9, AmbientHalfC: 1e-9}
}

func learn(t testing.TB, p *plan.Plan, obs []Observation, leaveOut string, o Options) *Learned {
	t.Helper()
	l, err := Prepare(p, obs, o)
	if err != nil {
		t.Fatal(err)
	}
	return l.Without(leaveOut)
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %g, want %g ± %g", what, got, want, tol)
	}
}

// Believing is the same learner with other probabilities of health, by group:
// what judging has found by what others told. Groups that it doesn't name keep
// theirs. It costs nothing, so that judging and learning can take turns.
func (l *Learner) Believing(pHealthy map[string]float64) *Learner {
	x := *l
	x.obs = slices.Clone(l.obs)
	for i := range x.obs {
		if p, ok := pHealthy[x.obs[i].Group]; ok {
			x.obs[i].PHealthy = math.Min(1, math.Max(0, p)) // NaN stays, and counts for nothing
		}
	}
	return &x
}
