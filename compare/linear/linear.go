// Package linear solves small symmetric systems in place: covariances of a few
// readings, normal equations of a few levels. A matrix of n rows is one slice of
// n*n numbers, row by row; only its lower triangle is read, and Cholesky's factor
// L, with L L' the matrix, is written over it.
//
// These stand in the innermost loops, millions of times for a handful of rows,
// where gonum's factorisation spends most of its time on memory and on an
// estimate of the condition: it takes twenty times as long for two rows, three
// times for 32 (BenchmarkSolve). Where it's done once, use gonum/mat.
//
// Formulas: Golub and Van Loan, Matrix Computations, 4.2 (from memory).
package linear

import "math"

// rule says what is made of a pivot that rounding, or the problem itself, has
// left small.
type rule uint8

const (
	definite rule = iota // no factor
	held                 // a floor
)

// How small a pivot may be beside its diagonal element.
const (
	leastPivot = 1e-13
	leastHeld  = 1e-12
	leastAtAll = 1e-30
)

func factor(a []float64, n int, r rule) bool {
	for i := range n {
		row := a[i*n : i*n+i+1]
		for j := range i {
			s := row[j]
			other := a[j*n : j*n+j+1]
			for k := range j {
				s -= row[k] * other[k]
			}
			row[j] = s / other[j]
		}
		whole := row[i]
		s := whole
		for k := range i {
			s -= row[k] * row[k]
		}
		switch r {
		case definite:
			if !(s > leastPivot*math.Abs(whole)) || math.IsInf(s, 0) {
				return false
			}
		case held:
			s = math.Max(s, math.Max(leastHeld*math.Abs(whole), leastAtAll))
		}
		row[i] = math.Sqrt(s)
	}
	return true
}

// Factor writes L over a positive definite matrix; false: it isn't one, and a is
// of no more use.
func Factor(a []float64, n int) bool { return factor(a, n, definite) }

// FactorHeld writes L over a matrix that is positive definite but for rounding:
// what that took away is held at a millionth of the diagonal's root.
func FactorHeld(a []float64, n int) { factor(a, n, held) }

// HalfLogDet is half the logarithm of the determinant of L L'.
func HalfLogDet(l []float64, n int) float64 {
	s := 0.0
	for i := range n {
		s += math.Log(l[i*n+i])
	}
	return s
}

// Forward solves L x = b in place of b.
func Forward(l []float64, n int, b []float64) {
	for i := range n {
		row := l[i*n : i*n+i+1]
		s := b[i]
		for k := range i {
			s -= row[k] * b[k]
		}
		b[i] = s / row[i]
	}
}

// Backward solves L' x = b in place of b.
func Backward(l []float64, n int, b []float64) {
	for i := n - 1; i >= 0; i-- {
		s := b[i]
		for k := i + 1; k < n; k++ {
			s -= l[k*n+i] * b[k]
		}
		b[i] = s / l[i*n+i]
	}
}

// Solve solves a x = b in place of b, for a positive definite a that is
// overwritten by L. false: it isn't, or x is no number.
func Solve(a, b []float64, n int) bool {
	if !Factor(a, n) {
		return false
	}
	Forward(a, n, b)
	Backward(a, n, b)
	for _, x := range b[:n] {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}

// InverseOf writes the inverse of L L' into inv, both triangles of it.
func InverseOf(l, inv []float64, n int) {
	col := make([]float64, n)
	for j := range n {
		clear(col)
		col[j] = 1
		Forward(l, n, col)
		Backward(l, n, col)
		for i, x := range col {
			inv[i*n+j] = x
		}
	}
}

// Invert writes the inverse of a positive definite matrix into inv; a stays. It
// is scaled to a unit diagonal first, so that quantities of unlike units don't
// matter. false: a isn't positive definite.
func Invert(a, inv []float64, n int) bool {
	scale, l := make([]float64, n), make([]float64, n*n)
	for i := range n {
		if !(a[i*n+i] > 0) {
			return false
		}
		scale[i] = 1 / math.Sqrt(a[i*n+i])
		for j := range i + 1 {
			l[i*n+j] = a[i*n+j] * scale[i] * scale[j]
		}
	}
	if !Factor(l, n) {
		return false
	}
	InverseOf(l, inv, n)
	for i := range n {
		for j := range n {
			inv[i*n+j] *= scale[i] * scale[j]
		}
	}
	return true
}

// Dot is the sum of products of two vectors.
func Dot(a, b []float64) float64 {
	s := 0.0
	for i, x := range a {
		s += x * b[i]
	}
	return s
}
