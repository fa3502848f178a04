package belief

import (
	"fmt"
	"math"

	"sealworthy/compare/linear"
)

// follow is how a draw goes with the healthy draw of the same parts, and with what
// the bench has in common over its readings.
type follow struct {
	cross []float64 // n x n: covariance of its draw at a and the healthy draw at b
	bench []float64 // by bench factor, then voltage: what it moves by for a variance of 1
}

func newFollow(n int) follow {
	return follow{make([]float64, n*n), make([]float64, benchFactors*n)}
}

// add adds one trial: deviations of the draw, of the healthy one, and of the bench.
func (f *follow) add(x, healthy, bench []float64) {
	n := len(x)
	for a, u := range x {
		for b, v := range healthy {
			f.cross[a*n+b] += u * v
		}
		for j, z := range bench {
			f.bench[j*n+a] += u * z
		}
	}
}

// close turns sums into covariances. mean are those of the deviations. What is
// common to the bench has variance 1/3 and mean 0.
func (f *follow) close(mean, healthy []float64, trials float64) {
	n := len(mean)
	for a := range n {
		for b := range n {
			f.cross[a*n+b] = f.cross[a*n+b]/trials - mean[a]*healthy[b]
		}
	}
	for i := range f.bench {
		f.bench[i] *= math.Sqrt(3) / trials
	}
}

// scaled is a draw that goes with the healthy one by factors.
func (f *follow) scaled(by []float64) follow {
	n := len(by)
	out := newFollow(n)
	for a := range n {
		for b := range n {
			out.cross[a*n+b] = by[a] * f.cross[a*n+b]
		}
		for j := range benchFactors {
			out.bench[j*n+a] = by[a] * f.bench[j*n+a]
		}
	}
	return out
}

// asBuilt brings every moment to what readings of the same group say that were
// made when it was known to be healthy: of the parts, not of the bench, whose
// room, voltage and leads of that day were its own. What the model is off was the
// same then, so that it goes out too; afterwards it is within the moments.
func (e *Ensemble) asBuilt(rs []Reading) error {
	v, err := e.look(rs)
	if err != nil {
		return fmt.Errorf("as built: %w", err)
	}
	m, n, k := e.m, e.m.n, len(v.at)
	if k == 0 {
		return nil
	}
	model := func(a, b int) float64 {
		if a == b {
			return v.model * v.model
		}
		return v.model * v.model * modelCorrelation
	}
	// Of the readings then: all that is of the parts, the bench, and their own.
	c := make([]float64, k*k)
	v.covariance(&m.healthy, n, c)
	linear.FactorHeld(c, k)
	base := m.follows[0]
	healthy := append([]float64(nil), m.healthy.mean...)
	off := make([]float64, k)
	for a, i := range v.at {
		off[a] = v.y[a] - healthy[i]
	}
	linear.Forward(c, k, off)
	condition := func(x *moment, f *follow) {
		with := make([]float64, n*k) // by voltage: L^-1 cov(readings then, draw now)
		row := make([]float64, k)
		mean := append([]float64(nil), x.mean...)
		for i := range n {
			for a, j := range v.at {
				row[a] = f.cross[i*n+j] + model(i, j)*mean[i]*healthy[j]
				for q := range benchFactors {
					row[a] -= f.bench[q*n+i] * base.bench[q*n+j]
				}
			}
			linear.Forward(c, k, row)
			copy(with[i*k:], row)
			x.mean[i] += linear.Dot(row, off)
		}
		for i := range n {
			for j := range n {
				x.cov[i*n+j] += model(i, j)*mean[i]*mean[j] - linear.Dot(with[i*k:i*k+k], with[j*k:j*k+k])
			}
		}
		for i := range n {
			// Rounding, and effects that aren't straight, leave at least the bench.
			least := 0.0
			for q := range benchFactors {
				least += f.bench[q*n+i] * f.bench[q*n+i]
			}
			x.cov[i*n+i] = math.Max(x.cov[i*n+i], least)
		}
	}
	for i := range m.of {
		condition(&m.of[i], &m.follows[1+i])
	}
	condition(&m.healthy, &base)
	e.priors.Model = 0
	return nil
}
