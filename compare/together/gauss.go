package together

import (
	"math"

	"sealworthy/compare/linear"
)

func square(n int) [][]float64 { return linear.Rows(make([]float64, n*n), n) }

// inverse of a symmetric positive definite matrix, with the logarithm of its
// determinant. ok is false where it isn't positive definite.
func inverse(c [][]float64) (k [][]float64, logDet float64, ok bool) {
	n := len(c)
	l, inv := linear.Flat(c), make([]float64, n*n)
	if !linear.Factor(l, n) {
		return nil, 0, false
	}
	linear.InverseOf(l, inv, n)
	return linear.Rows(inv, n), 2 * linear.HalfLogDet(l, n), true
}

func times(k [][]float64, v []float64) []float64 {
	out := make([]float64, len(v))
	for i := range k {
		out[i] = linear.Dot(k[i], v)
	}
	return out
}

// normal is a multivariate normal about what a cause does, seen through the
// inverse of its covariance, so that a direction of more doubt costs little.
type normal struct {
	k    [][]float64
	kr   []float64 // k times the residual
	logP float64
}

// newNormal gives the density of a residual under a covariance.
func newNormal(c [][]float64, residual []float64) (normal, bool) {
	k, logDet, ok := inverse(c)
	if !ok {
		return normal{}, false
	}
	g := normal{k: k, kr: times(k, residual)}
	g.logP = -0.5 * (linear.Dot(residual, g.kr) + logDet + float64(len(residual))*math.Log(2*math.Pi))
	return g, true
}

// wider is the change of logP when s v v' s is added to the covariance
// (Sherman and Morrison; the determinant by the matrix determinant lemma).
func (g normal) wider(kv []float64, vkv, vkr, s float64) float64 {
	f := 1 + s*s*vkv
	return 0.5*s*s*vkr*vkr/f - 0.5*math.Log(f)
}

// widen takes s v v' s into the covariance.
func (g normal) widen(v []float64, s float64) normal {
	kv := times(g.k, v)
	vkv, vkr := linear.Dot(v, kv), linear.Dot(v, g.kr)
	f := s * s / (1 + s*s*vkv)
	out := normal{k: square(len(v)), kr: make([]float64, len(v)), logP: g.logP + g.wider(kv, vkv, vkr, s)}
	for i := range v {
		out.kr[i] = g.kr[i] - f*kv[i]*vkr
		for j := range v {
			out.k[i][j] = g.k[i][j] - f*kv[i]*kv[j]
		}
	}
	return out
}

// logSum is the logarithm of a sum of exponentials.
func logSum(xs []float64) float64 {
	top := math.Inf(-1)
	for _, x := range xs {
		top = max(top, x)
	}
	if math.IsInf(top, -1) {
		return top
	}
	s := 0.0
	for _, x := range xs {
		s += math.Exp(x - top)
	}
	return top + math.Log(s)
}
