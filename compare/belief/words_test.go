package belief

import (
	"strings"
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
)

func TestClassesInWords(t *testing.T) {
	p := mixed(0.5)
	open := fault.Fault{Kind: fault.OpenBranch, Group: "windows", Light: 1}
	suspect := fault.Suspects(p, nil, "windows", plan.Options{}, fault.DefaultPriors().Plan)[0]
	for _, x := range []struct {
		name string
		c    Class
		want []string
	}{
		{"look-alikes", Class{Fault: open, Count: 1, Kinds: []fault.Kind{fault.OpenBranch, fault.ReversedLED}, Groups: []string{"windows"}}, []string{"three white with 330 ohm", "dark", "turned round"}},
		{"several", Class{Fault: open, Count: 3, Kinds: []fault.Kind{fault.OpenBranch}, Groups: []string{"windows"}}, []string{"3 times at once", "dark"}},
		{"a pair", Class{Fault: open, Count: 2, Second: &fault.Fault{Kind: fault.ExtraBranch, Group: "windows"}, Kinds: []fault.Kind{fault.OpenBranch}, Groups: []string{"windows"}}, []string{"two at once", "dark", "and more lights than planned"}},
		{"a joint in a branch", Class{Fault: fault.Fault{Kind: fault.BranchJoint, Group: "windows", Ohms: 437}, Count: 1, Kinds: []fault.Kind{fault.BranchJoint}}, []string{"a bad joint in one branch of one white with 1000 ohm, some 400 ohm"}},
		{"a wire off", Class{Fault: fault.Fault{Kind: fault.BadJoint, Group: "windows", Ohms: wireOffOhms}, Count: 1, Kinds: []fault.Kind{fault.BadJoint}}, []string{`nothing reaches "windows"`}},
		{"a suspect", Class{Fault: suspect.Fault(), Suspect: &suspect, Count: 1, Kinds: []fault.Kind{fault.CountOff, fault.ExtraBranch}}, []string{"count first", "If the plan is right", "more lights than planned"}},
		{"a suspect alone", Class{Fault: suspect.Fault(), Suspect: &suspect, Count: 1, Kinds: []fault.Kind{fault.CountOff}}, []string{"the plan says"}},
		{"no such group", Class{Fault: fault.Fault{Kind: fault.Short, Group: "fish"}, Count: 1, Kinds: []fault.Kind{fault.Short}}, []string{"short"}},
	} {
		t.Run(x.name, func(t *testing.T) {
			got := x.c.Text(p)
			for _, w := range x.want {
				if !strings.Contains(got, w) {
					t.Errorf("%q, want %q in it", got, w)
				}
			}
		})
	}
}

func TestRankedIsTheSameClass(t *testing.T) {
	e := ensemble(t, mixed(0.5), []float64{12, 6}, Bench{}, Options{})
	r := posterior(t, e, at(e, e.HealthyA[0]-0.0093, e.HealthyA[1]), look.Look{})
	x := e.Ranked(r.Classes[0], 0)
	if x.Fault != r.Classes[0].Fault || x.P != r.Classes[0].P || x.DeltaA > -0.008 || x.DeltaA < -0.0105 {
		t.Errorf("%+v of %+v", x, r.Classes[0])
	}
	for in, want := range map[float64]string{437: "400", 30.4: "30", 0.05: "0.05", 9.6: "10", 1234: "1000"} {
		if got := about(in); got != want {
			t.Errorf("%g ohm: %q, want %q", in, got, want)
		}
	}
}
