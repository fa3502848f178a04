package belief

import (
	"strings"
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
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
		{"look-alikes", Class{Fault: open, Count: 1, Kinds: []fault.Kind{fault.OpenBranch, fault.ReversedLED},
			Groups: []string{"windows"}}, []string{"three white with 330 ohm", "dark", "the wrong way round"}},
		{"several", Class{Fault: open, Count: 3, Kinds: []fault.Kind{fault.OpenBranch}, Groups: []string{"windows"}},
			[]string{"Three times at once", "dark"}},
		{"a pair", Class{Fault: open, Count: 2, Second: &fault.Fault{Kind: fault.ExtraBranch, Group: "windows"},
			Kinds: []fault.Kind{fault.OpenBranch}, Groups: []string{"windows"}},
			[]string{"Two at once", "dark", "And: there are more lights than planned"}},
		{"a joint in a branch", Class{Fault: fault.Fault{Kind: fault.BranchJoint, Group: "windows", Ohms: 437},
			Count: 1, Kinds: []fault.Kind{fault.BranchJoint}},
			[]string{"ne white with 1000 ohm is dim by a bad joint of its own, some 400 ohm"}},
		{"a wire off", Class{Fault: fault.Fault{Kind: fault.BadJoint, Group: "windows", Ohms: wireOffOhms}, Count: 1,
			Kinds: []fault.Kind{fault.BadJoint}}, []string{`Nothing reaches "windows"`}},
		{"a suspect", Class{Fault: suspect.Fault(), Suspect: &suspect, Count: 1,
			Kinds: []fault.Kind{fault.CountOff, fault.ExtraBranch}},
			[]string{"Count the ", "There are more than planned: correct the plan", "Then one of them draws too much"}},
		{"a suspect alone", Class{Fault: suspect.Fault(), Suspect: &suspect, Count: 1,
			Kinds: []fault.Kind{fault.CountOff}}, []string{"The plan says"}},
		{"no such group", Class{Fault: fault.Fault{Kind: fault.Short, Group: "fish"}, Count: 1,
			Kinds: []fault.Kind{fault.Short}}, []string{"Short"}},
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
	e := ensemble(t, mixed(0.5), []float64{12, 6}, scene.Scene{}, Options{})
	r := posterior(t, e, at(e, e.HealthyA[0]-0.0093, e.HealthyA[1]), look.Look{})
	x := e.Ranked(r.Classes[0], 0)
	if x.Fault != r.Classes[0].Fault || x.P != r.Classes[0].P || x.DeltaA > -0.008 || x.DeltaA < -0.0105 {
		t.Errorf("%+v of %+v", x, r.Classes[0])
	}
}
