package stages

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// covariance of base, steps, and frequency, phase and duty of each clock, for a
// variance v of a reading. Tolerances are prior knowledge (rectangular), so that
// what doesn't blink is still known to lie within them.
func (f *fitter) covariance(v float64) *mat.SymDense {
	k := len(f.Cols)
	n := k + 3*len(f.beats)
	j := mat.NewDense(len(f.Y), n, nil)
	for q, w := range f.Weight {
		for i := range k {
			j.Set(q, i, math.Sqrt(w/v)*f.Cols[i][q])
		}
	}
	prior := make([]float64, n)
	for i := range k {
		prior[i] = 1 // 1 A: none
	}
	for i, b := range f.beats {
		h := [3]float64{1e-3 * b.hz / math.Max(1, f.spanS*b.hz), 1e-3, 1e-3}
		prior[k+3*i], prior[k+3*i+1], prior[k+3*i+2] = math.Max(b.tol, 1e-4)*b.hz/math.Sqrt(3), 0.5/math.Sqrt(3), math.Max(b.dutyTol, 1e-5)/math.Sqrt(3)
		for c := range 3 {
			up, down := b, b
			switch c {
			case 0:
				up.hz, down.hz = b.hz+h[0], b.hz-h[0]
			case 1:
				up.phase, down.phase = b.phase+h[1], b.phase-h[1]
			case 2:
				up.duty, down.duty = b.duty+h[2], b.duty-h[2]
			}
			d := make([]float64, len(f.Y))
			for _, s := range []struct {
				b    beat
				sign float64
			}{{up, 1}, {down, -1}} {
				f.fill(s.b)
				for m := range b.outs {
					for q := range d {
						d[q] += s.sign * f.X[b.firstCol+m] * f.Cols[b.firstCol+m][q]
					}
				}
			}
			for q, w := range f.Weight {
				j.Set(q, k+3*i+c, math.Sqrt(w/v)*d[q]/(2*h[c]))
			}
		}
		f.fill(b)
	}
	info := mat.NewSymDense(n, nil)
	info.SymOuterK(1, j.T())
	for i := range n {
		info.SetSym(i, i, info.At(i, i)+1/(prior[i]*prior[i]))
	}
	var ch mat.Cholesky
	out := mat.NewSymDense(n, nil)
	if !ch.Factorize(info) || ch.InverseTo(out) != nil {
		for i := range n {
			out.SetSym(i, i, prior[i]*prior[i])
		}
	}
	return out
}
