package blink

import (
	"fmt"
	"math"
)

// Limits of the verdicts.
const (
	steadyGain    = 40.0 // a pace must be better than a constant by this much in -2 ln likelihood: thousands are tried
	worstChi      = 4.0  // above, no pace fits
	worstRich     = 2.5  // above, no group of flashes fits: it imitates much else
	plainChi      = 1.3  // up to here a single flash is taken without trying richer shapes
	rivalMisfit   = 10.0 // another pace within this fits as well
	rivalChi      = 2.0  // and so does one with a chi below this
	rivalChiRatio = 1.5  // or within this ratio of the best
	richerGain    = 25.0 // several flashes must be better than one by this much
	mostLeft      = 0.15 // of the variance may be left by a fit where nobody stated the noise
	leastCycles   = 2.9  // three periods, less the loss at both ends
	showDutyU     = 0.03
	showOnRel     = 0.05
)

// Pace fits a pace to readings of which nothing else is known. Readings may
// come unsorted and broken: what can't be used is left out. It never returns a
// value that isn't finite. A trace longer than the search can take in (some
// 20 minutes at the default frequencies) is judged on its first part.
//
// The verdicts, in this order: steady, no-fit, ambiguous, too-short, periodic.
func Pace(s []Sample, k Known) Fit {
	d, why := newTrace(s, k, leastFree)
	if d == nil {
		return Fit{Verdict: TooShort, Why: why, Candidates: nil}
	}
	fit := Fit{Readings: len(d.t), MeanA: d.mean, MeanU: d.meanU()}
	if d.flatMisfit < steadyGain {
		return fit.steady(d)
	}
	if d.maxHz < 1.05*d.minHz || d.cycles(d.maxHz) < leastCycles {
		fit.Verdict = TooShort
		fit.Why = "the readings are too slow or too few for any pace looked for"
		return fit
	}
	q := newSearch(d)
	sols := q.all()
	if len(sols) == 0 || d.gain(sols[0].m2l, sols[0].chi2) < steadyGain {
		return fit.steady(d)
	}
	fit.judge(q, sols)
	return fit
}

// gain is by how much a fit is better than a constant, in -2 ln likelihood.
// Where nobody stated the noise it's whatever each of the two leaves.
func (d *trace) gain(m2l, chi2 float64) float64 {
	if d.noiseKnown {
		return d.flatMisfit - m2l
	}
	return float64(len(d.t))*math.Log(d.flatMisfit/math.Max(chi2, 1e-9*d.flatMisfit)) - (m2l - chi2)
}

// scale is what covariances are multiplied by: readings that scatter more
// than stated, or whose scatter nobody stated, speak for themselves.
func (d *trace) scale(chi float64) float64 {
	if d.noiseKnown {
		return math.Max(chi, 1)
	}
	return math.Max(chi, 0.05)
}

// meanU is the standard uncertainty of a plain mean of readings.
func (d *trace) meanU() float64 {
	n := float64(len(d.t))
	return math.Sqrt(math.Max(d.squares/(n-1), d.noise*d.noise) / n)
}

func (f Fit) steady(d *trace) Fit {
	f.Verdict = Steady
	f.Why = "no more change than the readings' noise"
	f.OnA, f.OffA, f.OnU, f.OffU = 0, 0, 0, 0
	f.Chi = d.flatMisfit / float64(len(d.t)-1)
	return f
}

// all returns the solutions of every shape worth trying, best first. The
// simplest shape that fits comes first: richer ones must earn their place.
func (q *search) all() []solution {
	sols := q.rectangles()
	if len(sols) == 0 {
		return nil
	}
	var hz []float64
	for i := range sols {
		if i == 0 || (sols[0].chi > plainChi && len(hz) < 10) {
			hz = append(hz, sols[i].hz())
		}
	}
	sols = merge(sols, q.fades(hz, &sols[0]), 0)
	for n := 2; n <= maxFlashes && (sols[0].chi > plainChi || !q.d.noiseKnown); n++ {
		sols = merge(sols, q.patterns(n), richerGain*q.d.scale(sols[0].chi))
	}
	return sols
}

