package budget

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// mostBlocks ends an adaptive run that doesn't settle.
const mostBlocks = 100

// tolerance is half of the last of a number of digits of u: the numerical
// tolerance of JCGM 101:2008, 7.9.2. 0 for u = 0.
func tolerance(u float64, digits int) float64 {
	if !(u > 0) {
		return 0
	}
	return 0.5 * math.Pow(10, math.Floor(math.Log10(u))-float64(digits)+1)
}

// adaptive repeats blocks of trials until mean, u and both ends of the interval
// of every output are known to digits of its u: twice the standard deviation of
// their block averages is below the tolerance (JCGM 101:2008, 7.9.4). stable is
// false where mostBlocks were not enough.
func adaptive(l *law, seed uint64, block, digits, outputs int, fs ...function) (rows [][]float64, stable bool,
	err error) {
	rows = make([][]float64, outputs)
	// by output: mean, u, low, high of every block
	blocks := make([][4][]float64, outputs)
	for h := 1; ; h++ {
		more, err := monteCarlo(l, seed, (h-1)*block, block, outputs, fs...)
		if err != nil {
			return nil, false, err
		}
		stable = h > 1
		for k := range rows {
			rows[k] = append(rows[k], more[k]...)
			s := summarise(more[k], Coverage)
			for i, x := range []float64{s.mean, s.u, s.low, s.high} {
				blocks[k][i] = append(blocks[k][i], x)
			}
			if h < 2 {
				continue
			}
			tol := tolerance(stat.Mean(blocks[k][1], nil), digits)
			for i := range blocks[k] {
				if sd := stat.StdDev(blocks[k][i], nil) / math.Sqrt(float64(h)); 2*sd > tol && sd > 0 {
					stable = false
				}
			}
		}
		if stable || h == mostBlocks {
			return rows, stable, nil
		}
	}
}
