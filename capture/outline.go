package capture

import (
	"slices"
	"time"

	"sealworthy/instruments"
)

// outline is what a picture needs of a trace of any length: of each of many stretches of
// time the first, the last, the least and the most, so that no dip or spike gets lost.
// Where there would be too many stretches, two become one.
type outline struct {
	begun time.Time
	width time.Duration
	bins  []stretch
}

// mostStretches are more than a picture has columns, also just after they were halved.
const mostStretches = 8192

// stretch is what is kept of one. lost is a reply without a value.
type stretch struct {
	n                        int
	first, least, most, last spot
	lost                     spot
	status                   instruments.Status // of what was lost; empty: nothing was
}

type spot struct {
	at int64 // ns since 1970
	v  float64
}

func (o *outline) add(x instruments.Reading) {
	if len(o.bins) == 0 {
		o.begun = x.At
	}
	i := o.at(x.At)
	for i >= mostStretches {
		o.halve()
		i = o.at(x.At)
	}
	for len(o.bins) <= i {
		o.bins = append(o.bins, stretch{})
	}
	v, ok := x.Float()
	o.bins[i].add(spot{x.At.UnixNano(), v}, x.Status, ok)
}

// at is in which stretch a time lies; one before the first counts to it.
func (o *outline) at(t time.Time) int { return int(max(0, t.Sub(o.begun)/o.width)) }

func (s *stretch) add(x spot, status instruments.Status, ok bool) {
	switch {
	case !ok:
		s.lost, s.status = x, status
		return
	case s.n == 0:
		s.first, s.least, s.most = x, x, x
	case x.v < s.least.v:
		s.least = x
	case x.v > s.most.v:
		s.most = x
	}
	s.last = x
	s.n++
}

func (o *outline) halve() {
	o.width *= 2
	n := (len(o.bins) + 1) / 2
	for i := range n {
		both := o.bins[2*i]
		if 2*i+1 < len(o.bins) {
			both = both.and(o.bins[2*i+1])
		}
		o.bins[i] = both
	}
	o.bins = o.bins[:n]
}

func (s stretch) and(b stretch) stretch {
	if b.status != "" {
		s.lost, s.status = b.lost, b.status
	}
	switch {
	case b.n == 0:
		return s
	case s.n == 0:
		b.lost, b.status = s.lost, s.status
		return b
	}
	s.n, s.last = s.n+b.n, b.last
	if b.least.v < s.least.v {
		s.least = b.least
	}
	if b.most.v > s.most.v {
		s.most = b.most
	}
	return s
}

// each gives what is kept, in order; like says what else is to be said of a reading.
func (o *outline) each(like instruments.Reading, yield func(instruments.Reading) bool) bool {
	for _, s := range o.bins {
		var all []spot
		if s.n > 0 {
			all = append(all, s.first, s.least, s.most, s.last)
		}
		if s.status != "" {
			all = append(all, s.lost)
		}
		slices.SortStableFunc(all, func(a, b spot) int { return time.Unix(0, a.at).Compare(time.Unix(0, b.at)) })
		for _, p := range slices.Compact(all) {
			x := like
			x.At, x.Status = time.Unix(0, p.at).UTC(), instruments.OK
			if s.status != "" && p == s.lost {
				x.Status = s.status
			} else {
				v := p.v
				x.Value = &v
			}
			if !yield(x) {
				return false
			}
		}
	}
	return true
}
