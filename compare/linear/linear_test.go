package linear

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// spread is a random positive definite matrix, its diagonal over many decades.
func spread(r *rand.Rand, n int, decades float64) []float64 {
	b := make([]float64, n*n)
	for i := range b {
		b[i] = r.NormFloat64()
	}
	a := make([]float64, n*n)
	for i := range n {
		for j := range n {
			a[i*n+j] = Dot(b[i*n:(i+1)*n], b[j*n:(j+1)*n])
		}
		a[i*n+i] += 0.3
	}
	for i := range n {
		s := math.Pow(10, decades*(r.Float64()-0.5))
		for j := range n {
			a[i*n+j] *= s
			a[j*n+i] *= s
		}
	}
	return a
}

func symmetric(a []float64, n int) *mat.SymDense { return mat.NewSymDense(n, slices.Clone(a)) }

// All of it against gonum's factorisation.
func TestAgainstGonum(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	for n := 1; n <= 12; n++ {
		for range 40 {
			a := spread(r, n, 2)
			b := make([]float64, n)
			for i := range b {
				b[i] = r.NormFloat64()
			}
			var ch mat.Cholesky
			if !ch.Factorize(symmetric(a, n)) {
				t.Fatal("gonum finds it indefinite")
			}
			var want mat.VecDense
			if err := ch.SolveVecTo(&want, mat.NewVecDense(n, slices.Clone(b))); err != nil {
				t.Fatal(err)
			}
			l, x := slices.Clone(a), slices.Clone(b)
			if !Solve(l, x, n) {
				t.Fatal("not positive definite")
			}
			for i, v := range x {
				if w := want.AtVec(i); math.Abs(v-w) > 1e-8*mat.Norm(&want, 2) {
					t.Errorf("n = %d: x[%d] = %g, gonum has %g", n, i, v, w)
				}
			}
			if got, want := 2*HalfLogDet(l, n), ch.LogDet(); math.Abs(got-want) > 1e-9*(1+math.Abs(want)) {
				t.Errorf("n = %d: log det %g, gonum has %g", n, got, want)
			}
			inv, inv2 := make([]float64, n*n), make([]float64, n*n)
			if !Invert(a, inv, n) {
				t.Fatal("no inverse")
			}
			InverseOf(l, inv2, n)
			for _, k := range [][]float64{inv, inv2} {
				for i := range n {
					for j := range n {
						sum, size := 0.0, 0.0
						for q := range n {
							sum += a[i*n+q] * k[q*n+j]
							size += math.Abs(a[i*n+q] * k[q*n+j])
						}
						if i == j {
							sum--
						}
						if math.Abs(sum) > 1e-12*(1+size) {
							t.Errorf("n = %d: a times its inverse is off by %g at %d, %d", n, sum, i, j)
						}
					}
				}
			}
		}
	}
}

// The two rules differ where a row depends on those before it.
func TestWhereARowDependsOnOthers(t *testing.T) {
	// The third is the sum of the first two.
	a := []float64{2, 0, 0, 1, 3, 0, 3, 4, 7}
	if l := slices.Clone(a); Factor(l, 3) {
		t.Errorf("factored: %v", l)
	}
	l := slices.Clone(a)
	FactorHeld(l, 3)
	if p := l[8]; !(p > 0) || p > 1e-5 {
		t.Errorf("held at %g", p)
	}
	for _, bad := range [][]float64{{0}, {-1}, {math.NaN()}, {math.Inf(1)}} {
		if Factor(slices.Clone(bad), 1) || Invert(bad, make([]float64, 1), 1) {
			t.Errorf("%v has a factor", bad)
		}
	}
}

// Why there is this package: the same solution by gonum, whose factorisation
// estimates the condition and takes memory.
func BenchmarkSolve(b *testing.B) {
	for _, n := range []int{2, 4, 8, 16, 32, 64} {
		a := spread(rand.New(rand.NewPCG(1, 1)), n, 0)
		rhs := make([]float64, n)
		rhs[0] = 1
		b.Run(fmt.Sprintf("here/%d", n), func(b *testing.B) {
			l, x := slices.Clone(a), slices.Clone(rhs)
			for b.Loop() {
				copy(l, a)
				copy(x, rhs)
				Solve(l, x, n)
			}
		})
		b.Run(fmt.Sprintf("gonum/%d", n), func(b *testing.B) {
			s := symmetric(a, n)
			v := mat.NewVecDense(n, rhs)
			var ch mat.Cholesky
			var x mat.VecDense
			for b.Loop() {
				ch.Factorize(s)
				if err := ch.SolveVecTo(&x, v); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
