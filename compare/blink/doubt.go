package blink

import (
	"math"
	"sort"
)

// Limits of what makes a duty doubtful.
const (
	otherDuties  = 4   // other lengths of a flash tried
	otherMisfit  = 4.0 // in -2 ln likelihood: another length within this fits as well
	gapOverShare = 2.5 // of the largest gap that unrelated phases would leave
)

// otherDuty looks for a flash of quite another length that fits about as well
// at the same pace, and returns how far off it is; 0 when there's none.
// Uncertainties about the best fit know nothing of a second one.
func (q *search) otherDuty(s *solution, u float64) float64 {
	if q.scan == nil {
		q.scan = newScanner(q.d, scanEdges)
	}
	q.scan.prepare(s.hz())
	var by [scanEdges]start
	starts := q.scan.lengths(by[:0], s.hz())
	apart := math.Max(3*u, 1.5/scanEdges)
	sort.SliceStable(starts, func(i, j int) bool { return starts[i].cost < starts[j].cost })
	far, tried := 0.0, 0
	for _, st := range starts {
		if math.Abs(st.p[pA]-s.p[pA]) < apart || st.cost > 0.5*q.d.squares {
			continue
		}
		if tried++; tried > otherDuties {
			break
		}
		q.fit.set(q.part(s.m, st.p))
		q.fit.flatWeights()
		q.fit.descend(4, 0.02)
		q.fit.reweigh()
		q.fit.respond(-1)
		q.fit.solveLevels()
		if m2l, _ := q.fit.misfit(); m2l > 2*math.Max(s.m2l, 0)+100*q.d.scale(s.chi) {
			continue // polishing won't bring it so far down
		}
		other := q.polish(s.m, q.fit.parts[0].p)
		off := math.Abs(other.p[pA] - s.p[pA])
		if off > 3*u && (other.m2l-s.m2l)/q.d.scale(s.chi) < otherMisfit {
			far = math.Max(far, off)
		}
	}
	return far
}

// lengths appends the best place for each length of a flash on the grid.
func (s *scanner) lengths(to []start, hz float64) []start {
	edges := s.edges
	for lit := 1; lit < edges; lit++ {
		best := start{hz: hz, cost: math.Inf(1)}
		for i := range edges {
			j := (i + lit) % edges
			p := s.with[j] - s.with[i]
			norm := s.gram[i*edges+i] + s.gram[j*edges+j] - 2*s.gram[i*edges+j]
			if p > 0 && norm > 1e-9*float64(len(s.d.t)) && s.d.squares-p*p/norm < best.cost {
				best.cost = s.d.squares - p*p/norm
				best.p = params{hz, float64(i) / float64(edges), float64(lit) / float64(edges), 0}
			}
		}
		if best.cost < math.Inf(1) {
			to = append(to, best)
		}
	}
	return to
}

// unseen is the widest span of a period, in seconds, in which no window ever
// ends, where it's wider than chance and stamps would leave it; else 0. Readings
// at an even spacing that the period is a multiple of see the same few
// phases over and over, and the scatter of their stamps only feigns more.
func (q *search) unseen(hz float64) float64 {
	d := q.d
	n := len(d.t)
	x := make([]float64, n)
	for i, t := range d.t {
		x[i] = t*hz - math.Floor(t*hz)
	}
	sort.Float64s(x)
	gap := x[0] + 1 - x[n-1]
	for i := 1; i < n; i++ {
		gap = math.Max(gap, x[i]-x[i-1])
	}
	if gap < gapOverShare*math.Log(float64(n))/float64(n) || gap/hz < 4*d.stampStd {
		return 0
	}
	return gap / hz
}
