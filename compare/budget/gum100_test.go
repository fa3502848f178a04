package budget

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.6g, want %.6g within %.2g", what, got, want, tol)
	}
}

// lawOf makes a law of independent inputs with standard uncertainties u.
func lawOf(s shape, u ...float64) *law {
	l := newLaw(len(u))
	for i, ui := range u {
		l.add(i, l.factor(s), ui)
	}
	return l
}

// gradient by the same differences that a budget uses.
func gradient(t *testing.T, u []float64, outputs int, f function) [][]float64 {
	t.Helper()
	nominal := make([]float64, outputs)
	if err := f(zeros(len(u)), nominal); err != nil {
		t.Fatal(err)
	}
	c, err := sensitivities(u, nil, nominal, func(int) (function, []int) { return f, nil })
	if err != nil {
		t.Fatal(err)
	}
	return table(c)
}

// uOf is the standard uncertainty by the law of propagation, and what each factor brings
// to its square.
func uOf(l *law, c []float64) (u float64, by []float64) {
	var row []entry
	for i, x := range c {
		row = append(row, entry{i, x})
	}
	v, parts := l.linear(row)
	by = zeros(len(l.shapes))
	for _, x := range parts {
		by[x.at] = x.c
	}
	return math.Sqrt(v), by
}

func first(u float64, _ []float64) float64 { return u }

// table writes all rows out.
func table(c *sens) [][]float64 {
	var out [][]float64
	for k := range c.tried {
		row := zeros(len(c.step))
		for _, e := range c.of(k) {
			row[e.at] = e.c
		}
		out = append(out, row)
	}
	return out
}

// JCGM 100:2008, H.1, Table H.1: end-gauge calibration, lengths in nm.
func TestEndGaugeH1(t *testing.T) {
	skipStatistics(t)
	x := []float64{50000623, 215, 11.5e-6, -0.1, 0, 0}
	u := []float64{25, 9.7, 1.2e-6, 0.41, 0.58e-6, 0.029}
	f := func(dev, out []float64) error {
		var v [6]float64
		for i := range v {
			v[i] = x[i] + dev[i]
		}
		ls, d, as, th, da, dt := v[0], v[1], v[2], v[3], v[4], v[5]
		out[0] = ls + d - ls*(da*th+as*dt)
		return nil
	}
	l := lawOf(normal, u...)
	uc, by := uOf(l, gradient(t, u, 1, f)[0])
	near(t, "uc, nm", uc, 31.71, 0.005) // the printed 32, before rounding
	for i, want := range []float64{25, 9.7, 0, 0, 2.9, 16.6} {
		near(t, "contribution, nm", math.Sqrt(by[i]), want, 0.08) // 16.675 is printed as 16.6
	}
	parts := make([]float64, len(by))
	for i := range by {
		parts[i] = math.Sqrt(by[i])
	}
	inf := math.Inf(1)
	near(t, "degrees of freedom", welchSatterthwaite(parts, []float64{18, 25.6, inf, inf, 50, 2}), 16.7, 0.1)

	// The second-order terms that the document works out by hand, 34 nm, are in the trials.
	rows, err := monteCarlo(l, 1, 0, 100000, 1, f)
	if err != nil {
		t.Fatal(err)
	}
	s := summarise(rows[0], Coverage)
	near(t, "mean, nm", s.mean, 50000838, 0.5)
	near(t, "u with second order, nm", s.u, 34, 0.5)
}

// JCGM 100:2008, H.1.2 note and G.4.1.
func TestWelchSatterthwaite(t *testing.T) {
	near(t, "G.4.1", welchSatterthwaite([]float64{0.25, 0.57, 0.82}, []float64{9, 4, 14}), 19, 0.01)
	near(t, "H.1.2 unrounded", welchSatterthwaite([]float64{5.8, 3.9, 6.7}, []float64{24, 5, 8}), 25.45, 0.2)
	if v := welchSatterthwaite([]float64{1}, []float64{math.Inf(1)}); !math.IsInf(v, 1) {
		t.Errorf("no limit on the degrees of freedom: got %g", v)
	}
}

// JCGM 100:2008, 4.4.3, Table 1: twenty temperatures, degC.
func TestTypeA(t *testing.T) {
	y := []float64{96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
		100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72}
	s := summarise(y, Coverage)
	near(t, "mean", s.mean, 100.145, 0.0005)
	near(t, "s", s.u, 1.489, 0.0005)
	near(t, "s of the mean", s.u/math.Sqrt(20), 0.333, 0.0005)
}

// JCGM 100:2008, H.2, Tables H.2 to H.4: correlated inputs, R, X and Z in ohm.
// The correlation comes in through the factors, as a reel does.
func TestResistanceReactanceH2(t *testing.T) {
	skipStatistics(t)
	obs := [][]float64{{5.007, 4.994, 5.005, 4.990, 4.999},
		{19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3},
		{1.0456, 1.0438, 1.0468, 1.0428, 1.0433}}
	var x, u []float64
	cov := mat.NewSymDense(3, nil)
	for i := range obs {
		m, sd := stat.MeanStdDev(obs[i], nil)
		x, u = append(x, m), append(u, sd/math.Sqrt(5))
		for j := 0; j <= i; j++ {
			cov.SetSym(i, j, stat.Covariance(obs[i], obs[j], nil)/5)
		}
	}
	var ch mat.Cholesky
	if !ch.Factorize(cov) {
		t.Fatal("the covariance matrix is not positive")
	}
	var low mat.TriDense
	ch.LTo(&low)
	l := newLaw(3)
	for k := 0; k < 3; k++ {
		f := l.factor(normal)
		for i := k; i < 3; i++ {
			l.add(i, f, low.At(i, k))
		}
	}
	f := func(dev, out []float64) error {
		v, i, p := x[0]+dev[0], x[1]+dev[1], x[2]+dev[2]
		out[0], out[1], out[2] = v/i*math.Cos(p), v/i*math.Sin(p), v/i
		return nil
	}
	c := gradient(t, u, 3, f)
	want := [][3]float64{{127.732, 0.071, 0.0005}, {219.847, 0.295, 0.0007}, {254.260, 0.236, 0.0005}}
	out := make([]float64, 3)
	if err := f(make([]float64, 3), out); err != nil {
		t.Fatal(err)
	}
	rows, err := monteCarlo(l, 2, 0, 100000, 3, f)
	if err != nil {
		t.Fatal(err)
	}
	for k, w := range want {
		near(t, "value, ohm", out[k], w[0], 0.001)
		near(t, "linear u, ohm", first(uOf(l, c[k])), w[1], w[2])
		s := summarise(rows[k], Coverage)
		near(t, "u by trials, ohm", s.u, w[1], 0.01*w[1])
	}
}
