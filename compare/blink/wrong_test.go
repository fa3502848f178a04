package blink

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestWrongVerdicts reads what is no single pace.
func TestWrongVerdicts(t *testing.T) {
	n := few(4)
	if long() {
		n = 60
	}
	k := taking{10, .09, .1, 30, .005, .0002}
	candle := func(r *rand.Rand) func(t, w float64) float64 {
		// A random walk towards a mean, in steps of 10 ms, mean over the window.
		v, level := make([]float64, 5000), 0.0
		for i := range v {
			level += -level*0.01/0.15 + 0.25*math.Sqrt(2*0.01/0.15)*r.NormFloat64()
			v[i] = 0.010 * (1 + math.Max(math.Min(level, 0.9), -0.9))
		}
		return func(at, w float64) float64 {
			sum, n := 0.0, 0
			for x := at - w; x < at; x += 0.01 {
				sum += v[int(x*100)%len(v)]
				n++
			}
			return sum / float64(n)
		}
	}
	ramp := func(x float64) float64 { return math.Max(math.Min(x, 1), 0) }
	cases := []struct {
		name string
		read func(*rand.Rand, *taking) func(t, w float64) float64
		want map[Verdict]bool
		// How many of a hundred may be otherwise, and yet not periodic.
		other int
	}{
		{"steady", func(*rand.Rand, *taking) func(t, w float64) float64 {
			return func(float64, float64) float64 { return .020 }
		}, map[Verdict]bool{Steady: true}, 1},
		{"warm-up drift of 2 %", func(*rand.Rand, *taking) func(t, w float64) float64 {
			return func(at, w float64) float64 { return .020 * (1 - 0.02*(1-math.Exp(-at/20))) }
		}, map[Verdict]bool{Steady: true, NoFit: true}, 3},
		{"single step", func(r *rand.Rand, _ *taking) func(t, w float64) float64 {
			when := 5 + 20*r.Float64()
			return func(at, w float64) float64 { return .005 + .015*ramp((at-when)/w) }
		}, map[Verdict]bool{NoFit: true}, 2},
		{"candle flicker", func(r *rand.Rand, _ *taking) func(t, w float64) float64 { return candle(r) },
			map[Verdict]bool{NoFit: true}, 2},
		{"two blinkers", func(r *rand.Rand, _ *taking) func(t, w float64) float64 {
			a := newLight(0.7+0.5*r.Float64(), .001, .012, rectangle(.4))
			b := newLight(1.3+0.7*r.Float64(), 0, .009, rectangle(.3))
			return func(at, w float64) float64 { return a.mean(at, w) + b.mean(at, w) }
		}, map[Verdict]bool{NoFit: true}, 2},
		{"faster than the readings", func(r *rand.Rand, k *taking) func(t, w float64) float64 {
			*k = taking{2, .2, []float64{0, .1, .3}[r.IntN(3)], 30, .005, .0002}
			l := newLight(1/(1.8+1.6*r.Float64()), .001, .020, rectangle(.1+.5*r.Float64()))
			return l.mean
		}, map[Verdict]bool{NoFit: true, Ambiguous: true}, 2},
		{"two and a half periods", func(r *rand.Rand, k *taking) func(t, w float64) float64 {
			period := 0.8 + 2*r.Float64()
			k.span = 2.5 * period
			l := newLight(period, .001, .020, rectangle(.2+.4*r.Float64()))
			return l.mean
		}, map[Verdict]bool{TooShort: true, NoFit: true, Ambiguous: true}, 2},
	}
	for ci, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			got := map[Verdict]int{}
			other, sure := 0, 0
			for i := range n {
				r := seeded(uint64(ci), uint64(i))
				k := k
				mean := c.read(r, &k)
				f := Pace(k.read(r, mean), k.known())
				got[f.Verdict]++
				if f.Verdict == Periodic {
					sure++
					t.Logf("trial %d: %v x%d, %.3f s, chi %.2f, %.1f cycles", i, f.Shape, f.Count, f.PeriodS, f.Chi,
						f.Cycles)
				}
				if !c.want[f.Verdict] {
					other++
				}
			}
			t.Logf("%v", got)
			if sure*100 > 2*n || other*100 > (c.other+1)*n {
				t.Errorf("%v of %d", got, n)
			}
		})
	}
}
