package blink

import (
	"math"

	"sealworthy/compare/linear"
)

// MostSteps is how many outputs can be taken apart in one trace.
const MostSteps = 15

// Steps is the linear half of taking a trace apart: given when each output is lit,
// the draw with all of them dark and the step of each, by weighted least squares.
// Whoever searches for periods and phases changes the columns of one clock at a
// time; the products of the others are kept.
type Steps struct {
	Y      []float64   // readings, less their mean
	MeanY  float64     // A
	Weight []float64   // by reading
	Cols   [][]float64 // by reading: 1 for the base, then for each output the part of the window that it's lit
	X      []float64   // found: the base less the mean of the readings, then the steps, A

	// Ridge is what each column knows beforehand: a weight, in readings, and the
	// step it draws toward. It only matters where a column is empty, or where
	// outputs that take turns without a dark moment add up to what the base is.
	Ridge, Toward []float64

	n  [MostSteps + 1][MostSteps + 1]float64
	r  [MostSteps + 1]float64
	yy float64
	l  [(MostSteps + 1) * (MostSteps + 1)]float64 // of the last Solve
}

// NewSteps prepares a fit of a number of outputs, all of them dark so far. More
// than MostSteps is the caller's mistake.
func NewSteps(readings []float64, outputs int) *Steps {
	k, n := outputs+1, len(readings)
	s := &Steps{Y: make([]float64, n), Weight: make([]float64, n), X: make([]float64, k), Ridge: make([]float64, k), Toward: make([]float64, k)}
	for _, a := range readings {
		s.MeanY += a / float64(n)
	}
	for range k {
		s.Cols = append(s.Cols, make([]float64, n))
	}
	for i, a := range readings {
		s.Y[i], s.Weight[i], s.Cols[0][i] = a-s.MeanY, 1, 1
	}
	s.Weighed()
	return s
}

// Changed takes in that some columns have changed.
func (s *Steps) Changed(from, to int) {
	for i := from; i < to; i++ {
		a := s.Cols[i]
		for j, b := range s.Cols {
			sum := 0.0
			for q, w := range s.Weight {
				sum += w * a[q] * b[q]
			}
			s.n[i][j], s.n[j][i] = sum, sum
		}
		sum := 0.0
		for q, w := range s.Weight {
			sum += w * a[q] * s.Y[q]
		}
		s.r[i] = sum
	}
}

// Weighed takes in that the weights have changed.
func (s *Steps) Weighed() {
	s.yy = 0
	for q, w := range s.Weight {
		s.yy += w * s.Y[q] * s.Y[q]
	}
	s.Changed(0, len(s.Cols))
}

// Solve finds X and returns the weighted sum of squares that it leaves.
func (s *Steps) Solve() float64 {
	k := len(s.Cols)
	l := s.l[:k*k]
	for i := range k {
		copy(l[i*k:i*k+i+1], s.n[i][:])
		l[i*k+i] += s.Ridge[i]
		s.X[i] = s.r[i] + s.Ridge[i]*s.Toward[i]
	}
	linear.FactorHeld(l, k)
	linear.Forward(l, k, s.X)
	linear.Backward(l, k, s.X)
	rss := s.yy
	for i := range k {
		rss -= 2 * s.X[i] * s.r[i]
		for j := range k {
			rss += s.X[i] * s.X[j] * s.n[i][j]
		}
	}
	return math.Max(rss, 0)
}

// Rest is what the fit leaves of a reading, A.
func (s *Steps) Rest(q int) float64 {
	d := s.Y[q]
	for i := range s.Cols {
		d -= s.X[i] * s.Cols[i][q]
	}
	return d
}

// Covariance of X for readings of variance 1 at weight 1, k rows of k.
func (s *Steps) Covariance() []float64 {
	k := len(s.Cols)
	out := make([]float64, k*k)
	linear.InverseOf(s.l[:k*k], out, k)
	return out
}
