package belief

import (
	"fmt"
	"testing"

	"sealworthy/compare/circuit"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
	"sealworthy/compare/wiring"
)

// behindAConverter is a plan of three groups of tight parts that hang on one converter, of
// which nobody knows well what it loses.
func behindAConverter() *plan.Plan {
	p := &plan.Plan{Jacks: []plan.Jack{{Name: "main", Volts: 12}}, Joints: []plan.Joint{{Name: "bulkhead", From: "main",
		Holds: []plan.Hold{{Kind: plan.HoldConverter, Text: "step-down", OutVolts: exactly(5),
			Efficiency: plan.Value{Nominal: 0.85, HalfWidth: 0.08}, IdleAmps: exactly(0.004)}}}}}
	for i, count := range []int{8, 10, 12} {
		l := light("one white", 1, count, 330, 0.25)
		l.Reel = fmt.Sprint("reel ", i)
		l.Ohms.HalfWidth = 0.01 * l.Ohms.Nominal
		for k := range l.Series {
			l.Series[k].Volts.HalfWidth = 0.02
		}
		p.Groups = append(p.Groups, plan.Group{Name: fmt.Sprint("group ", i), Joint: "bulkhead",
			Lights: []plan.Light{l}})
	}
	return p
}

// TestWhatAConverterLosesIsTheSameForAllBehindIt: groups that hang on one piece say of it what
// it is off by. By itself none of them can be told, and one branch dark is no converter.
func TestWhatAConverterLosesIsTheSameForAllBehindIt(t *testing.T) {
	p := behindAConverter()
	for _, dark := range []int{-1, 1} { // in no group, in that one
		w, err := wiring.Build(p, "main", wiring.Options{})
		if err != nil {
			t.Fatal(err)
		}
		for i, q := range w.Params {
			if q.Kind == wiring.ConverterEff {
				w.Apply(i, -0.04)
			}
		}
		var ms []Measured
		for gi, g := range p.Groups {
			if gi == dark {
				if err := fault.Apply(w, fault.Fault{Kind: fault.OpenBranch, Group: g.Name}); err != nil {
					t.Fatal(err)
				}
			}
			w.Alone(gi)
			amps, err := w.AddsAmps(gi, circuit.Source{EmfV: 12})
			if err != nil {
				t.Fatal(err)
			}
			e, err := New(p, []string{g.Name}, []float64{12}, scene.Scene{}, Options{})
			if err != nil {
				t.Fatal(err)
			}
			ms = append(ms, Measured{Ensemble: e, Readings: []Reading{{Volts: 12, Amps: amps, U: 2e-5, GainU: 5e-4}}})
		}
		all, err := Together(p, ms, fault.DefaultPriors().Common)
		if err != nil {
			t.Fatal(err)
		}
		for i, m := range ms {
			alone, err := m.Ensemble.Decide(m.Readings, m.Look, rule.Default())
			if err != nil {
				t.Fatal(err)
			}
			d, err := m.Ensemble.Given(all.Others[i]).Decide(m.Readings, m.Look, rule.Default())
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("dark in %d, group %d: alone %s, d' %.2f, healthy %.3f; with the others %s, %.2f, %.3f", dark, i,
				alone.Verdict, alone.DPrime, alone.Healthy, d.Verdict, d.DPrime, d.Healthy)
			if dark < 0 && d.Verdict != rule.Pass {
				t.Errorf("group %d is healthy: %s, d' %.2f, healthy %.3f", i, d.Verdict, d.DPrime, d.Healthy)
			}
			if i == dark && (d.Verdict == rule.Pass || d.Healthy > 0.5) {
				t.Errorf("a branch of group %d is dark: %s, healthy %.3f", i, d.Verdict, d.Healthy)
			}
		}
	}
}
