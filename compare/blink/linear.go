package blink

import "math"

// solveSymmetric solves a x = b for a positive definite a of size n by n,
// whose lower triangle is used; a is overwritten by its Cholesky factor and b by x.
func solveSymmetric(a, b []float64, n int) bool {
	if !factor(a, n) {
		return false
	}
	for i := range n {
		s := b[i]
		for k := range i {
			s -= a[i*n+k] * b[k]
		}
		b[i] = s / a[i*n+i]
	}
	for i := n - 1; i >= 0; i-- {
		s := b[i]
		for k := i + 1; k < n; k++ {
			s -= a[k*n+i] * b[k]
		}
		b[i] = s / a[i*n+i]
	}
	return finite(b[:n]...)
}

// factor overwrites the lower triangle of a by its Cholesky factor.
func factor(a []float64, n int) bool {
	for i := range n {
		for j := 0; j <= i; j++ {
			s := a[i*n+j]
			for k := range j {
				s -= a[i*n+k] * a[j*n+k]
			}
			if i == j {
				if !(s > 1e-13*math.Abs(a[i*n+i])) || !finite(s) {
					return false
				}
				a[i*n+i] = math.Sqrt(s)
			} else {
				a[i*n+j] = s / a[j*n+j]
			}
		}
	}
	return true
}

// invertSymmetric writes the inverse of a into inv; a is scaled to a unit
// diagonal first, so that parameters of different units don't matter.
func invertSymmetric(a, inv []float64, n int) bool {
	scale := make([]float64, n)
	c := make([]float64, n*n)
	for i := range n {
		if !(a[i*n+i] > 0) {
			return false
		}
		scale[i] = 1 / math.Sqrt(a[i*n+i])
	}
	for i := range n {
		for j := range n {
			c[i*n+j] = a[i*n+j] * scale[i] * scale[j]
		}
	}
	work, col := make([]float64, n*n), make([]float64, n)
	for j := range n {
		copy(work, c)
		for i := range col {
			col[i] = 0
		}
		col[j] = 1
		if !solveSymmetric(work, col, n) {
			return false
		}
		for i := range n {
			inv[i*n+j] = col[i] * scale[i] * scale[j]
		}
	}
	return true
}

// nonNegative minimises x'ax - 2b'x, with every x at or above zero,
// by leaving out the most negative one until none is (the active-set
// idea of Lawson and Hanson, Solving Least Squares Problems, without the way
// back: enough for a handful of levels). Only the lower triangle of a is used.
func nonNegative(a, b, x []float64) {
	n := len(b)
	var in [10]int
	m := 0
	for i := range n {
		in[m] = i
		m++
	}
	var sub [10 * 10]float64
	var rhs [10]float64
	for m > 0 {
		for i := range m {
			for j := 0; j <= i; j++ {
				sub[i*m+j] = a[in[i]*n+in[j]]
			}
			sub[i*m+i] *= 1 + 1e-12
			rhs[i] = b[in[i]]
		}
		worst := -1
		if !solveSymmetric(sub[:m*m], rhs[:m], m) {
			worst = m - 1 // two columns alike, or one of zeros: do without
		} else {
			for i := range m {
				if rhs[i] < 0 && (worst < 0 || rhs[i] < rhs[worst]) {
					worst = i
				}
			}
		}
		if worst < 0 {
			break
		}
		copy(in[worst:m], in[worst+1:m])
		m--
	}
	for i := range x {
		x[i] = 0
	}
	for i := range m {
		x[in[i]] = rhs[i]
	}
}