// merge puts a richer shape's solutions beside simpler ones. When the best of
// them isn't better by the gain asked for, they're dropped: a richer shape can
// always imitate a simpler one.
func merge(plain, rich []solution, gain float64) []solution {
	if len(rich) == 0 {
		return plain
	}
	if plain[0].m2l-rich[0].m2l < gain && gain > 0 {
		return plain
	}
	out := append(append([]solution(nil), rich...), plain...)
	for i := 1; i < len(out); i++ {
		for j := i; j > 0 && out[j].m2l < out[j-1].m2l; j-- {
			out[j], out[j-1] = out[j-1], out[j]
		}
	}
	return out
}

// judge turns solutions into a verdict and values.
func (f *Fit) judge(q *search, sols []solution) {
	best := &sols[0]
	f.Chi = best.chi
	f.Cycles = q.d.cycles(best.hz())
	unexplained := !q.d.noiseKnown && best.chi2 > mostLeft*q.d.flatMisfit
	if best.chi > worstChi || unexplained || (best.m.count > 1 && q.d.noiseKnown && best.chi > worstRich) {
		f.Verdict = NoFit
		f.Why = "it changes, but no single pace fits: flicker, a step, two blinkers or a wrong window"
		return
	}
	limit := math.Max(rivalChi, rivalChiRatio*best.chi)
	rival := rivalMisfit
	if !q.d.noiseKnown {
		limit, rival = rivalChi*best.chi, rivalMisfit*q.d.scale(best.chi)
	}
	f.Verdict = Periodic
	for i := range sols {
		s := &sols[i]
		fits := s.m2l-best.m2l < rival || s.chi < limit
		if i > 0 && !fits {
			continue
		}
		if sameHz(s.hz(), best.hz()) {
			// Flashes against fades: other levels, the same pace.
			if s.m.shape != best.m.shape && s.m2l-best.m2l < rival {
				f.ShapeUnsure = true
			}
		} else {
			f.Verdict = Ambiguous
		}
		f.list(s, s.m2l-best.m2l)
	}
	if f.Verdict == Periodic && best.hz() > 1.02*q.d.maxHz {
		*f = Fit{Verdict: NoFit, Readings: f.Readings, MeanA: f.MeanA, MeanU: f.MeanU, Chi: best.chi,
			Why: "only a pace faster than the readings fits: read faster, or at uneven spacing"}
		return
	}
	f.fill(q, best)
	switch {
	case f.Verdict == Ambiguous:
		f.Why = fmt.Sprintf("%d paces fit these readings: read again with uneven spacing", len(f.Candidates))
		f.DutyShown, f.LevelsShown = false, false
	case f.Cycles < leastCycles:
		f.Verdict = TooShort
		f.Why = "fewer than three periods: read for longer"
		f.DutyShown, f.LevelsShown = false, false
	default:
		f.Why = fmt.Sprintf("one pace fits, over %.1f periods", f.Cycles)
	}
}

// list adds a candidate unless its pace is listed already.
func (f *Fit) list(s *solution, misfit float64) {
	for _, c := range f.Candidates {
		if sameHz(1/c.PeriodS, s.hz()) {
			return
		}
	}
	f.Candidates = append(f.Candidates, Candidate{PeriodS: 1 / s.hz(), Shape: s.m.shape, Count: s.m.count,
		Duty: s.m.lit(&s.p), Misfit: misfit, Chi: s.chi})
}

// gradient is the derivative of a value by each parameter, levels last.
type gradient [most + 2]float64

