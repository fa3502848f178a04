package blink

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestAfter: of the next stretch of a trace it says what Joint says, where the clocks run
// on; where one begins anew meanwhile its fit is a bad one, so that it's looked for anew.
// Invented traces.
func TestAfter(t *testing.T) {
	k := Known{WindowS: 0.1}
	clocks := []Clock{
		{Name: "beacon", PeriodS: 1.6, PeriodRel: 0.05, Outputs: []Blinker{
			{Name: "port", Spans: [][2]float64{{0, 0.4}}, Amps: 0.02},
			{Name: "starboard", Spans: [][2]float64{{0.5, 0.9}}, Amps: 0.02}}},
		{Name: "lantern", PeriodS: 2.4, PeriodRel: 0.05, Outputs: []Blinker{
			{Name: "lantern", Spans: [][2]float64{{0, 0.5}}, Amps: 0.05}}},
	}
	r := rand.New(rand.NewPCG(7, 8))
	jumps := 0
	for range 20 {
		real := []float64{1.6 * (1 + 0.04*(2*r.Float64()-1)), 2.4 * (1 + 0.04*(2*r.Float64()-1))}
		phase := []float64{r.Float64(), r.Float64()}
		stretch := func(fromS float64) (out []Sample) {
			for x := 0.0; x < 120; x += 0.49 + 0.02*r.Float64() {
				a := 0.3 + 2e-5*r.NormFloat64()
				for i, c := range clocks {
					for _, o := range c.Outputs {
						a += o.Amps * LitOf(o.Spans, (fromS+x)/real[i]+phase[i], k.WindowS/real[i])
					}
				}
				out = append(out, Sample{AtS: x, Amps: a})
			}
			return out
		}
		before := Joint(stretch(0), k, clocks)
		if before.Poor {
			t.Fatalf("the first stretch isn't taken apart: %s", before.Why)
		}
		next := stretch(120)
		got, want := before.After(120, next, k, clocks), Joint(next, k, clocks)
		if !got.Usable || got.Poor ||
			math.Abs(got.BaseA-want.BaseA) > 1e-5 ||
			math.Abs(got.ScatterA/want.ScatterA-1) > 0.05 {
			t.Errorf("base %g and scatter %g, Joint has %g and %g: %s",
				got.BaseA, got.ScatterA, want.BaseA, want.ScatterA, got.Why)
		}
		for i := range want.Beats {
			a, b := got.Beats[i], want.Beats[i]
			if math.Abs(a.PeriodS/b.PeriodS-1) > 1e-4 {
				t.Errorf("%s: period %g, Joint has %g", a.Name, a.PeriodS, b.PeriodS)
			}
			for j := range b.Outputs {
				if a.Outputs[j].State != b.Outputs[j].State || math.Abs(a.Outputs[j].StepA-b.Outputs[j].StepA) > 1e-4 {
					t.Errorf("%s: %+v, Joint has %+v", a.Outputs[j].Name, a.Outputs[j], b.Outputs[j])
				}
			}
		}
		phase[1] += 0.5 // its contact opened, and it began anew
		if f := before.After(120, stretch(120), k, clocks); f.Poor || f.ScatterA > 1.2*before.ScatterA {
			jumps++
		} else if j := Joint(stretch(120), k, clocks); 1e-3 < math.Abs(
			f.Beats[1].Outputs[0].StepA-j.Beats[1].Outputs[0].StepA) {
			t.Errorf("a wrong fit of a clock that began anew passes for a good one: %+v", f.Beats[1])
		}
	}
	t.Logf("%d of 20 clocks that began anew are looked for anew", jumps)
}
