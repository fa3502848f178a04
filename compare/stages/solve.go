package stages

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"sealworthy/compare/linear"
)

// gram holds the sums of products that the normal equations are made of; those
// of columns that didn't change stay.
type gram struct {
	n  [mostTerms][mostTerms]float64
	r  [mostTerms]float64
	yy float64
}

// sum computes the products of some columns with all, under the weights.
func (f *fitter) sum(from, to int) {
	for i := from; i < to; i++ {
		a := f.cols[i]
		for j := range f.cols {
			s, b := 0.0, f.cols[j]
			for q, w := range f.weight {
				s += w * a[q] * b[q]
			}
			f.g.n[i][j], f.g.n[j][i] = s, s
		}
		s := 0.0
		for q, w := range f.weight {
			s += w * a[q] * f.y[q]
		}
		f.g.r[i] = s
	}
}

// sumAll does so for all columns, after the weights changed.
func (f *fitter) sumAll() {
	f.g.yy = 0
	for q, w := range f.weight {
		f.g.yy += w * f.y[q] * f.y[q]
	}
	f.sum(0, len(f.cols))
}

// solve gives the weighted sum of squares that base and steps leave.
func (f *fitter) solve() float64 {
	k := len(f.cols)
	var buf [mostTerms * mostTerms]float64
	n := buf[:k*k]
	copy(f.x[:k], f.g.r[:k])
	for i := range k {
		copy(n[i*k:i*k+i+1], f.g.n[i][:])
		// A ridge that only matters where a column is empty, or where outputs that
		// take turns without a dark moment add up to what the base is.
		if o := f.outOf[i]; o >= 0 {
			n[i*k+i] += 1e-6 * float64(len(f.y))
			f.x[i] += 1e-6 * float64(len(f.y)) * f.want[o]
		}
	}
	linear.FactorHeld(n, k)
	linear.Forward(n, k, f.x[:k])
	linear.Backward(n, k, f.x[:k])
	rss := f.g.yy
	for i := range k {
		rss -= 2 * f.x[i] * f.g.r[i]
		for j := range k {
			rss += f.x[i] * f.x[j] * f.g.n[i][j]
		}
	}
	return math.Max(rss, 0)
}

// rest is what the fit leaves of a reading.
func (f *fitter) rest(q int) float64 {
	d := f.y[q]
	for i := range f.cols {
		d -= f.x[i] * f.cols[i][q]
	}
	return d
}

// covariance of base, steps, and frequency, phase and duty of each clock, for a
// variance v of a reading. Tolerances are prior knowledge (rectangular), so that
// what doesn't blink is still known to lie within them.
func (f *fitter) covariance(v float64) *mat.SymDense {
	k := len(f.cols)
	n := k + 3*len(f.beats)
	j := mat.NewDense(len(f.y), n, nil)
	for q, w := range f.weight {
		for i := range k {
			j.Set(q, i, math.Sqrt(w/v)*f.cols[i][q])
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
			d := make([]float64, len(f.y))
			for _, s := range []struct {
				b    beat
				sign float64
			}{{up, 1}, {down, -1}} {
				f.fill(s.b)
				for m := range b.outs {
					for q := range d {
						d[q] += s.sign * f.x[b.firstCol+m] * f.cols[b.firstCol+m][q]
					}
				}
			}
			for q, w := range f.weight {
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
