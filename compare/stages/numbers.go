package stages

import "slices"

// median of a list, which it sorts.
func median(x []float64) float64 {
	slices.Sort(x)
	return x[len(x)/2]
}
