package capture

import (
	"iter"
	"math"
	"slices"
	"time"

	"sealworthy/instruments"
)

// Sums is what the readings of one quantity by one instrument say together: all that is
// asked of a draw that is steady.
type Sums struct {
	N             int           // with a value
	Mean, Scatter float64       // in the unit of the readings; Scatter: standard deviation of one
	Least, Most   float64       // of those with a value
	HalfWidth     float64       // the largest of those with a value
	Overloads     int           // replies that were one
	Unusable      int           // held, or no number
	Ranges        int           // different ones, of those with a value
	Range         string        // of the last reading
	First, Last   time.Time     // of all, with a value or without: the ends of their windows
	FirstWindow   time.Duration // of the first one
	Window        time.Duration // of the last one with a value
}

// summing makes Sums of readings as they come.
type summing struct {
	Sums
	zero, off, off2 float64 // the first value; how far the others are off it, and its square
	ranges          []string
}

// mostRanges of one instrument are told apart.
const mostRanges = 16

func (s *summing) add(x instruments.Reading) {
	if s.First.IsZero() {
		s.First, s.FirstWindow = x.At, x.Window
	}
	s.Last, s.Range = x.At, x.Range
	v, ok := x.Float()
	switch {
	case x.Status == instruments.Overload:
		s.Overloads++
		return
	case !ok:
		s.Unusable++
		return
	}
	if !slices.Contains(s.ranges, x.Range) && len(s.ranges) < mostRanges {
		s.ranges = append(s.ranges, x.Range)
		s.Ranges++
	}
	if s.N == 0 {
		s.zero, s.Least, s.Most = v, v, v
	}
	s.N++
	s.off += v - s.zero
	s.off2 += (v - s.zero) * (v - s.zero)
	s.Least, s.Most = min(s.Least, v), max(s.Most, v)
	s.HalfWidth, s.Window = max(s.HalfWidth, x.HalfWidth), x.Window
}

// SumsOf is what readings say together.
func SumsOf(rs iter.Seq[instruments.Reading]) Sums {
	var s summing
	for x := range rs {
		s.add(x)
	}
	return s.sums()
}

// sums gives what was added so far. The scatter is the standard deviation of single
// readings: sqrt((sum of d^2 - (sum of d)^2/n) / (n-1)), d from the first one, which lies
// among the others, so that the difference keeps its digits.
func (s *summing) sums() Sums {
	out := s.Sums
	if n := float64(s.N); s.N > 0 {
		out.Mean = s.zero + s.off/n
		if s.N > 1 {
			out.Scatter = math.Sqrt(math.Max(0, s.off2-s.off*s.off/n) / (n - 1))
		}
	}
	return out
}
