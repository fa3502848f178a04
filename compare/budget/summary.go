package budget

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
)

// summary is what is kept of the trials of one output.
type summary struct {
	mean, u   float64 // JCGM 101:2008, 7.6
	low, high float64 // probabilistically symmetric coverage interval, 7.7
}

// summarise reads the trials of one output. It sorts them in place. Trials
// that all agree have no uncertainty.
func summarise(y []float64, coverage float64) summary {
	if len(y) == 0 {
		return summary{}
	}
	if len(y) == 1 {
		return summary{mean: y[0], low: y[0], high: y[0]}
	}
	slices.Sort(y)
	var s summary
	if y[0] == y[len(y)-1] {
		// The computed mean of equal numbers may be off in the last bit.
		return summary{mean: y[0], low: y[0], high: y[0]}
	}
	s.mean, s.u = stat.MeanStdDev(y, nil)
	tail := (1 - coverage) / 2
	s.low = stat.Quantile(tail, stat.LinInterp, y, nil)
	s.high = stat.Quantile(1-tail, stat.LinInterp, y, nil)
	return s
}

// differ validates the law of propagation against the trials (after
// JCGM 101:2008, clause 8). It compares mean and standard uncertainty, not the
// ends of the interval: those differ for every rectangular law, and the band is
// taken from the trials anyway. limit is a fraction of u; the scatter of the
// trials themselves is allowed for.
func differ(nominal, linearU float64, s summary, trials int, limit float64) bool {
	if trials < 2 || s.u == 0 && linearU == 0 {
		return false
	}
	n := float64(trials)
	big := math.Max(s.u, linearU)
	return math.Abs(s.mean-nominal) > big*(limit+3/math.Sqrt(n)) ||
		math.Abs(s.u-linearU) > big*(limit+3/math.Sqrt(2*n))
}
