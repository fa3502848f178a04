package stages

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"sealworthy/compare/blink"
	"sealworthy/compare/rule"
)

func TestTheRuleDecides(t *testing.T) {
	r := rule.Rule{K: 3.29, Guard: 1.64}
	nan := math.NaN()
	for _, x := range []struct {
		name               string
		delta, u, smallest float64
		want               Verdict
	}{
		{"nothing moved", 0, 1, 6, Unchanged},
		{"well below a branch", 4.3, 1, 6, Changed}, // past 3.29 u all the same
		{"within both", 3.2, 1, 6, Unchanged},
		{"above the guard", 3.2, 1, 4.8, CantTell},
		{"the branch could hide", -0.5, 1, 2, CantTell},
		{"just within the guard", -4.35, 2, 7.64, Unchanged},
		{"less than a branch can pass", 0, 1, 1.6, CantTell},
		{"gone", -6, 1, 6, Changed},
		{"at k", 3.29, 1, 100, Changed},
		{"just below k", 3.2899, 1, 100, Unchanged},
		{"no branch known", 3, 1, 0, Unchanged},
		{"no doubt stated", 0, 0, 6, CantTell},
		{"no number", nan, 1, 6, CantTell},
		{"endless doubt", 0, math.Inf(1), 6, CantTell},
	} {
		j := judged{Part: Part{DeltaA: x.delta, U: x.u, SmallestA: x.smallest}}
		if j.decide(r); j.Verdict != x.want {
			t.Errorf("%s: %s, want %s", x.name, j.Verdict, x.want)
		}
	}
}

// A window sees an output lit for its duty in the mean over a period, and for
// all or nothing of it where it lies within.
func TestTheShareOfAWindow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		start, duty := rapid.Float64Range(-2, 2).Draw(t, "start"), rapid.Float64Range(0.05, 0.95).Draw(t, "duty")
		w := rapid.Float64Range(0.001, 0.04).Draw(t, "window")
		spans := [][2]float64{{start, start + duty}}
		const n = 2000
		sum := 0.0
		for i := range n {
			s := blink.LitOf(spans, float64(i)/n, w)
			if s < -1e-9 || s > 1+1e-9 {
				t.Fatalf("a share of %g", s)
			}
			sum += s / n
		}
		if math.Abs(sum-duty) > 2e-3 {
			t.Fatalf("lit for %g of a period in the mean, want %g", sum, duty)
		}
		if mid := blink.LitOf(spans, start+duty/2+w/2, w); mid < 1-1e-9 && w < duty/2 {
			t.Fatalf("in the middle of its span: %g", mid)
		}
		if dark := blink.LitOf(spans, start+duty+(1-duty)/2+w/2, w); dark > 1e-9 && w < (1-duty)/2 {
			t.Fatalf("in the middle of its pause: %g", dark)
		}
	})
}

func TestWarmingIsNothingAtTheSameTime(t *testing.T) {
	for _, x := range []struct{ a, b, least, most float64 }{{600, 600, 0, 0}, {600, 630, 0, 0.03}, {5, 600, 0.6, 1},
		{0, 1e5, 0.99, 1}} {
		if w := warming(x.a, x.b); w < x.least || w > x.most || w != warming(x.b, x.a) {
			t.Errorf("%g s against %g s: %g", x.a, x.b, w)
		}
	}
}
