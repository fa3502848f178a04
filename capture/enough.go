package capture

import (
	"math"

	"sealworthy/instruments"
)

// scatter is what the readings of a steady draw say of their own mean.
type scatter struct {
	all  []float64 // A, in order
	lost bool      // a reading had no value: then it is read in full
}

// restScatter begins with the readings by which the draw was found at rest.
func (e *engine) restScatter() (s scatter) {
	for _, r := range e.rec.Readings {
		if r.Instrument == e.mainName() && r.Quantity == instruments.Current && !r.At.Before(e.early.rest) {
			s.add(&r)
		}
	}
	return s
}

// add takes a reading over.
func (s *scatter) add(r *instruments.Reading) {
	if r == nil {
		return
	}
	v, ok := r.Float()
	s.lost = s.lost || !ok
	s.all = append(s.all, v)
}

// enough: the mean is known so well that more readings change no decision.
func (s *scatter) enough(e Enough) bool {
	n := len(s.all)
	return e.Readings > 0 && !s.lost && n >= max(e.Readings, 4) && s.u() <= e.UA
}

// u is the standard uncertainty of the mean, A: the deviation of the mean (JCGM
// 100:2008, 4.2.3), and beside it half of what the later half lies off the earlier
// one, for a draw that drifts.
func (s *scatter) u() float64 {
	n := float64(len(s.all))
	var all, older, newer mean
	for i, v := range s.all {
		all.add(v)
		switch {
		case 2*i < len(s.all)-1:
			older.add(v)
		case 2*i > len(s.all)-1: // of an odd number the middle one is in neither
			newer.add(v)
		}
	}
	square := 0.0
	for _, v := range s.all {
		square += (v - all.value()) * (v - all.value())
	}
	return math.Hypot(math.Sqrt(square/(n-1)/n), (newer.value()-older.value())/2)
}
