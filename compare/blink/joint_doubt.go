package blink

import "math"

// weigh trusts readings less whose window an edge may have slipped into or out
// of: their stamps are uncertain. Three points of a stamp's distribution, with
// the moments of a normal one, give the variance of what is lit.
func (f *joint) weigh() {
	s := f.one()
	v := make([]float64, len(f.y))
	off := math.Sqrt(3) * f.d.stampStd
	for i, c := range f.clocks {
		at := f.at[i]
		for j, b := range c.Outputs {
			spans, col, a := b.spans(at.duty), f.cols[f.first[i]+j], f.x[f.first[i]+j]
			for q, t := range f.d.t {
				early := LitOf(spans, (t-off)*at.hz-at.phase, f.d.window*at.hz) - col[q]
				late := LitOf(spans, (t+off)*at.hz-at.phase, f.d.window*at.hz) - col[q]
				v[q] += a * a * (early*early + late*late) / 6
			}
		}
	}
	for q, e2 := range v {
		f.weight[q] = s * s / (s*s + e2)
	}
	f.weighed()
}

// misfit returns -2 ln likelihood, up to a constant, and chi-square for each
// degree of freedom.
func (f *joint) misfit() (m2l, chi float64) {
	s := f.one()
	chi2 := f.solve() / (s * s)
	m2l = chi2
	for _, w := range f.weight {
		m2l -= math.Log(w)
	}
	return m2l, chi2 / f.freedom()
}

// freedom is how many readings there are beyond what is fitted.
func (f *joint) freedom() float64 {
	return math.Max(1, float64(len(f.y)-len(f.cols)-3*len(f.clocks)))
}

// covariance of base, steps, then frequency, phase and duty of each clock, for a
// variance v of a reading of weight 1. Tolerances are prior knowledge
// (rectangular: half-width over the root of 3), so that what doesn't blink is
// still known to lie within them.
func (f *joint) covariance(v float64) (cov []float64, n int) {
	k := len(f.cols)
	n = k + 3*len(f.clocks)
	rows := make([][]float64, n)
	prior := make([]float64, n)
	for i := range k {
		rows[i], prior[i] = f.cols[i], math.Max(1, f.d.highest) // A: nothing is known of it
	}
	for i, c := range f.clocks {
		at := f.at[i]
		p := k + 3*i
		dutyTol := 0.0
		if c.plain() {
			dutyTol = c.DutyAbs
		}
		prior[p], prior[p+1], prior[p+2] = math.Max(positive(c.PeriodRel, defaultPeriodRel), 1e-4)*at.hz/math.Sqrt(3),
			0.5/math.Sqrt(3), math.Max(dutyTol, 1e-5)/math.Sqrt(3)
		for j, h := range []timing{{1e-3 / math.Max(1, f.d.spanS), 0, 0}, {0, 1e-3, 0}, {0, 0, 1e-3}} {
			rows[p+j] = f.slope(i, at, h)
		}
	}
	a := make([]float64, n*n)
	for i := range n {
		for j := range i + 1 {
			sum := 0.0
			for q, w := range f.weight {
				sum += w * rows[i][q] * rows[j][q]
			}
			a[i*n+j], a[j*n+i] = sum/v, sum/v
		}
		a[i*n+i] += 1 / (prior[i] * prior[i])
	}
	return invertOr(a, prior), n
}

// slope is by how much the readings change with the timing of a clock.
func (f *joint) slope(i int, at, h timing) []float64 {
	d := make([]float64, len(f.y))
	per := 2 * (h.hz + h.phase + h.duty)
	for _, sign := range []float64{1, -1} {
		f.fill(i, timing{at.hz + sign*h.hz, at.phase + sign*h.phase, at.duty + sign*h.duty})
		for j := range f.clocks[i].Outputs {
			col := f.first[i] + j
			for q := range d {
				d[q] += sign * f.x[col] * f.cols[col][q] / per
			}
		}
	}
	f.fill(i, at)
	return d
}
