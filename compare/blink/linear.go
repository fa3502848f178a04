package blink

import "sealworthy/compare/linear"

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
		if !linear.Solve(sub[:m*m], rhs[:m], m) {
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
