package blink

import (
	"math"
	"sort"
)

// solution is one refined pace.
type solution struct {
	m    model
	p    params
	off  float64
	amp  float64
	m2l  float64 // -2 ln likelihood
	chi2 float64
	chi  float64 // per degree of freedom
}

func (s *solution) hz() float64 { return s.p[pHz] }

// sameHz reports whether two paces differ by less than the 2 % that a verdict
// cares about.
func sameHz(a, b float64) bool { return math.Abs(a-b) <= 0.02*math.Min(a, b) }

// search holds what the steps of a free fit share.
type search struct {
	d    *trace
	scan *scanner
	fit  *fitter
	hz   []float64
	// Filled while rectangles are looked for, used by patterns.
	spreads  []start
	fine     *scanner
	anyPaces []start
	roughs   []rough // room
	starts   []start // room
}

func newSearch(d *trace) *search {
	s := &search{d: d, scan: newScanner(d, scanEdges), hz: d.grid()}
	s.fit = newFitter(d, part{model: flashes(1), p: params{1, 0, 0.5, 0}})
	return s
}

// rectangles refines the best single flashes: the eight best minima of the
// scan, what they might be a multiple of, and their mirrors at the peaks of
// the sampling.
func (s *search) rectangles() []solution {
	all := make([]start, 0, len(s.hz))
	s.spreads = make([]start, len(s.hz))
	for i, f := range s.hz {
		s.scan.prepare(f)
		all = append(all, s.scan.rectangle(f))
		s.spreads[i] = start{hz: f, cost: s.scan.spread()}
	}
	peaks := s.d.samplingPeaks()
	// A light faster than the readings may be what looks like a slow one, or
	// like several flashes at a half of its pace.
	step := 1 / (5 * s.d.spanS)
	for f := s.d.maxHz; f < s.d.mirrorHz && len(all) < maxGrid; f += step {
		s.scan.prepare(f)
		all = append(all, s.scan.rectangle(f))
	}
	picked := lowest(all, 8)
	list := s.related(picked, peaks)
	for _, f := range list {
		s.scan.prepare(f)
		picked = append(picked, s.scan.rectangle(f))
	}
	return s.refineAll(flashes(1), s.worthwhile(picked))
}

// lowest returns the n lowest local minima.
func lowest(all []start, n int) []start {
	var low []start
	for i := range all {
		if (i == 0 || all[i].cost <= all[i-1].cost) && (i+1 == len(all) || all[i].cost < all[i+1].cost) {
			low = append(low, all[i])
		}
	}
	sort.SliceStable(low, func(i, j int) bool { return low[i].cost < low[j].cost })
	return low[:min(n, len(low))]
}

// related returns multiples, fractions and mirrors of paces that aren't
// among them.
func (s *search) related(picked []start, peaks []float64) []float64 {
	var out []float64
	seen := func(f float64) bool {
		for _, p := range picked {
			if math.Abs(p.hz-f) < 0.15/s.d.spanS {
				return true
			}
		}
		for _, o := range out {
			if math.Abs(o-f) < 0.15/s.d.spanS {
				return true
			}
		}
		return false
	}
	add := func(f, most float64) {
		if f >= s.d.minHz && f <= most && !seen(f) {
			out = append(out, f)
		}
	}
	for _, p := range picked {
		for _, m := range []float64{2, 1.0 / 2, 3, 1.0 / 3} {
			add(p.hz*m, s.d.maxHz)
		}
		for _, q := range peaks {
			add(math.Abs(q-p.hz), s.d.mirrorHz)
			add(q+p.hz, s.d.mirrorHz)
		}
	}
	return out
}

// worthwhile drops starts that are hopeless beside the best. The grid is
// coarse: a true pace may start at a few per cent of the variance.
func (s *search) worthwhile(in []start) []start {
	sort.SliceStable(in, func(i, j int) bool { return in[i].cost < in[j].cost })
	if len(in) == 0 {
		return in
	}
	limit := 3*in[0].cost + 0.08*s.d.squares
	for i := range in {
		if i >= 4 && in[i].cost > limit {
			return in[:i]
		}
	}
	return in[:min(len(in), 40)]
}

// Limits of a refinement.
const (
	roughKept    = 6    // starts refined to the end whatever they leave
	roughMost    = 16   // and at most
	roughWorse   = 8.0  // times the best's cost: beyond, a start is given up half-way
	polishedBest = 3    // rough solutions polished in any case
	polishWorse  = 5.0  // times the best's cost: beyond, a rough solution isn't polished
	hopelessChi  = 20.0 // no polishing brings this down to a fit
)

type rough struct {
	p    params
	cost float64
}

