package blink

import (
	"math"

	"sealworthy/compare/linear"
)

// mostSteps is how many outputs can be taken apart in one trace.
const mostSteps = 15

// steps is the linear half of taking a trace apart: given when each output is lit,
// the draw with all of them dark and the step of each, by weighted least squares.
// Whoever searches for periods and phases changes the columns of one clock at a
// time; the products of the others are kept.
type steps struct {
	y      []float64   // readings, less their mean
	meanY  float64     // A
	weight []float64   // by reading
	cols   [][]float64 // by reading: 1 for the base, then for each output the part of the window that it's lit
	x      []float64   // found: the base less the mean of the readings, then the steps, A

	// Ridge is what each column knows beforehand: a weight, in readings, and the
	// step it draws toward. It only matters where a column is empty, or where
	// outputs that take turns without a dark moment add up to what the base is.
	ridge, toward []float64

	n  [mostSteps + 1][mostSteps + 1]float64
	r  [mostSteps + 1]float64
	yy float64
	l  [(mostSteps + 1) * (mostSteps + 1)]float64 // of the last solve
}

// newSteps prepares a fit of a number of outputs, all of them dark so far. More
// than mostSteps is the caller's mistake.
func newSteps(readings []float64, outputs int) *steps {
	k, n := outputs+1, len(readings)
	s := &steps{y: make([]float64, n), weight: make([]float64, n), x: make([]float64, k), ridge: make([]float64, k),
		toward: make([]float64, k)}
	for _, a := range readings {
		s.meanY += a / float64(n)
	}
	for range k {
		s.cols = append(s.cols, make([]float64, n))
	}
	for i, a := range readings {
		s.y[i], s.weight[i], s.cols[0][i] = a-s.meanY, 1, 1
	}
	s.weighed()
	return s
}

// changed takes in that some columns have changed.
func (s *steps) changed(from, to int) {
	for i := from; i < to; i++ {
		a := s.cols[i]
		for j, b := range s.cols {
			sum := 0.0
			for q, w := range s.weight {
				sum += w * a[q] * b[q]
			}
			s.n[i][j], s.n[j][i] = sum, sum
		}
		sum := 0.0
		for q, w := range s.weight {
			sum += w * a[q] * s.y[q]
		}
		s.r[i] = sum
	}
}

// weighed takes in that the weights have changed.
func (s *steps) weighed() {
	s.yy = 0
	for q, w := range s.weight {
		s.yy += w * s.y[q] * s.y[q]
	}
	s.changed(0, len(s.cols))
}

// solve finds x and returns the weighted sum of squares that it leaves.
func (s *steps) solve() float64 {
	k := len(s.cols)
	l := s.l[:k*k]
	for i := range k {
		copy(l[i*k:i*k+i+1], s.n[i][:])
		l[i*k+i] += s.ridge[i]
		s.x[i] = s.r[i] + s.ridge[i]*s.toward[i]
	}
	linear.FactorHeld(l, k)
	linear.Forward(l, k, s.x)
	linear.Backward(l, k, s.x)
	rss := s.yy
	for i := range k {
		rss -= 2 * s.x[i] * s.r[i]
		for j := range k {
			rss += s.x[i] * s.x[j] * s.n[i][j]
		}
	}
	return math.Max(rss, 0)
}

// rest is what the fit leaves of a reading, A.
func (s *steps) rest(q int) float64 {
	d := s.y[q]
	for i := range s.cols {
		d -= s.x[i] * s.cols[i][q]
	}
	return d
}

// invertOr inverts an information matrix; where it's none, the answer is what was
// known beforehand.
func invertOr(a, prior []float64) []float64 {
	n := len(prior)
	out := make([]float64, n*n)
	if !linear.Invert(a, out, n) {
		clear(out)
		for i, u := range prior {
			out[i*n+i] = u * u
		}
	}
	return out
}
