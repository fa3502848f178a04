package plots

import "slices"

// columnOf gives the column of a picture that a time falls into, of n between from and to.
func columnOf(from, to float64, n int) func(s float64) int {
	return func(s float64) int { return int((s - from) / (to - from) * float64(n)) }
}

// apart leaves the first of what falls into one column of n: marks one upon the other.
func apart(all []float64, from, to float64, n int) (out []float64) {
	column := columnOf(from, to, n)
	for i, s := range all {
		if i == 0 || column(s) != column(all[i-1]) {
			out = append(out, s)
		}
	}
	return out
}

// joined puts segments together where they are so many that most gaps between them are
// narrower than a column: those that nobody would see.
func joined(segs [][]Sample, from, to float64, n int) (out [][]Sample) {
	if len(segs) < n/4 || to <= from {
		return segs
	}
	column := columnOf(from, to, n)
	for _, s := range segs {
		if i := len(out) - 1; i >= 0 && column(out[i][len(out[i])-1].S) == column(s[0].S) {
			out[i] = slices.Concat(out[i], s)
			continue
		}
		out = append(out, s)
	}
	return out
}

// thin leaves at most some 4 samples for each of n columns: the first, the
// last, the lowest and the highest, so that no dip or spike gets lost.
func thin(seg []Sample, from, to float64, n int) []Sample {
	if len(seg) == 0 || to <= from {
		return seg
	}
	column := columnOf(from, to, n)
	if len(seg) <= 4*(column(seg[len(seg)-1].S)-column(seg[0].S)+1) {
		return seg
	}
	var out []Sample
	for i := 0; i < len(seg); {
		j, lo, hi := i, i, i
		for ; j < len(seg) && column(seg[j].S) == column(seg[i].S); j++ {
			if seg[j].A < seg[lo].A {
				lo = j
			}
			if seg[j].A > seg[hi].A {
				hi = j
			}
		}
		keep := []int{i, min(lo, hi), max(lo, hi), j - 1}
		for _, k := range slices.Compact(keep) {
			out = append(out, seg[k])
		}
		i = j
	}
	return out
}
