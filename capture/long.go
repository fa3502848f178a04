package capture

import (
	"iter"
	"slices"
	"time"

	"sealworthy/instruments"
)

// A series of more than mostWhole readings, as of a soak, is held as sums, outlines and
// its latest readings: those of the last heldFor, or of the last mostHeld.
const (
	mostWhole = 1 << 16
	mostHeld  = 1 << 14
	heldFor   = 4 * time.Minute
)

// long is what is held of a series that isn't held whole.
type long struct {
	order    []quantityOf
	sums     map[quantityOf]*summing // of the trace: from settled on, up to the sweep
	whole    map[quantityOf]*summing // of all
	outlines map[quantityOf]*outline // of all
	// latest follow before, which goes when latest alone are enough.
	before, latest *Series
	latestFrom     time.Time
}

// quantityOf is what one instrument reads of one quantity.
type quantityOf struct {
	instrument string
	quantity   instruments.Quantity
}

func newLong() *long {
	return &long{sums: map[quantityOf]*summing{}, whole: map[quantityOf]*summing{},
		outlines: map[quantityOf]*outline{}, latest: &Series{}}
}

// lengthen goes over to what is held of a long series.
func (s *Series) lengthen() {
	all := *s
	*s = Series{settled: s.settled, swept: s.swept, last: s.last, n: s.n, long: newLong()}
	width := time.Millisecond
	for x := range all.All() {
		width = max(width, s.last.Sub(x.At)/(mostStretches/2))
		break
	}
	for x := range all.All() {
		s.long.add(s, x, width)
	}
}

func (l *long) add(s *Series, x instruments.Reading, width time.Duration) {
	switch n := l.latest.Len(); {
	case n == 0:
		l.latestFrom = x.At
	case n >= mostHeld, x.At.Sub(l.latestFrom) >= heldFor:
		l.latest.End()
		l.before, l.latest, l.latestFrom = l.latest, &Series{}, x.At
	}
	l.latest.Add(x)
	k := quantityOf{x.Instrument, x.Quantity}
	if x.Quantity == instruments.Current {
		o := l.outlines[k]
		if o == nil {
			o = &outline{width: width}
			l.outlines[k], l.order = o, append(l.order, k)
		}
		o.add(x)
	}
	if l.whole[k] == nil {
		l.whole[k] = &summing{}
	}
	l.whole[k].add(x)
	l.sum(s, k, x)
}

func (l *long) sum(s *Series, k quantityOf, x instruments.Reading) {
	if s.settled.IsZero() || x.At.Before(s.settled) || !s.swept.IsZero() && x.At.After(s.swept) {
		return
	}
	if l.sums[k] == nil {
		l.sums[k] = &summing{}
	}
	l.sums[k].add(x)
}

// all gives the latest readings.
func (l *long) all(yield func(instruments.Reading) bool) {
	for _, s := range []*Series{l.before, l.latest} {
		for x := range s.All() {
			if !yield(x) {
				return
			}
		}
	}
}

// SettledAt says when the step settled, SweptFrom when its sweep began: what lies between
// them is its trace.
func (s *Series) SettledAt(t time.Time) {
	if s == nil {
		return
	}
	if s.settled = t; s.long != nil { // late: what is held is all that can belong to the trace
		clear(s.long.sums)
		for x := range s.All() {
			s.long.sum(s, quantityOf{x.Instrument, x.Quantity}, x)
		}
	}
}

// SweptFrom: see SettledAt.
func (s *Series) SweptFrom(t time.Time) {
	if s != nil && s.swept.IsZero() {
		s.swept = t
	}
}

// Sums gives what all readings of the trace say, of a step so long that only the latest of
// them are held; false for any other, which has them all.
func (r StepRecord) Sums(instrument string, q instruments.Quantity) (Sums, bool) {
	if r.Kept == nil || r.Kept.long == nil {
		return Sums{}, false
	}
	if s := r.Kept.long.sums[quantityOf{instrument, q}]; s != nil {
		return s.sums(), true
	}
	return Sums{}, true
}

// SumsBefore gives what all readings of what was on before say, where there are so many that
// only the latest are held; false for any other, which has them all.
func (r StepRecord) SumsBefore(instrument string, q instruments.Quantity) (Sums, bool) {
	if r.KeptBase == nil || r.KeptBase.long == nil {
		return Sums{}, false
	}
	if s := r.KeptBase.long.whole[quantityOf{instrument, q}]; s != nil {
		return s.sums(), true
	}
	return Sums{}, true
}

// Drawn is how many readings of current with a value by one instrument Outline stands for,
// of a long step; false for any other.
func (r StepRecord) Drawn(instrument string) (n int, long bool) {
	if r.Kept == nil || r.Kept.long == nil {
		return 0, false
	}
	if o := r.Kept.long.outlines[quantityOf{instrument, instruments.Current}]; o != nil {
		for _, s := range o.bins {
			n += s.n
		}
	}
	return n, true
}

// Outline gives the readings of current that a picture needs: all, or of a long step the
// first, the last, the least and the most of each of many stretches, by each instrument.
func (r StepRecord) Outline() iter.Seq[instruments.Reading] {
	if r.Kept == nil || r.Kept.long == nil {
		return r.All()
	}
	return func(yield func(instruments.Reading) bool) {
		for _, k := range slices.Clone(r.Kept.long.order) {
			like := instruments.Reading{Instrument: k.instrument, Quantity: k.quantity, Unit: "A"}
			if !r.Kept.long.outlines[k].each(like, yield) {
				return
			}
		}
	}
}
