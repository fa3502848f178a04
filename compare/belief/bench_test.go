package belief

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"sealworthy/compare/circuit"
	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
	"sealworthy/compare/wiring"
)

// large is an invented group of 120 branches, of 50 unlike lights, so that it has
// some 300 faults that all do something else.
func large() *plan.Plan {
	var ls []plan.Light
	left := 120
	for i := range 50 {
		n := left / (50 - i)
		left -= n
		series := 1 + i%3
		ohms := []float64{1000, 680, 330}[i%3] * (1 + 0.01*float64(i))
		ls = append(ls, light(fmt.Sprint("part ", i), series, n, ohms, 0.5))
	}
	p := onJack(ls...)
	p.Joints = []plan.Joint{{Name: "keel", From: "main", Wire: wireOhms(0.1)}}
	p.Groups[0].Joint, p.Groups[0].Wire = "keel", wireOhms(0.1)
	return p
}

func wireOhms(ohms float64) plan.Wire {
	return plan.Wire{Ohms: plan.Value{Nominal: ohms, HalfWidth: 0.1 * ohms, Share: 0.5}, AreaM2: 1e-7}
}

// nodes counts the variants that are a branch with another law.
func (e *Ensemble) nodes() (altered int) {
	for _, v := range e.variants {
		if v.how == 0 {
			altered++
		}
	}
	return altered
}

func BenchmarkRanking(b *testing.B) {
	p := large()
	for _, x := range []struct {
		name  string
		volts []float64
		o     Options
	}{
		{"one voltage", []float64{12}, Options{}},
		{"two voltages", []float64{12, 6}, Options{}},
	} {
		b.Run(x.name, func(b *testing.B) {
			var e *Ensemble
			var rs []Reading
			begin := cpu()
			for b.Loop() {
				e = ensemble(b, p, x.volts, scene.Scene{}, x.o)
				rs = rs[:0]
				for k, v := range x.volts {
					rs = append(rs, Reading{Volts: v, Amps: 0.99 * e.HealthyA[k], U: 1e-4, GainU: 0.003})
				}
				if _, err := e.Posterior(rs, look.Look{}); err != nil {
					b.Fatal(err)
				}
			}
			each := float64(cpu()-begin) / float64(b.N)
			b.ReportMetric(each/1e6, "cpu-ms")
			b.ReportMetric(float64(len(e.Hypotheses)), "hypotheses")
			b.ReportMetric(float64(e.nodes()), "altered-branches")
			if len(x.volts) > 1 {
				return
			}
			naive := float64(naively(b, p, e, 20) * 50)
			b.ReportMetric(naive/1e6, "naive-ms")
			b.ReportMetric(naive/each, "times-less")
		})
	}
}

// naively is the time of trials in which every branch is solved for each
// hypothesis.
func naively(b *testing.B, p *plan.Plan, e *Ensemble, trials int) time.Duration {
	b.Helper()
	w, err := wiring.Build(p, "main", wiring.Options{})
	if err != nil {
		b.Fatal(err)
	}
	w.SetAll(true)
	r := rand.New(rand.NewPCG(1, 2))
	begin := cpu()
	c := make([]float64, w.Commons)
	for range trials {
		for i := range c {
			c[i] = 2*r.Float64() - 1
		}
		for i, q := range w.Params {
			w.Apply(i, q.Value.HalfWidth*(0.7*c[q.Common]+0.7*(2*r.Float64()-1)))
		}
		last := -1
		for _, v := range e.variants {
			if v.how != altered || v.hyp == last {
				continue
			}
			last = v.hyp
			gi := 0
			b := w.Groups[gi].Branches
			id := b[min(v.branch, len(b)-1)].ID
			ohms := w.Net.BranchOhms(id)
			w.Net.SetBranchOhms(id, 2*ohms)
			if w.Solve(circuit.Source{EmfV: 12}) != nil {
				continue
			}
			w.Net.SetBranchOhms(id, ohms)
		}
	}
	return cpu() - begin
}

// BenchmarkSensitivities is the linear propagation alone, without listing the
// hypotheses and solving their nominal circuits.
func BenchmarkSensitivities(b *testing.B) {
	s, err := newSide(large(), []string{"windows"}, []float64{12}, scene.Scene{})
	if err != nil {
		b.Fatal(err)
	}
	l, _, err := s.hypotheses(fault.DefaultPriors(), nil)
	if err != nil {
		b.Fatal(err)
	}
	pr := fault.DefaultPriors()
	d := newUncertain(s, &pr)
	for b.Loop() {
		if _, err := s.linear(l.variants, d); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(l.variants)), "variants")
}

// BenchmarkPosterior is what readings and a look cost once the Ensemble is there.
func BenchmarkPosterior(b *testing.B) {
	e := ensemble(b, large(), []float64{12, 6}, scene.Scene{}, Options{})
	rs := at(e, 0.99*e.HealthyA[0], e.HealthyA[1])
	for b.Loop() {
		if _, err := e.Posterior(rs, look.Look{Saw: look.AllLit}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(e.variants)), "variants")
}

// BenchmarkInformation ranks a dozen further readings.
func BenchmarkInformation(b *testing.B) {
	volts := []float64{12, 11, 10, 9.5, 9, 8.5, 8, 7, 6, 5, 4, 3.5}
	e := ensemble(b, mixed(0.5), volts, scene.Scene{}, Options{})
	var next []Reading
	for _, v := range volts {
		next = append(next, Reading{Volts: v, U: 2e-5, GainU: 0.001})
	}
	rs := at(e, e.HealthyA[0]-0.0093)
	for b.Loop() {
		if _, err := e.Information(rs, look.Look{}, next); err != nil {
			b.Fatal(err)
		}
	}
}