// refineAll brings starts to their best parameters; those that stay far
// behind are left out, and where the best ones are hopeless, so are the rest.
func (s *search) refineAll(m model, starts []start) []solution {
	r := s.roughs[:0]
	for _, st := range starts {
		s.fit.set(s.part(m, st.p))
		s.fit.flatWeights()
		c := s.fit.descend(4, 0.08)
		r = append(r, rough{s.fit.parts[0].p, c})
	}
	s.roughs = r
	sort.SliceStable(r, func(i, j int) bool { return r[i].cost < r[j].cost })
	for i := range r {
		if i >= roughMost || (i >= roughKept && r[i].cost > roughWorse*r[0].cost) {
			r = r[:i]
			break
		}
		s.fit.set(s.part(m, r[i].p))
		s.fit.flatWeights()
		r[i].cost = s.fit.descend(4, 0.02)
		r[i].p = s.fit.parts[0].p
	}
	sort.SliceStable(r, func(i, j int) bool { return r[i].cost < r[j].cost })
	var out []solution
	hopeless := 0
	for i, c := range r {
		if (i >= polishedBest && c.cost > polishWorse*r[0].cost) || hopeless >= polishedBest {
			break
		}
		if again(out, c.p[pHz], s.d.spanS) {
			continue
		}
		x := s.polish(m, c.p)
		if out = append(out, x); x.chi > hopelessChi {
			hopeless++
		} else {
			hopeless = math.MinInt
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].m2l < out[j].m2l })
	return out
}

// again reports whether a pace ended where a better one did.
func again(out []solution, hz, span float64) bool {
	for i := range out {
		if math.Abs(out[i].hz()-hz) < 0.02/span {
			return true
		}
	}
	return false
}

func (s *search) part(m model, p params) part {
	reach := 0.6 / s.d.spanS
	q := part{model: m, p: p, low: math.Max(p[pHz]-reach, s.d.slowest()), high: p[pHz] + reach}
	q.clamp(&q.p)
	return q
}

// polish gives a start its final weights and parameters.
func (s *search) polish(m model, p params) solution {
	s.fit.set(s.part(m, p))
	s.fit.flatWeights()
	s.fit.respond(-1)
	s.fit.solveLevels()
	m2l, chi2 := s.fit.polish(3)
	return solution{m: m, p: s.fit.parts[0].p, off: s.fit.levels[0], amp: s.fit.levels[1],
		m2l: m2l, chi2: chi2, chi: chi2 / math.Max(float64(len(s.d.t)-s.fit.nl-s.fit.lin), 1)}
}

// fades refines sines and ramps at given paces, where they have a chance
// beside what was found already.
func (s *search) fades(hz []float64, beside *solution) []solution {
	var out []solution
	sine, ramp := fade(Sine), fade(Ramp)
	for _, f := range hz {
		p := params{f, s.fundamental(f), 0.5, 0}
		if s.promising(sine, p, beside) {
			out = append(out, s.refineAll(sine, []start{{f, 0, p}})...)
		}
		// A ramp's steepest side may be either: start it both ways too.
		starts := s.starts[:0]
		for _, share := range []float64{0.15, 0.5, 0.85} {
			// The peak stays where the sine has it: half a period after its trough.
			q := p
			q[pA], q[pPhase] = share, p[pPhase]+0.5-share
			if s.promising(ramp, q, beside) {
				starts = append(starts, start{f, 0, s.fit.parts[0].p})
			}
		}
		s.starts = starts
		b := s.refineAll(ramp, starts)
		out = append(out, b[:min(1, len(b))]...)
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].m2l < out[j].m2l })
	return out
}

// promising reports whether a waveform explains half of the change as it
// stands and, after a few steps, comes near to what was found already.
func (s *search) promising(m model, p params, beside *solution) bool {
	n := float64(len(s.d.t))
	s.fit.set(s.part(m, p))
	s.fit.flatWeights()
	s.fit.respond(-1)
	noise := s.d.noise * s.d.noise
	if s.fit.solveLevels()*noise > 0.5*s.d.squares+2*n*noise {
		return false
	}
	s.fit.descend(4, 0.08)
	s.fit.reweigh()
	s.fit.solveLevels()
	m2l, chi2 := s.fit.misfit()
	return m2l < 2*math.Max(beside.m2l, 0)+100 || chi2 < 2*math.Max(worstChi, beside.chi)*n
}

// fundamental returns the phase of the trough of the best sine at a pace.
func (s *search) fundamental(hz float64) float64 {
	a := sineSums(s.d.t, s.d.y, s.d.mean, hz, s.d.window/2)
	// y ~ c cos + d sin is lowest where its phase is half a period from the peak.
	return math.Atan2(a.sin, a.cos)/(2*math.Pi) + 0.5
}

type sums struct{ cos, sin float64 }

// sineSums correlates centred readings with a cosine and a sine.
func sineSums(t, y []float64, mean, hz, back float64) sums {
	var a sums
	for i, v := range y {
		sn, cs := math.Sincos(2 * math.Pi * hz * (t[i] - back))
		a.cos += (v - mean) * cs
		a.sin += (v - mean) * sn
	}
	return a
}
