package belief

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
)

// Each kind that a group can have by its row is weighed for some group of the lightship: one
// that nothing lists would be no cause, however often its row says it comes.
func TestEveryKindOfAGroupIsWeighed(t *testing.T) {
	file := filepath.Join("..", "..", "testdata", "brackwater", "plan.toml")
	src, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	p, problems := plan.Parse(file, src)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	weighed := map[fault.Kind]bool{}
	for _, g := range p.Groups {
		if g.AsFound {
			continue
		}
		pr := fault.DefaultPriors()
		e, err := New(p, []string{g.Name}, []float64{12}, scene.Scene{},
			Options{Suspects: fault.Suspects(p, src, g.Name, plan.Options{}, pr.Plan)})
		if err != nil {
			t.Fatal(err)
		}
		for _, h := range e.Hypotheses {
			if h.Suspect != nil {
				weighed[h.Suspect.Kind] = true
			}
			for _, f := range h.Faults {
				weighed[f.Kind] = true
			}
		}
	}
	inGroup := []fault.Where{fault.InGroup, fault.InBranch, fault.InLED, fault.AtOutput, fault.InPlan}
	for _, k := range fault.AllKinds() {
		a := fault.AboutKind(k)
		if a.Prior == nil || a.Effect == fault.ByReadings || !slices.Contains(inGroup, a.At) {
			continue
		}
		if !weighed[k] {
			t.Errorf("%s has a weight in its row, and is weighed for no group", k)
		}
	}
}

// Each kind that several groups have in common is weighed for the lightship's groups together.
func TestEveryCommonKindIsWeighed(t *testing.T) {
	p := ship(t)
	b := newBuild(t, p, rand.New(rand.NewPCG(5, 5)))
	weighed := map[fault.Kind]bool{}
	for _, loose := range []bool{false, true} {
		x, err := newTogether(p, b.measure(t, loose))
		if err != nil {
			t.Fatal(err)
		}
		fs, err := x.families(fault.DefaultPriors().Common)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range fs {
			for _, c := range f.sizes {
				weighed[c.Kind] = true
				for _, s := range c.Spots { // those that the same groups feel are one cause
					if s.Kind != fault.SpotJoint && s.Kind != fault.SpotReturn {
						continue
					}
					k, open := fault.UpstreamJoint, fault.OpenJoint
					if s.Kind == fault.SpotReturn {
						k, open = fault.BadReturn, fault.OpenReturn
					}
					weighed[k], weighed[open] = true, weighed[open] || c.Open
				}
			}
		}
	}
	above := []fault.Where{fault.AtJoint, fault.AtReturn, fault.AtJack, fault.OnBench}
	for _, k := range fault.AllKinds() {
		a := fault.AboutKind(k)
		if a.Prior != nil && (slices.Contains(above, a.At) || k == fault.PartFigures) && !weighed[k] {
			t.Errorf("%s has a weight in its row, and is weighed for no groups", k)
		}
	}
}