// fill sets the values of the best solution with their uncertainties.
func (f *Fit) fill(q *search, s *solution) {
	d := q.d
	again := q.polish(s.m, s.p) // brings the fitter back to this solution
	p, off, amp := again.p, again.off, again.amp
	cov, known := q.fit.covariance()
	m := q.fit.nl + q.fit.lin
	iOff, iAmp := q.fit.nl, q.fit.nl+1
	scale := d.scale(again.chi)
	unit := func(g gradient) float64 {
		v := 0.0
		for i := range m {
			for j := range m {
				v += g[i] * g[j] * cov[i*m+j]
			}
		}
		return math.Sqrt(math.Max(v*scale, 0))
	}
	hz := p[pHz]
	f.Shape, f.Count = s.m.shape, s.m.count
	f.PeriodS = 1 / hz
	f.Duty = s.m.lit(&p)
	f.OnA, f.OffA = off+amp, off
	mean := s.m.average(&p)
	f.MeanA = off + amp*mean
	f.ChargeC = amp * mean / hz
	if s.m.free == 4 {
		f.SpacingS = p[pB] / hz
	}
	turns := math.Floor((d.t[0])*hz - p[pPhase])
	f.PhaseS = d.midS + (p[pPhase]+turns)/hz
	if !known {
		// Some edge lies in a gap between windows, anywhere in it: of flashes longer than that
		// every window sees all or nothing, and the levels stand.
		f.PeriodU = 1 / (hz * hz * d.spanS * 10)
		if cov, known = q.fit.betweenReadings(scale); !known {
			return
		}
	}
	f.PeriodU = math.Max(f.PeriodU, unit(gradient{pHz: 1})/(hz*hz))
	f.PhaseU = unit(gradient{pPhase: 1}) / hz
	count := math.Max(float64(s.m.count), 1)
	dMean, dCharge := gradient{}, gradient{pHz: -amp * mean / (hz * hz)}
	dMean[iOff], dMean[iAmp], dCharge[iAmp] = 1, mean, mean/hz
	dOn, dOff, dDuty := gradient{}, gradient{}, gradient{pA: count}
	dOn[iOff], dOn[iAmp], dOff[iOff] = 1, 1, 1
	if s.m.free > 2 {
		f.DutyU = unit(dDuty)
		if s.m.shape == Flashes {
			dMean[pA] = amp * count
			dCharge[pA] = amp * count / hz
		}
	}
	f.OnU = unit(dOn)
	f.OffU = unit(dOff)
	f.MeanU = unit(dMean)
	f.ChargeU = unit(dCharge)
	dutyKnown, onKnown := f.DutyU, f.OnU
	if s.m.free > 2 {
		byA, on, off := q.profile(&again, f.DutyU/count)
		dutyKnown, onKnown = byA.half()*count, math.Max(on.half(), modelRel*amp)
		f.DutyU = math.Max(f.DutyU, byA.wider()*count)
		f.OnU, f.OffU = math.Max(f.OnU, on.wider()), math.Max(f.OffU, off.wider())
	}
	flash := s.m.lit(&p) / count / hz
	if s.m.shape == Flashes {
		f.Extrapolated = flash < d.window
	} else {
		f.Extrapolated = d.window*hz > 0.25
	}
	if s.m.shape == Flashes && flash < 1.2*d.window*(1+d.windowRelU) {
		// Length and window trade places at constant charge: a flash that looks
		// longer than the window may be the window itself.
		f.OnU = math.Hypot(f.OnU, amp*d.windowRelU)
		f.DutyU = math.Hypot(f.DutyU, f.Duty*d.windowRelU)
		onKnown = math.Hypot(onKnown, amp*d.windowRelU)
		dutyKnown = math.Hypot(dutyKnown, f.Duty*d.windowRelU)
	}
	if s.m.shape == Flashes && s.m.count == 1 {
		if far := q.otherDuty(&again, f.DutyU); far > 0 {
			f.DutyU, dutyKnown = math.Max(f.DutyU, far), math.Max(dutyKnown, far)
		}
		// Where a flash may lie between the windows that see all of it, its
		// length is known to that gap alone, as a rectangular distribution.
		if gap := q.unseen(hz); flash < d.window+gap {
			part := gap / math.Sqrt(12)
			f.DutyU, dutyKnown = math.Hypot(f.DutyU, part*hz), math.Hypot(dutyKnown, part*hz)
			f.OnU, onKnown = math.Hypot(f.OnU, amp*part/flash), math.Hypot(onKnown, amp*part/flash)
		}
	}
	above := 3 * d.noise
	if s.m.shape != Flashes {
		above += 2 * amp * d.window * hz // a window never sees the tip of a fade
	}
	within := f.OnA <= d.highest+above || f.Extrapolated
	f.DutyShown = s.m.shape != Sine && dutyKnown < showDutyU && onKnown < showOnRel*f.OnA && within && !f.ShapeUnsure
	f.LevelsShown = (f.DutyShown || s.m.shape == Sine) && onKnown < showOnRel*f.OnA && within && !f.ShapeUnsure
}
