package belief

import (
	"slices"
	"sync"
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
)

// Behind a converter the jack gives less current than the lights take, and below
// its least input all of it changes: it must be computed at any voltage.
func TestBehindAConverter(t *testing.T) {
	p := onJack(light("white", 1, 6, 220, 0.5))
	p.Joints = []plan.Joint{{Name: "step-down", From: "main", Wire: wireOhms(0.2),
		Holds: []plan.Hold{{Kind: plan.HoldConverter,
			OutVolts:   plan.Value{Nominal: 5, HalfWidth: 0.1},
			Efficiency: plan.Value{Nominal: 0.85, HalfWidth: 0.05},
			IdleAmps:   plan.Value{Nominal: 0.005, HalfWidth: 0.002}, MinInVolts: 7}}}}
	p.Groups[0].Joint, p.Groups[0].Wire = "step-down", wireOhms(0.2)
	e := ensemble(t, p, []float64{12, 7.01, 7, 5}, scene.Scene{BurdenOhm: 0.5, SetVolts: scene.Is(0.05)}, Options{})
	for k := range e.Volts {
		if !(e.HealthyA[k] > 0 && e.HealthyU[k] > 0) {
			t.Errorf("%g V: %g ±%g A", e.Volts[k], e.HealthyA[k], e.HealthyU[k])
		}
	}
	h := slices.IndexFunc(e.Hypotheses, func(h Hypothesis) bool { return slices.Contains(h.Kinds, fault.OpenBranch) })
	// One of six takes a sixth of what the converter passes on, less than its own current.
	lost := e.HealthyA[0] - e.Hypotheses[h].MeanA[0]
	if share := (e.HealthyA[0] - 0.005) / 6; lost < 0.8*share || lost > 1.2*share {
		t.Errorf("an open branch takes %.2f mA, a sixth is %.2f", 1e3*lost, 1e3*share)
	}
	if r := posterior(t, e, at(e, e.Hypotheses[h].MeanA[0]), look.Look{}); !slices.Contains(r.Classes[0].Kinds,
		fault.OpenBranch) {
		t.Errorf("%+v", r.Classes[0])
	}
}

// A load that flickers can't show the loss of one light: it never passes by current.
func TestAnEnvelopeNeverPasses(t *testing.T) {
	p := onJack(plan.Light{Part: "fire", Kind: plan.Envelope, Count: 1, RatedVolts: 12,
		Envelope:     &plan.Draw{Behaves: "flicker", State: "burning", LowAmps: 0.01, MeanAmps: 0.03, HighAmps: 0.05},
		BranchSpread: exactly(1)})
	e := ensemble(t, p, []float64{12}, scene.Scene{}, Options{})
	if d := decision(t, e, at(e, e.HealthyA[0]), look.Look{}); d.Verdict != rule.Undecided || d.CanPass ||
		d.Hardest != -1 {
		t.Errorf("%+v", d)
	}
}

func TestAnEnsembleMayBeAskedByMany(t *testing.T) {
	e := ensemble(t, mixed(0.5), []float64{12, 6}, scene.Scene{}, Options{})
	want := posterior(t, e, at(e, e.HealthyA[0]-0.009), look.Look{})
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			for range 20 {
				rs := at(e, e.HealthyA[0]-0.009)
				r, err := e.Posterior(rs, look.Look{})
				if err != nil || r.None != want.None {
					t.Errorf("none %g, want %g (%v)", r.None, want.None, err)
				}
				if _, err := e.Information(rs, look.Look{}, []Reading{{Volts: 6}}); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
}
