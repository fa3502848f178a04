package returns

import (
	"math"
	"math/rand/v2"
	"testing"

	"sealworthy/compare/blink"
	"sealworthy/compare/plan"
)

// A board whose outputs take turns, and another of another period, over a base.
func TestBeatsTakeATraceApart(t *testing.T) {
	p := &plan.Plan{Boards: []plan.Board{
		{Name: "beacon", Run: plan.Alternate, Outputs: []plan.Output{{Number: 1}, {Number: 2}}},
		{Name: "driver", Outputs: []plan.Output{{Number: 1}}}}}
	groups := []GroupCurve{
		{Group: "port", Board: "beacon", Output: 1, Paces: []Level{{PeriodS: 1.6, Duty: .4, OnA: .017}}},
		{Group: "starboard", Board: "beacon", Output: 2, Paces: []Level{{PeriodS: 1.6, Duty: .4, OnA: .014}}},
		{Group: "lantern", Board: "driver", Output: 1, Paces: []Level{{PeriodS: 2.4, Duty: .5, OnA: .044}}}}
	r := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		name string
		want [3]float64 // steps as they are
	}{{"healthy", [3]float64{.017, .014, .044}}, {"port dark", [3]float64{0, .014, .044}}, {"lantern stuck", [3]float64{.017, .014, 0}}} {
		for _, spanS := range []float64{30, 4.8} {
			truth := beatsOf(p, groups, "", 12)
			truth[0].periodS, truth[0].phase = 1.6*1.013, r.Float64()
			truth[1].periodS, truth[1].phase = 2.4*0.988, r.Float64()
			const base, w = 0.4, 0.1
			var s []blink.Sample
			for at := 0.2; at < spanS; at += 0.16 + 0.06*r.Float64() {
				a := base * (1 + 0.0003*r.NormFloat64())
				k := 0
				for _, b := range truth {
					for _, o := range b.outputs {
						a += c.want[k] * o.lit(at+0.003*r.NormFloat64(), w, b.periodS, b.phase)
						k++
					}
				}
				s = append(s, blink.Sample{AtS: at, Amps: a})
			}
			start := beatsOf(p, groups, "", 12)
			narrow := spanS < 10
			if narrow { // a point of a sweep: the periods are known from the trace
				start[0].periodS, start[1].periodS = truth[0].periodS, truth[1].periodS
			}
			f := fitBeats(s, w, start, narrow)
			if !f.ok || math.Abs(f.baseA-base) > 0.0012 {
				t.Errorf("%s, %.1f s: base %.2f mA (%.2f), want %.0f", c.name, spanS, f.baseA*1e3, f.baseU*1e3, base*1e3)
				continue
			}
			for k, x := range f.stepA {
				if math.Abs(x-c.want[k]) > 0.002 {
					t.Errorf("%s, %.1f s: step %d is %.2f mA, want %.2f", c.name, spanS, k, x*1e3, c.want[k]*1e3)
				}
			}
		}
	}
}
