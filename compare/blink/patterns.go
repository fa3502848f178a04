package blink

import (
	"math"
	"sort"

	"sealworthy/compare/linear"
)

// Limits of the search for patterns.
const (
	patternPaces = 24   // paces looked at, of those at which any waveform fits best
	patternFine  = 5    // of these, paces looked at finely
	patternLeft  = 0.25 // of the variance: where no waveform leaves less, no pattern will
	patternKept  = 3    // starts kept of one pace
)

// paces returns the few paces at which waveforms of any kind fit best, each
// brought to the best one nearby: the grid of the scan is so coarse that
// short flashes are smeared at both ends of the trace.
func (s *search) paces() []start {
	if s.anyPaces != nil {
		return s.anyPaces
	}
	coarse := lowest(s.spreads, patternPaces)
	for i := range coarse {
		s.scan.prepare(coarse[i].hz)
		coarse[i].cost = s.scan.anyWaveform()
	}
	sort.SliceStable(coarse, func(i, j int) bool { return coarse[i].cost < coarse[j].cost })
	if s.fine == nil {
		s.fine = newScanner(s.d, fineEdges)
	}
	out := make([]start, 0, patternFine)
	for _, c := range coarse[:min(len(coarse), patternFine)] {
		best := start{cost: math.Inf(1)}
		for i := -3; i <= 3; i++ {
			hz := c.hz + float64(i)/(24*s.d.spanS)
			if hz < s.d.slowest() { // a short trace's steps reach below nothing
				continue
			}
			s.fine.prepare(hz)
			if cost := s.fine.anyWaveform(); cost < best.cost {
				best = start{hz: hz, cost: cost}
			}
		}
		out = append(out, best)
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].cost < out[j].cost })
	s.anyPaces = out
	return out
}

// patterns looks for n flashes and a pause.
func (s *search) patterns(n int) []solution {
	paces := s.paces()
	noise := float64(len(s.d.t)) * s.d.noise * s.d.noise
	if len(paces) == 0 || paces[0].cost > patternLeft*s.d.squares+2*noise {
		return nil
	}
	var starts []start
	for _, p := range paces {
		if p.cost > 3*paces[0].cost+0.1*s.d.squares {
			break
		}
		s.fine.prepare(p.hz)
		starts = s.fine.pattern(starts, p.hz, n)
	}
	return s.refineAll(flashes(n), s.worthwhile(starts))
}

// anyWaveform returns the residual sum of squares, with a penalty for each
// parameter, of a free staircase at the frequency last prepared.
func (s *scanner) anyWaveform() float64 {
	m := s.edges - 1
	a, b := s.chol[:m*m], s.rhs[:m]
	trace := 0.0
	for i := range m {
		trace += s.gram[(i+1)*(s.edges+1)]
	}
	for i := range m { // no cell lies before the first edge
		copy(a[i*m:i*m+i+1], s.gram[(i+1)*s.edges+1:])
		a[i*m+i] += 2e-3*trace/float64(m) + 1e-12
		b[i] = s.with[i+1]
	}
	if !linear.Solve(a, b, m) {
		return s.d.squares
	}
	gain := 0.0
	for i := range m {
		gain += b[i] * s.with[i+1]
	}
	return s.d.squares - gain
}

// pattern appends the best patterns of n equal flashes and a pause on the
// grid, at the frequency last prepared: the best of each spacing, then the
// best few of these.
func (s *scanner) pattern(to []start, hz float64, n int) []start {
	edges := s.edges
	floor := 1e-9 * float64(len(s.d.t))
	var found [fineEdges]start
	spacings := 0
	for gap := 2; gap*n < edges; gap++ {
		best := start{hz: hz, cost: math.Inf(1)}
		for lit := 1; lit < gap; lit++ {
			for from := range edges {
				if p, norm := s.flashes(n, from, gap, lit); p > 0 && norm > floor && s.d.squares-p*p/norm < best.cost {
					best.cost = s.d.squares - p*p/norm
					best.p = params{hz, float64(from) / float64(edges), float64(lit) / float64(edges),
						float64(gap) / float64(edges)}
				}
			}
		}
		if best.cost < math.Inf(1) {
			found[spacings] = best
			spacings++
		}
	}
	list := found[:spacings]
	sort.SliceStable(list, func(i, j int) bool { return list[i].cost < list[j].cost })
	return append(to, list[:min(len(list), patternKept)]...)
}

// flashes returns the response of n flashes times the readings, and times itself.
func (s *scanner) flashes(n, from, gap, lit int) (p, norm float64) {
	var at [2 * maxFlashes]int
	edges := s.edges
	for i := range n {
		on := from + i*gap
		if on >= edges {
			on -= edges
		}
		off := on + lit
		if off >= edges {
			off -= edges
		}
		at[2*i], at[2*i+1] = on, off
		p += s.with[off] - s.with[on]
	}
	if p <= 0 {
		return 0, 0
	}
	for a := range 2 * n {
		row := s.gram[at[a]*edges:][:edges]
		norm += row[at[a]]
		for b := range a {
			if (a+b)%2 == 0 {
				norm += 2 * row[at[b]]
			} else {
				norm -= 2 * row[at[b]]
			}
		}
	}
	return p, norm
}
