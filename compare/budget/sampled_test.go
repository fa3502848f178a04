package budget

import (
	"math"
	"math/rand/v2"
	"testing"
)

// JCGM 100:2008, Table G.2.
func TestStudentFactors(t *testing.T) {
	for _, r := range rowsOf(t, "t95.csv") {
		if dof := number(t, r[0]); !math.IsInf(dof, 0) {
			near(t, "t95 for "+r[0], studentT(dof), number(t, r[1]), 0.00006)
		}
	}
}

// JCGM 100:2008, 4.4.3: twenty temperatures; the next one lies within t(19) s sqrt(1+1/20).
func TestSampledTemperatures(t *testing.T) {
	y := []float64{96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
		100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72}
	x, err := Sampled(y, 0, 0.3)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mean", x.Mean, 100.145, 0.0005)
	near(t, "s", x.S, 1.489, 0.0005)
	near(t, "degrees of freedom", x.Dof, 19, 1e-9)
	near(t, "half-width", x.HalfWidth, 2.093*1.489*math.Sqrt(1.05), 0.002)
}

// What is promised: the next piece lies within, 95 times in 100, whatever the
// size of the sample. Normal pieces, 5 % apart.
func TestSampledCovers(t *testing.T) {
	skipStatistics(t)
	rnd := rand.New(rand.NewPCG(5, 5))
	const runs = 20000
	for n := 2; n <= 5; n++ {
		within := 0
		y := make([]float64, n)
		for range runs {
			for i := range y {
				y[i] = 0.01 * (1 + 0.05*rnd.NormFloat64())
			}
			x, err := Sampled(y, 0, 0.3)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(0.01*(1+0.05*rnd.NormFloat64())-x.Mean) <= x.HalfWidth {
				within++
			}
		}
		near(t, "coverage", float64(within)/runs, 0.95, 0.006)
	}
}

func TestSampledOnePiece(t *testing.T) {
	x, err := Sampled([]float64{0.010}, 1e-5, 0.3)
	if err != nil || !x.Assumed || x.Mean != 0.010 {
		t.Fatalf("%+v, %v", x, err)
	}
	near(t, "half-width", x.HalfWidth, 0.003, 1e-6)
	same, err := Sampled([]float64{0.010, 0.010}, 1e-5, 0.3)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "two equal pieces: the meter is left", same.HalfWidth, 1.96e-5, 1e-9)
	for _, bad := range [][]float64{nil, {math.NaN()}, {math.Inf(1)}} {
		if _, err := Sampled(bad, 0, 0.3); err == nil {
			t.Errorf("%v was taken", bad)
		}
	}
	if _, err := Sampled([]float64{1}, -1, 0); err == nil {
		t.Error("a negative uncertainty was taken")
	}
}
