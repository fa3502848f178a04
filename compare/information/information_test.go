package information

import (
	"math"
	"testing"
)

// The nodes have the moments of a standard normal law up to the eighth.
func TestTheNodesHaveTheMomentsOfTheNormalLaw(t *testing.T) {
	for power, want := range map[int]float64{0: 1, 1: 0, 2: 1, 3: 0, 4: 3, 6: 15, 8: 105} {
		sum := 0.0
		for _, n := range Nodes {
			sum += n[1] * math.Pow(n[0], float64(power))
		}
		if math.Abs(sum-want) > 1e-9*math.Max(1, want) {
			t.Errorf("moment %d is %g, want %g", power, sum, want)
		}
	}
}

// Two even chances: far apart a reading tells them for certain, one bit; the same
// law for both tells nothing; and one answer of both asks nothing.
func TestWhatAReadingTells(t *testing.T) {
	at := func(d float64) (mean, sd func(int) float64) {
		return func(k int) float64 { return d * float64(k) }, func(int) float64 { return 1 }
	}
	tells := func(answer []int, d float64) float64 {
		q := NewQuestion(answer, []float64{.5, .5})
		return q.Now() - q.After(at(d))
	}
	if got := tells([]int{0, 1}, 30); math.Abs(got-1) > 1e-9 {
		t.Errorf("far apart: %g bits", got)
	}
	if got := tells([]int{0, 1}, 0); math.Abs(got) > 1e-9 {
		t.Errorf("the same law: %g bits", got)
	}
	if got := tells([]int{0, 0}, 30); got != 0 {
		t.Errorf("one answer: %g bits", got)
	}
	// Two standard deviations apart, by the trapezoidal rule.
	left, h := 0.0, 1e-3
	for x := -9.0; x < 11; x += h {
		a, b := math.Exp(-x*x/2), math.Exp(-(x-2)*(x-2)/2)
		left += h * (a + b) / 2 / math.Sqrt(2*math.Pi) * Entropy([]float64{a, b})
	}
	if got := tells([]int{0, 1}, 2); math.Abs(got-(1-left)) > 2e-3 {
		t.Errorf("two apart: %g bits, want %g", got, 1-left)
	}
}
