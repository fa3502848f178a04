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
	}{{"healthy", [3]float64{.017, .014, .044}}, {"port dark", [3]float64{0, .014, .044}},
		{"lantern stuck", [3]float64{.017, .014, 0}}} {
		for _, spanS := range []float64{30, 4.8} {
			truth := clocksOf(p, groups, "", 12)
			truth[0].PeriodS, truth[1].PeriodS = 1.6*1.013, 2.4*0.988
			phases := []float64{r.Float64(), r.Float64()}
			const base, w = 0.4, 0.1
			var s []blink.Sample
			for at := 0.2; at < spanS; at += 0.16 + 0.06*r.Float64() {
				a := base * (1 + 0.0003*r.NormFloat64())
				k := 0
				for i, b := range truth {
					for _, o := range b.Outputs {
						a += c.want[k] * blink.LitOf(o.Spans, (at+0.003*r.NormFloat64())/b.PeriodS-phases[i],
							w/b.PeriodS)
						k++
					}
				}
				s = append(s, blink.Sample{AtS: at, Amps: a})
			}
			start := clocksOf(p, groups, "", 12)
			if spanS < 10 { // a point of a sweep: the periods are known from the trace
				for i := range start {
					start[i].PeriodS, start[i].PeriodRel = truth[i].PeriodS, sweepTol
				}
			}
			f := parted(s, w, start)
			if !f.Usable || math.Abs(f.BaseA-base) > 0.0012 {
				t.Errorf("%s, %.1f s: base %.2f mA (%.2f), want %.0f: %s", c.name, spanS, f.BaseA*1e3, f.BaseU*1e3,
					base*1e3, f.Why)
				continue
			}
			k := 0
			for _, b := range f.Beats {
				for _, o := range b.Outputs {
					if math.Abs(o.StepA-c.want[k]) > 0.002 {
						t.Errorf("%s, %.1f s: step %d is %.2f mA, want %.2f", c.name, spanS, k, o.StepA*1e3,
							c.want[k]*1e3)
					}
					k++
				}
			}
		}
	}
}
