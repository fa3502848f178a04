package blink

import (
	"math"
	"sealworthy/compare/linear"
)

// tiedSearch finds the best pace of outputs in turn near the expected one, or
// with a reach of zero over all that the trace allows. It reports whether the
// best wasn't at the border.
func (f *fitter) tiedSearch(e *expected, n int, reach float64, phases int) bool {
	d := f.d
	hz := 1 / e.period
	// Where one output doesn't blink, the other is taken for both at half its frequency.
	low, high := hz*math.Max(1-reach, 0.51*(1+e.tol.PeriodRel)), hz*(1+reach)
	if reach == 0 {
		low, high = math.Max(d.minHz, hz/4), math.Min(d.maxHz, 4*hz)
	}
	step := 1 / (5 * d.spanS)
	var all []start
	f.flatWeights()
	parts := make([]part, n)
	place := func(p params) {
		for j := range parts {
			parts[j] = part{model: e.m, p: p, low: p[pHz] - 0.6/d.spanS, high: p[pHz] + 0.6/d.spanS,
				leastA: math.Max(e.first-e.tol.DutyAbs-0.1, 0.02), mostA: e.first + e.tol.DutyAbs + 0.1}
			parts[j].low = math.Max(parts[j].low, math.Min(low, p[pHz]))
			parts[j].p[pPhase] += float64(j) / float64(n)
		}
		f.set(parts...)
	}
	firsts := []float64{e.first}
	if e.nonstop(n) {
		// Like outputs show nothing but the short moments in which both are lit, or none.
		firsts, phases = append(firsts, e.first-shortMoment, e.first+shortMoment), 2*phases
	}
	for x := low; x <= high; x += step {
		best := start{cost: math.Inf(1)}
		for _, first := range firsts {
			for i := range phases {
				p := params{x, float64(i) / float64(phases), first, 0}
				place(p)
				f.respond(-1)
				if c := f.solveLevels(); c < best.cost {
					best = start{x, c, p}
				}
			}
		}
		all = append(all, best)
	}
	picked := lowest(all, 4)
	best, cost := params{hz, 0, e.first, 0}, math.Inf(1)
	for _, s := range picked {
		for _, longer := range []float64{-0.06, -0.03, -0.01, 0, 0.01, 0.03, 0.06} {
			p := s.p
			p[pA] += longer
			p[pPhase] -= longer / 2
			place(p)
			f.respond(-1)
			f.solveLevels()
			f.descend(5, 0.06)
			if c := f.descend(5, 0.02); c < cost {
				best, cost = f.parts[0].p, c
			}
		}
	}
	place(best)
	f.respond(-1)
	f.solveLevels()
	return reach == 0 || (best[pHz] > low+step/2 && best[pHz] < high-step/2)
}

// levelCovariance is the covariance of the levels of tied parts, widened by
// what other durations that fit as well make of them: at even spacing an edge
// may lie anywhere between two windows without a reading that tells.
func (f *fitter) levelCovariance(e *expected, m2l, scale float64) []float64 {
	cov, _ := f.baseCovariance()
	m, l := f.nl+f.lin, f.lin
	block := make([]float64, l*l)
	for i := range l {
		for j := range l {
			block[i*l+j] = cov[(f.nl+i)*m+f.nl+j] * scale
		}
	}
	kept := append([]part(nil), f.parts...)
	levels := append([]float64(nil), f.levels...)
	best := f.parts[0].p[pA]
	for _, side := range []float64{-1, 1} {
		var widest []float64
		for _, shift := range []float64{0.005, 0.01, 0.02, 0.04, 0.08} {
			a := best + side*shift
			if a < e.first-e.tol.DutyAbs-0.05 || a > e.first+e.tol.DutyAbs+0.05 {
				break
			}
			parts := append([]part(nil), kept...)
			for j := range parts {
				parts[j].leastA, parts[j].mostA, parts[j].p[pA] = a, a, a
				parts[j].p[pPhase] -= side * shift / 2
			}
			f.set(parts...)
			f.respond(-1)
			f.solveLevels()
			now, _ := f.polish(2)
			if now-m2l > 4*scale {
				break
			}
			widest = append([]float64(nil), f.levels...)
		}
		if widest == nil {
			continue
		}
		for i := range l {
			for j := range l {
				block[i*l+j] += (widest[i] - levels[i]) * (widest[j] - levels[j]) / 4
			}
		}
	}
	f.set(kept...)
	f.respond(-1)
	f.solveLevels()
	return block
}

// nonstop: n outputs in turn of this pace may follow each other without a dark moment.
func (e *expected) nonstop(n int) bool {
	return math.Abs(float64(n)*e.duty-1) <= float64(n)*e.tol.DutyAbs
}

// baseCovariance is the covariance of the parameters with loose knowledge of
// the base, without which outputs that leave no dark moment have none.
func (f *fitter) baseCovariance() ([]float64, bool) {
	f.respond(f.jitterSoft())
	f.fillNormal()
	m := f.nl + f.lin
	loose := math.Max(f.d.highest-math.Min(f.levels[0], f.d.mean), f.d.noise)
	f.normal[f.nl*m+f.nl] += 1 / (loose * loose)
	// An edge in a gap between windows is known to the tolerance at least.
	f.normal[2*m+2] += 3 / 0.04
	cov := make([]float64, m*m)
	ok := linear.Invert(f.normal[:m*m], cov, m)
	return cov, ok
}
