package returns

import (
	"errors"
	"slices"

	"sealworthy/compare/linear"
)

// whitener holds the Cholesky factor of a covariance.
type whitener struct {
	n      int
	l      []float64
	logDet float64 // of the covariance
}

// newWhitener factors C = diag(noise^2) + sum J J'.
func newWhitener(noise []float64, js [][]float64, more func(i, j int) float64) (*whitener, error) {
	n := len(noise)
	c := make([]float64, n*n)
	for i, u := range noise {
		c[i*n+i] = u * u
	}
	for _, j := range js {
		for i, x := range j {
			for k, y := range j[:i+1] {
				c[i*n+k] += x * y
			}
		}
	}
	if more != nil {
		for i := range n {
			for j := range i + 1 {
				c[i*n+j] += more(j, i)
			}
		}
	}
	if !linear.Factor(c, n) {
		return nil, errors.New("the covariance of the readings is not positive definite")
	}
	return &whitener{n: n, l: c, logDet: 2 * linear.HalfLogDet(c, n)}, nil
}

// of whitens a vector by forward substitution.
func (w *whitener) of(v []float64) []float64 {
	out := slices.Clone(v)
	linear.Forward(w.l, w.n, out)
	return out
}

// logLikelihood is -1/2 (d'd - b' G^-1 b + ln det G) with b = W'd and
// G = 1 + W'W: a Gaussian of unit covariance widened by the columns of W, by
// the lemma of Woodbury. The part that all hypotheses share is left out. dd is
// d'd, b holds W'd, and g the Gram matrix W'W by rows.
func logLikelihood(dd float64, b, g []float64) float64 {
	k := len(b)
	if k == 0 {
		return -dd / 2
	}
	// k is at most some six.
	var buf [64]float64
	l := append(buf[:0], g...)
	for i := range k {
		l[i*k+i]++
	}
	linear.FactorHeld(l, k)
	var xbuf [8]float64
	x := append(xbuf[:0], b...)
	linear.Forward(l, k, x)
	return -(dd - linear.Dot(x, x) + 2*linear.HalfLogDet(l, k)) / 2
}
