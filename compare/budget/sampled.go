package budget

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Sample is what a few measured pieces say about the next piece of their reel.
// Units are those of the values.
type Sample struct {
	N    int     `json:"n"`    // pieces measured
	Mean float64 `json:"mean"` // of their values
	S    float64 `json:"s"`    // observed standard deviation of one piece; 0 for a single one
	// U is the standard uncertainty of the next piece's value about Mean, with its
	// effective degrees of freedom (0: without limit).
	U   float64 `json:"u"`
	Dof float64 `json:"dof"` // of U; 0: without limit
	// HalfWidth holds the next piece with 95 % coverage.
	HalfWidth float64 `json:"half_width"`
	// CommonU is the standard uncertainty of the reel's mean about Mean, which all of its
	// pieces share; OwnU that of one piece about the reel's mean.
	CommonU float64 `json:"common_u"`
	OwnU    float64 `json:"own_u"`
	// Assumed is true where one piece tells nothing of the spread and the part's own was kept.
	Assumed bool `json:"assumed,omitempty"`
}

// Sampled turns measured values of a few pieces of one reel into a tolerance.
// meterU is the standard uncertainty of one reading, common to all of them;
// generic is the half-width that the part has without a sample, relative to its
// mean: a single piece keeps it for the spread of the next one, half of its
// variance common to the reel.
//
// The next piece differs from the mean of n by s sqrt(1+1/n) with n-1 degrees of
// freedom (JCGM 100:2008, 4.2 and C.3.8); the meter adds its own without limit;
// the coverage factor is Student's for the effective degrees of freedom (G.4.1).
//
// For a group of many pieces the two parts of that count apart: the mean of the
// reel is known to s/sqrt(n), the same for all its pieces, and each piece's own s
// averages out. Both are widened so that 95 % are held as by Student's t; pieces cut
// from one end of a reel leave open how its mean drifts along it.
func Sampled(values []float64, meterU, generic float64) (Sample, error) {
	if len(values) == 0 {
		return Sample{}, errors.New("no values: measure at least one piece")
	}
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return Sample{}, fmt.Errorf("%g is no measured value", v)
		}
	}
	if !(meterU >= 0) || !(generic >= 0) || math.IsInf(meterU+generic, 0) {
		return Sample{}, fmt.Errorf("uncertainty of the meter %g and spread of the part %g: neither may be negative",
			meterU, generic)
	}
	x := Sample{N: len(values), Mean: stat.Mean(values, nil)}
	if x.N == 1 {
		x.Assumed = true
		spread := generic * math.Abs(x.Mean)
		x.U = math.Hypot(spread/math.Sqrt(3), meterU)
		x.HalfWidth = math.Hypot(spread, normalFactor*meterU)
		// The reel's mean differs from its one piece as the next piece does from that.
		x.CommonU, x.OwnU = math.Hypot(spread/math.Sqrt(6), meterU), spread/math.Sqrt(6)
		return x, nil
	}
	n := float64(x.N)
	x.S = stat.StdDev(values, nil)
	next := x.S * math.Sqrt(1+1/n)
	x.U = math.Hypot(next, meterU)
	k := normalFactor
	if dof := welchSatterthwaite([]float64{next, meterU}, []float64{n - 1, math.Inf(1)}); !math.IsInf(dof, 1) {
		x.Dof = dof
		k = studentT(dof)
	}
	x.HalfWidth = k * x.U
	x.OwnU = x.S * studentT(n-1) / normalFactor
	x.CommonU = math.Hypot(math.Hypot(x.OwnU/math.Sqrt(n), alongReel*x.S), meterU)
	return x, nil
}

// alongReel: the mean of a whole reel is taken to differ from that of pieces next to
// each other by so much of one piece's scatter (common practice, no source).
const alongReel = 0.15

// normalFactor holds 95 % of a normal distribution.
const normalFactor = 1.96

// studentT is the factor t_95 of Table G.2 of JCGM 100:2008, for degrees of
// freedom that need not be whole.
func studentT(dof float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}.Quantile(0.5 + Coverage/2)
}

// welchSatterthwaite gives the effective degrees of freedom of a sum of
// contributions u, each with its own (JCGM 100:2008, G.4.1, formula G.2b);
// +Inf is allowed in dof.
func welchSatterthwaite(u, dof []float64) float64 {
	sum, bottom := 0.0, 0.0
	for i := range u {
		sum += u[i] * u[i]
		if u[i] != 0 {
			bottom += u[i] * u[i] * u[i] * u[i] / dof[i]
		}
	}
	if bottom == 0 {
		return math.Inf(1)
	}
	return sum * sum / bottom
}
