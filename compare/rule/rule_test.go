package rule

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestNewRuleRefusesMissingGuards(t *testing.T) {
	for _, c := range [][2]float64{{0, 1.64}, {3.29, 0}, {-1, 1}, {math.NaN(), 1}, {math.Inf(1), 1}} {
		if _, err := New(c[0], c[1]); err == nil {
			t.Errorf("k=%g guard=%g was taken", c[0], c[1])
		}
	}
}

func TestDecideAtItsBorders(t *testing.T) {
	r := Default()
	for _, c := range []struct {
		name                  string
		measured, u, smallest float64
		want                  Outcome
	}{
		{"healthy", 10, 1, 10, Pass},
		{"just below the alarm, small fault", 10 - 3.28, 1, 4, Undecided},
		{"at the alarm", 10 - 3.29, 1, 10, FailLow},
		{"above", 10 + 3.30, 1, 10, FailHigh},
		{"guard not kept", 10 - 2.5, 1, 4, Undecided},
		{"guard just kept", 10 - 2.36, 1, 4, Pass},
		{"fault too small to see", 10, 1, 1.6, Undecided},
		{"no fault known", 10, 1, 0, Undecided},
		{"no uncertainty known", 10, 0, 10, Undecided},
		{"not a number", math.NaN(), 1, 10, Undecided},
		{"unknown doubt", 10, math.Inf(1), 10, Undecided},
	} {
		if got := r.Decide(c.measured, 10, c.u, c.smallest); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
	if got := (Rule{}).Decide(10, 10, 1, 10); got != Undecided {
		t.Errorf("a rule without guards says %s", got)
	}
}

// The rates follow from the normal distribution (JCGM 106:2012, 9.3): a false
// alarm beyond 3.29 u in 0.1 % of healthy groups, one of twenty faults of the
// smallest size passed where the guard decides, and none worth counting where
// it is large.
func TestDecideRates(t *testing.T) {
	const n = 400_000
	r := Default()
	rng := rand.New(rand.NewPCG(7, 8))
	for _, ratio := range []float64{2, 3, 3.29, 4, 5, 6} {
		limit := min(r.K, ratio-r.Guard) // of the difference, in u
		healthyPass := phi(limit) - phi(-limit)
		faultPass := phi(ratio+limit) - phi(ratio-limit)
		detect := phi(ratio - r.K)
		var alarm, pass, missed, found float64
		for range n {
			z := rng.NormFloat64()
			switch r.Decide(z, 0, 1, ratio) {
			case Pass:
				pass++
			case FailLow, FailHigh:
				alarm++
			}
			switch r.Decide(z-ratio, 0, 1, ratio) {
			case Pass:
				missed++
			case FailLow:
				found++
			}
		}
		for _, x := range []struct {
			what      string
			got, want float64
		}{
			{"false alarm", alarm / n, 2 * phi(-3.29)}, {"healthy passed", pass / n, healthyPass},
			{"fault passed", missed / n, faultPass}, {"fault detected", found / n, detect},
		} {
			if s := 5 * math.Sqrt(x.want*(1-x.want)/n); math.Abs(x.got-x.want) > s+1e-4 {
				t.Errorf("smallest fault %.2f u, %s: %.4f, the normal law says %.4f", ratio, x.what, x.got, x.want)
			}
		}
	}
}

func phi(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }
