package blink

import (
	"fmt"
	"math"
	"sort"
)

// Limits of a comparison with an expected pace.
const (
	defaultPeriodRel = 0.05
	leastPeriodS     = 0.002
	mostPeriodS      = 1e4
	mostCycles       = 2000 // a longer trace says no more and takes long
	defaultDutyAbs   = 0.05
	surelyLit        = 0.7  // of the expected step; a steady draw above it is lit
	surelyDark       = 0.15 // below it is dark
	steadySwing      = 0.3  // of the swing expected behind the window
	faintShare       = 0.05 // of the expected step: less is ripple or drift
	faintGain        = 100  // what a faint blink must gain over a constant
	planOnRel        = 0.10 // on level shown when its duty is the plan's
)

const tooLong = "more than 2000 periods: read for less long"

// litDark returns the pattern as lit and dark times, or a reason why it isn't one.
func (p Pattern) litDark() ([]float64, string) {
	if len(p.Flashes) == 0 {
		if !finite(p.PeriodS) || p.PeriodS < leastPeriodS || p.PeriodS > mostPeriodS {
			return nil, "no pace to compare with"
		}
		duty := p.Duty
		if !finite(duty) || duty <= 0 || duty >= 1 {
			return nil, "the expected duty isn't between 0 and 1"
		}
		return []float64{duty * p.PeriodS, (1 - duty) * p.PeriodS}, ""
	}
	if len(p.Flashes)%2 != 0 || len(p.Flashes) > 40 {
		return nil, "lit and dark times must come in pairs, at most 20"
	}
	for _, f := range p.Flashes {
		if !finite(f) || f < leastPeriodS || f > mostPeriodS {
			return nil, "every lit and dark time must be a few milliseconds at least"
		}
	}
	return p.Flashes, ""
}

func total(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	return sum
}

// expected is a pattern made ready for a search.
type expected struct {
	m      model
	period float64
	first  float64 // start value of p[pA]
	duty   float64
	tol    Tolerance
}

func (p Pattern) expected(tol Tolerance) (expected, string) {
	ld, why := p.litDark()
	if ld == nil {
		return expected{}, why
	}
	e := expected{period: total(ld), tol: tol}
	if !finite(tol.OnA, tol.OffA, tol.OnU, tol.OffU) || math.Max(math.Abs(tol.OnA), math.Abs(tol.OffA)) > mostAmps {
		e.tol.OnA, e.tol.OffA, e.tol.OnU, e.tol.OffU = 0, 0, 0, 0 // as if not known
	}
	e.tol.PeriodRel = math.Min(positive(tol.PeriodRel, defaultPeriodRel), 0.5)
	e.tol.DutyAbs = math.Min(positive(tol.DutyAbs, defaultDutyAbs), 0.5)
	e.first = ld[0] / e.period
	e.m = flashes(1)
	if len(ld) > 2 {
		e.m = fixedPattern(ld, e.period)
	}
	for i := 0; i < len(ld); i += 2 {
		e.duty += ld[i] / e.period
	}
	return e, ""
}

// swing returns the share of the step that readings can show behind the window.
func (e *expected) swing(window float64) float64 {
	p := params{1 / e.period, 0, e.first, 0}
	low, high := 1.0, 0.0
	for i := range 200 {
		x := float64(i) / 200
		v := e.m.mean(x-window/e.period, x, &p)
		low, high = math.Min(low, v), math.Max(high, v)
	}
	return high - low
}

// near returns the refined solutions of the expected waveform at paces around
// the expected one, best first. Reach is a fraction of the pace.
func (q *search) near(e *expected, reach float64) []solution {
	hz := 1 / e.period
	step := 1 / (8 * q.d.spanS)
	var all []start
	for i := -int(reach * hz / step); float64(i) <= reach*hz/step+1; i++ {
		f := hz + float64(i)*step
		if f <= 0 {
			continue
		}
		if e.m.count == 1 {
			q.scan.prepare(f)
			all = append(all, q.scan.rectangle(f))
		}
		all = append(all, q.bestPhase(e, f))
	}
	// Both kinds of start are in the list, so minima can't be told by neighbours.
	sort.SliceStable(all, func(i, j int) bool { return all[i].cost < all[j].cost })
	return q.refineAll(e.m, all[:min(len(all), 12)])
}

// bestPhase tries the expected waveform at a pace.
func (q *search) bestPhase(e *expected, hz float64) start {
	return q.d.tryPhases(&e.m, e.first, hz, 32, q.d.y)
}

// Match judges readings against an expected pace. It needs about three periods
// and says "agrees" even where a free fit couldn't choose between that pace
// and another: the plan's word counts. It says "off pace" only when the
// expected one is excluded, and "steady lit" or "steady dark" only when the
// levels in tol tell the two apart.
func Match(s []Sample, k Known, want Pattern, tol Tolerance) Matched {
	e, why := want.expected(tol)
	if why != "" {
		return Matched{Agreement: CantTell, Why: why}
	}
	d, why := newTrace(s, k, leastMatch)
	if d == nil {
		return Matched{Agreement: CantTell, Why: why}
	}
	if d.cycles(1/e.period) > mostCycles {
		return Matched{Agreement: CantTell, Why: tooLong}
	}
	d.minHz = math.Min(d.minHz, 0.4/e.period)
	return d.match(&e)
}

func (d *trace) match(e *expected) Matched {
	out := Matched{MeanA: d.mean, MeanU: d.meanU(), Cycles: d.cycles(1 / e.period)}
	q := newSearch(d)
	sols := q.near(e, math.Max(3*e.tol.PeriodRel, 0.15))
	if len(sols) == 0 || d.gain(sols[0].m2l, sols[0].chi2) < steadyGain {
		// The expected pace explains nothing; another one might.
		if d.quiet() || d.flat(e) || len(sols) == 0 {
			return out.steady(d, e)
		}
		return out.elsewhere(q, e, &sols[0])
	}
	best := &sols[0]
	flat := d.flat(e)
	if best.chi <= worstChi && !q.beaten(best) {
		if flat && !d.faint(best, e) {
			return out.steady(d, e)
		}
		steady := out
		out.take(q, best, e)
		if flat && out.Agreement != Agrees {
			return steady.steady(d, e)
		}
		return out
	}
	if flat {
		return out.steady(d, e)
	}
	if other := d.otherWindow(e, best); other != nil && out.Cycles >= 2.5 && !q.better(&other.s) {
		m := out
		m.take(other.q, &other.s, e)
		if m.Agreement == Agrees {
			m.WindowS = other.q.d.window
			m.Why += fmt.Sprintf(", if the meter's window is %.2g s", m.WindowS)
			// The level of a flash that the window covers depends on the window.
			if flash := m.Duty * m.PeriodS / float64(max(e.m.count, 1)); flash < 2*m.WindowS || m.DutyFromPlan {
				m.LevelsShown = false
			}
			return m
		}
	}
	return out.elsewhere(q, e, best)
}

// faint reports whether a swing far below the expected one is a blink all the
// same, as when most of the lights on an output are dark.
func (d *trace) faint(s *solution, e *expected) bool {
	if step := e.tol.OnA - e.tol.OffA; e.tol.OnA > 0 && s.amp < faintShare*step {
		return false
	}
	return (d.flatMisfit-s.m2l)/d.scale(s.chi) > faintGain
}

// quiet reports whether the readings scatter by no more than a stated noise
// and a slow drift would make them.
func (d *trace) quiet() bool {
	return d.noiseKnown && d.flatMisfit < 3*float64(len(d.t)-1)
}

// swing is the span of the readings.
func (d *trace) swing() float64 {
	low := d.highest
	for _, y := range d.y {
		low = math.Min(low, y)
	}
	return d.highest - low
}

// flat reports whether the readings move less than a blinker's could, however
// the noise may have been stated.
func (d *trace) flat(e *expected) bool {
	step := e.tol.OnA - e.tol.OffA
	if !(e.tol.OnA > 0 && step > 0) {
		return d.flatMisfit < steadyGain+2*float64(len(d.t))
	}
	return d.swing() < steadySwing*e.swing(d.window)*step
}

// beaten reports whether some quite different pace explains the readings so
// much better that the expected one is out.
func (q *search) beaten(best *solution) bool {
	if q.d.noiseKnown && best.chi < plainChi {
		return false
	}
	free := q.all()
	return len(free) > 0 && !sameHz(free[0].hz(), best.hz()) &&
		(best.m2l-free[0].m2l)/q.d.scale(free[0].chi) > richerGain
}

