package plots

import (
	"cmp"
	"iter"
	"slices"
)

// Pause is a stretch of a long trace in which nothing was read; seconds.
type Pause struct{ FromS, ToS float64 }

// A trace of more readings than mostDrawn is thinned to stretches of time before it is
// drawn: several to each column of the largest picture.
const (
	mostDrawn = 50000
	stretches = 10000
	pauseOf   = 4 // times the mean spacing: nothing was read
)

// reply is a reading as it is drawn; without a value only its time is.
type reply struct {
	Sample
	ok bool
}

// take fills in the readings, or what stands for those of a long step. Where they are
// many they are gone through twice rather than held.
func (d *TraceData) take(long bool, all iter.Seq[reply]) {
	n, firstS, lastS := 0, 0.0, 0.0
	for x := range all {
		if n == 0 {
			firstS = x.S
		}
		n, lastS = n+1, x.S
		if x.ok && (!finite(d.SettledS) || x.S >= d.SettledS) {
			d.Read++
		}
	}
	if (long || n > mostDrawn) && lastS > firstS {
		d.takeThinned(all, n, firstS, lastS)
		return
	}
	for x := range all {
		if x.ok {
			d.Samples = append(d.Samples, x.Sample)
		} else {
			d.Overloads = append(d.Overloads, x.S)
		}
	}
}

// takeThinned keeps of each stretch the first, the last, the least and the most, so
// that no dip or spike gets lost, one time without a value, and where a pause was.
func (d *TraceData) takeThinned(all iter.Seq[reply], n int, firstS, lastS float64) {
	d.Thinned = true
	spacing := (lastS - firstS) / float64(n-1)
	stretch := func(s float64) int { return int((s - firstS) / (lastS - firstS) * stretches) }
	var kept extremes
	overload, beforeS := -1, firstS
	for x := range all {
		at := stretch(x.S)
		if x.S-beforeS > pauseOf*spacing {
			d.Samples = kept.into(d.Samples)
			d.Pauses = append(d.Pauses, Pause{beforeS, x.S})
		}
		beforeS = x.S
		if !x.ok {
			if overload != at {
				d.Overloads, overload = append(d.Overloads, x.S), at
			}
			continue
		}
		if kept.n > 0 && stretch(kept.first.S) != at {
			d.Samples = kept.into(d.Samples)
		}
		kept.add(x.Sample)
	}
	d.Samples = kept.into(d.Samples)
}

// extremes are what is kept of a stretch.
type extremes struct {
	n                        int
	first, last, least, most Sample
}

func (e *extremes) add(x Sample) {
	if e.n == 0 {
		*e = extremes{first: x, least: x, most: x}
	}
	if e.n++; x.A < e.least.A {
		e.least = x
	}
	if x.A > e.most.A {
		e.most = x
	}
	e.last = x
}

// into appends what is kept, in order, and begins anew.
func (e *extremes) into(out []Sample) []Sample {
	if e.n == 0 {
		return out
	}
	four := []Sample{e.first, e.least, e.most, e.last}
	slices.SortStableFunc(four, func(a, b Sample) int { return cmp.Compare(a.S, b.S) })
	*e = extremes{}
	return append(out, slices.Compact(four)...)
}

// betweenPauses splits the samples of a thinned trace where nothing was read, and at a
// reply without a value.
func (d TraceData) betweenPauses() [][]Sample {
	breaks := make([]float64, 0, len(d.Pauses)+len(d.Overloads))
	for _, p := range d.Pauses {
		breaks = append(breaks, p.ToS)
	}
	breaks = append(breaks, d.Overloads...)
	slices.Sort(breaks)
	var out [][]Sample
	rest := d.Samples
	for _, b := range breaks {
		i, _ := slices.BinarySearchFunc(rest, b, func(x Sample, s float64) int {
			if x.S < s {
				return -1
			}
			return 1
		})
		if i > 0 {
			out = append(out, rest[:i])
		}
		rest = rest[i:]
	}
	if len(rest) > 0 {
		out = append(out, rest)
	}
	return out
}
