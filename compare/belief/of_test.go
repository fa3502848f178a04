package belief

import (
	"fmt"
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
)

// Several groups that are read as one draw: each is asked about by itself, as if it had been
// read alone beside others that may have something of their own. One that lacks a branch
// passes none of them, and what one sees of a group says nothing of another's lights.
func TestOneOfSeveralThatAreReadAsOne(t *testing.T) {
	p := &plan.Plan{Jacks: []plan.Jack{{Name: "main", Volts: 12}}}
	for i := range 8 {
		x := onJack(light("white", 1, 2, 1000, 0.5)).Groups[0]
		x.Name = fmt.Sprintf("group %d", i+1)
		for l := range x.Lights {
			x.Lights[l].Reel = x.Name
		}
		p.Groups = append(p.Groups, x)
	}
	e := ensemble(t, p, []float64{12}, scene.Scene{}, Options{})
	healthy := []Reading{{Volts: 12, Amps: e.HealthyA[0], U: 2e-5}}
	all, err := e.Decide(healthy, look.Look{}, rule.Default())
	if err != nil {
		t.Fatal(err)
	}
	if all.Healthy >= SurePass {
		t.Fatalf("all are healthy with %.3f: nothing is tested", all.Healthy)
	}
	missed := 1.0
	for _, g := range p.Groups {
		d, err := e.Of(g.Name).Decide(healthy, look.Look{}, rule.Default())
		if err != nil {
			t.Fatal(err)
		}
		if d.Verdict != rule.Pass || d.Healthy < SurePass {
			t.Errorf("%s: %s, healthy %.3f", g.Name, d.Verdict, d.Healthy)
		}
		missed *= d.Healthy
	}
	if missed > all.Healthy+0.02 || missed < all.Healthy-0.02 {
		t.Errorf("all are healthy with %.3f, by each of them with %.3f", all.Healthy, missed)
	}
	var dark float64
	for i, h := range e.Hypotheses {
		if h.Kinds[0] == fault.OpenBranch {
			dark = e.Hypotheses[i].MeanA[0]
		}
	}
	lacking := []Reading{{Volts: 12, Amps: dark, U: 2e-5}}
	for _, g := range p.Groups {
		for _, l := range []look.Look{{}, {Saw: look.AllLit}} {
			d, err := e.Of(g.Name).Decide(lacking, l, rule.Default())
			if err != nil || d.Verdict == rule.Pass {
				t.Errorf("%s, one branch lacking somewhere, look %v: %s (%v)", g.Name, l.Saw, d.Verdict, err)
			}
		}
	}
	// What was seen to be lit isn't it; the others still may be.
	r, err := e.Of("group 1").Posterior(lacking, look.Look{Saw: look.AllLit})
	if err != nil {
		t.Fatal(err)
	}
	by := map[string]float64{}
	for i, q := range r.Weighed {
		by[e.Hypotheses[i].Group] += q
	}
	if by["group 1"] > by["group 2"]/5 || by["group 2"] < 0.1 {
		t.Errorf("group 1 is seen lit, yet it's %.3f to be that, group 2 %.3f", by["group 1"], by["group 2"])
	}
}