// take says what a fit near the expected pace means.
func (m *Matched) take(q *search, s *solution, e *expected) {
	var f Fit
	f.fill(q, s)
	m.copy(&f)
	m.Chi = s.chi
	m.Cycles = q.d.cycles(s.hz())
	off := math.Abs(f.PeriodS/e.period - 1)
	room := f.PeriodU / e.period
	dutyOff := math.Abs(f.Duty-e.duty) - e.tol.DutyAbs
	switch {
	case off > e.tol.PeriodRel+3*room:
		m.Agreement = OffPace
		m.Why = fmt.Sprintf("its period is %.3g s, not %.3g s", f.PeriodS, e.period)
	case off > e.tol.PeriodRel+room:
		m.Agreement = CantTell
		m.Why = "its period lies at the edge of the tolerance: read for longer"
	case dutyOff > 3*f.DutyU && f.DutyU > 0:
		m.Agreement = OffPace
		m.Why = fmt.Sprintf("it is lit for %.0f %% of the period, not %.0f %%", 100*f.Duty, 100*e.duty)
	case m.Cycles < 2.5:
		m.Agreement = CantTell
		m.Why = "fewer than three periods: read for longer"
	default:
		m.Agreement = Agrees
		m.Why = fmt.Sprintf("its period of %.3g s agrees", f.PeriodS)
	}
	if m.Agreement == Agrees && !f.LevelsShown {
		m.levelsFromPlan(q, s, e)
	}
}

func (m *Matched) copy(f *Fit) {
	m.PeriodS, m.PeriodU = f.PeriodS, f.PeriodU
	m.Duty, m.DutyU = f.Duty, f.DutyU
	m.OnA, m.OnU, m.OffA, m.OffU = f.OnA, f.OnU, f.OffA, f.OffU
	m.MeanA, m.MeanU = f.MeanA, f.MeanU
	m.LevelsShown, m.Extrapolated = f.LevelsShown, f.Extrapolated
}

// elsewhere says what readings mean that change, but not as expected.
func (m Matched) elsewhere(q *search, e *expected, near *solution) Matched {
	m.Chi = near.chi
	m.Agreement = CantTell
	m.Why = "it changes, but no single pace fits: flicker, a loose contact, or a wrong window"
	free := Fit{}
	if sols := q.all(); len(sols) > 0 && q.d.gain(sols[0].m2l, sols[0].chi2) >= steadyGain {
		free.judge(q, sols)
	}
	switch {
	case free.Verdict == Periodic && math.Abs(free.PeriodS/e.period-1) > e.tol.PeriodRel:
		m.copy(&free)
		m.LevelsShown = free.LevelsShown && free.Shape == Flashes
		m.Agreement, m.Chi, m.Cycles = OffPace, free.Chi, free.Cycles
		m.Why = fmt.Sprintf("its period is %.3g s, not %.3g s", free.PeriodS, e.period)
	case free.Verdict == Periodic:
		m.copy(&free)
		m.LevelsShown = false
		m.Agreement, m.Chi, m.Cycles = OffPace, free.Chi, free.Cycles
		m.Why = "the period agrees, but not the flashes within it"
	case free.Verdict == TooShort && near.chi > worstChi && m.Cycles >= 2.5 &&
		free.PeriodS > (1+e.tol.PeriodRel)*e.period:
		m.Agreement = OffPace
		m.Why = fmt.Sprintf("slower than expected: about %.2g s, not %.3g s", free.PeriodS, e.period)
	case m.Cycles < 2.5:
		m.Why = "fewer than three periods, and not as expected: read for longer"
	case free.Verdict == Ambiguous && near.chi > worstChi:
		m.Agreement = OffPace
		m.Why = fmt.Sprintf("not %.3g s, but one of %d other paces", e.period, len(free.Candidates))
	}
	return m
}

// steady says whether readings that don't blink are lit or dark.
func (m Matched) steady(d *trace, e *expected) Matched {
	m.Steady = true
	m.Chi = d.flatMisfit / float64(len(d.t)-1)
	on, off := e.tol.OnA, e.tol.OffA
	step := on - off
	if !finite(on, off) || !(on > 0 && step > 0) {
		m.Agreement, m.Why = CantTell, "it doesn't blink; lit or dark can't be told without expected levels"
		return m
	}
	u := math.Hypot(m.MeanU, positive(e.tol.OffU, 0))
	up := math.Hypot(m.MeanU, positive(e.tol.OnU, 0))
	share := (m.MeanA - off) / step
	switch {
	case d.spanS < e.period:
		m.Agreement, m.Why = CantTell, "read for less than one period"
	case 3*u > surelyLit*step || 3*up > step:
		m.Agreement, m.Why = CantTell, "it doesn't blink; the levels are known too loosely to tell lit from dark"
	case share >= surelyLit:
		m.Agreement, m.Why = SteadyLit, "it doesn't blink and draws as much as when lit"
	case share <= math.Max(surelyDark, math.Min(3*u/step, 0.3)):
		m.Agreement, m.Why = SteadyDark, "it doesn't blink and draws no more than when dark"
	default:
		m.Agreement = CantTell
		m.Why = "it doesn't blink and draws between lit and dark: faster than the meter can follow, or partly dark"
	}
	return m
}
