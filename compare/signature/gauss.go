package signature

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// whitener is the inverse of the Cholesky factor of a covariance.
type whitener struct {
	n      int
	l      mat.TriDense
	logDet float64 // of the covariance
}

// newWhitener factors C = diag(noise^2) + sum J J'.
func newWhitener(noise []float64, js [][]float64, more func(i, j int) float64) (*whitener, error) {
	n := len(noise)
	c := mat.NewSymDense(n, nil)
	for i, u := range noise {
		c.SetSym(i, i, u*u)
	}
	for _, j := range js {
		c.SymRankOne(c, 1, mat.NewVecDense(n, j))
	}
	if more != nil {
		for i := range n {
			for j := i; j < n; j++ {
				c.SetSym(i, j, c.At(i, j)+more(i, j))
			}
		}
	}
	var ch mat.Cholesky
	if !ch.Factorize(c) {
		return nil, errors.New("the covariance of the readings is not positive definite")
	}
	w := &whitener{n: n, logDet: ch.LogDet()}
	ch.LTo(&w.l)
	return w, nil
}

// of whitens a vector by forward substitution.
func (w *whitener) of(v []float64) []float64 {
	raw := w.l.RawTriangular()
	out := make([]float64, w.n)
	for i := range out {
		row := raw.Data[i*raw.Stride : i*raw.Stride+i+1]
		x := v[i]
		for k := range i {
			x -= row[k] * out[k]
		}
		out[i] = x / row[i]
	}
	return out
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i := range a {
		s += a[i] * b[i]
	}
	return s
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
	// A Cholesky factor of G, in place; k is at most some six.
	var buf [64]float64
	l := buf[:]
	if k*k > len(l) {
		l = make([]float64, k*k)
	}
	logDet, quad := 0.0, 0.0
	var xbuf [8]float64
	x := xbuf[:]
	if k > len(x) {
		x = make([]float64, k)
	}
	for i := range k {
		for j := 0; j <= i; j++ {
			s := g[i*k+j]
			if i == j {
				s++
			}
			for m := range j {
				s -= l[i*k+m] * l[j*k+m]
			}
			if i == j {
				l[i*k+i] = math.Sqrt(s)
			} else {
				l[i*k+j] = s / l[j*k+j]
			}
		}
		logDet += 2 * math.Log(l[i*k+i])
		y := b[i]
		for m := range i {
			y -= l[i*k+m] * x[m]
		}
		x[i] = y / l[i*k+i]
		quad += x[i] * x[i]
	}
	return -(dd - quad + logDet) / 2
}
