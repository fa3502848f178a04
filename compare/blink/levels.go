package blink

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/linear"
)

const maxOutputs = 4

// Levels takes the trace of a board with several outputs apart. Outputs that
// alternate are taken to be one pattern, each a share of a period behind the
// one before, and differ in draw: base, base plus first, base plus second. What
// the readings give is compared with every way in which the outputs can run,
// be dark or be stuck lit; where two ways fit, it's "can't tell". Outputs that
// draw the same and follow each other without a dark moment leave a steady
// current and can't be separated. Outputs that run together give their sum
// alone. Outputs that run free are separated when their edges keep apart for
// most of the trace or their phases go once round: see [PartingS]. A step that
// may be two outputs in step is never taken for one of them.
//
// The number of outputs is that of ExpectedA, two when it's empty, at most 4.
// Without ExpectedA the outputs come in the order of their draw, largest first.
func Levels(s []Sample, k Known, o Outputs) Separated {
	n := len(o.ExpectedA)
	if n == 0 {
		n = 2
	}
	none := Separated{Agreement: CantTell}
	if n > maxOutputs {
		none.Why = fmt.Sprintf("%d outputs: at most %d can be separated", n, maxOutputs)
		return none
	}
	for _, a := range o.ExpectedA {
		if !finite(a) || a < 0 || a > mostAmps {
			none.Why = "an expected draw isn't a current"
			return none
		}
	}
	if !finite(o.BaseA, o.BaseU) || o.BaseU < 0 || math.Abs(o.BaseA) > mostAmps || o.BaseU > mostAmps {
		o.BaseKnown = false
	}
	e, why := o.Pattern.expected(o.Tolerance)
	if why != "" {
		none.Why = why
		return none
	}
	if o.Run == Together || n == 1 {
		return together(s, k, &o)
	}
	d, why := newTrace(s, k, leastFree)
	if d == nil {
		none.Why = why
		return none
	}
	if d.cycles(1/e.period) > mostCycles {
		none.Why = tooLong
		return none
	}
	if o.Run == Free {
		return d.unrelated(&o, &e, n)
	}
	return d.inTurn(&o, &e, n)
}

// together reads the sum of outputs that are lit at once.
func together(s []Sample, k Known, o *Outputs) Separated {
	tol := o.Tolerance
	if sum := total(o.ExpectedA); o.BaseKnown && sum > 0 {
		tol.OnA, tol.OnU = o.BaseA+sum, math.Hypot(o.BaseU, 0.1*sum)
		tol.OffA, tol.OffU = o.BaseA, o.BaseU
	}
	m := Match(s, k, o.Pattern, tol)
	out := Separated{Agreement: m.Agreement, Why: m.Why, PeriodS: m.PeriodS, PeriodU: m.PeriodU, Duty: m.Duty, DutyU: m.DutyU,
		MeanA: m.MeanA, MeanU: m.MeanU, Chi: m.Chi}
	if m.LevelsShown {
		out.BaseA, out.BaseU, out.BaseShown = m.OffA, m.OffU, true
		out.SumA, out.SumU = m.OnA-m.OffA, math.Hypot(m.OnU, m.OffU)
	}
	if len(o.ExpectedA) == 1 {
		out.Apart = true
		out.Outputs = []OutputLevel{{out.SumA, out.SumU, m.Agreement}}
		return out
	}
	if m.Agreement == Agrees {
		out.Why = "the outputs are lit together: their sum can be read, but they can't be separated"
	}
	return out
}

// inTurn fits outputs that alternate.
func (d *trace) inTurn(o *Outputs, e *expected, n int) Separated {
	out := Separated{Agreement: CantTell, MeanA: d.mean, MeanU: d.meanU()}
	d.minHz = math.Min(d.minHz, 0.4/e.period)
	if d.cycles(1/e.period) < 2.5 {
		out.Why = "fewer than three periods: read for longer"
		return out
	}
	f := newFitter(d)
	near := f.tiedSearch(e, n, math.Max(3*e.tol.PeriodRel, 0.15), 24)
	m2l, chi2 := f.polish(3)
	out.Chi = chi2 / math.Max(float64(len(d.t)-f.nl-f.lin), 1)
	explained := d.gain(m2l, chi2) >= steadyGain
	least := math.Inf(1)
	for _, a := range o.ExpectedA {
		if a > 0 {
			least = math.Min(least, a)
		}
	}
	small := finite(least) && d.swing() < steadySwing*least
	faint := small && d.swing() < 2*faintShare*least
	if e.nonstop(n) && near && explained && out.Chi < worstChi {
		faint = false // the short moments between like outputs are all that they show
	}
	if faint || !explained && (d.quiet() || small || !finite(least)) {
		out.steadyOutputs(d, o, e, n)
		return out
	}
	hz := f.parts[0].p[pHz]
	cov, known := f.baseCovariance()
	m := f.nl + f.lin
	scale := d.scale(out.Chi)
	at := func(i int) float64 { return math.Sqrt(math.Max(cov[i*m+i], 0) * scale) }
	out.PeriodS, out.Duty = 1/hz, f.parts[0].lit(&f.parts[0].p)
	if known {
		out.PeriodU, out.DutyU = at(0)/(hz*hz), at(2)*float64(e.m.count)
	}
	off := math.Abs(out.PeriodS/e.period-1) - e.tol.PeriodRel
	switch {
	case out.Chi > worstChi || !near || !explained:
		f.tiedSearch(e, n, 0, 16)
		_, chi2 = f.polish(3)
		other := 1 / f.parts[0].p[pHz]
		out.Why = "it changes, but no pace of outputs in turn fits"
		if chi2/math.Max(float64(len(d.t)-f.nl-f.lin), 1) < worstChi && chi2 < mostLeft*d.flatMisfit && math.Abs(other/e.period-1) > e.tol.PeriodRel {
			out.Agreement, out.PeriodS, out.PeriodU = OffPace, other, 0
			out.Why = fmt.Sprintf("its period is about %.3g s, not %.3g s", other, e.period)
		}
		return out
	case off > 3*out.PeriodU/e.period:
		out.Agreement = OffPace
		out.Why = fmt.Sprintf("its period is %.3g s, not %.3g s", out.PeriodS, e.period)
		return out
	case !known:
		out.Why = "the edges lie between the readings: read for longer, or at uneven spacing"
		return out
	}
	out.Agreement = Agrees
	out.Why = fmt.Sprintf("its period of %.3g s agrees", out.PeriodS)
	levels := append([]float64(nil), f.levels...)
	block := f.levelCovariance(e, m2l, scale)
	out.assign(levels, block, o, d, func(base, u float64) ([]float64, []float64) {
		// Searched anew: without the base the edges may have settled elsewhere.
		f.base, f.baseWeight = base, 1/(u*u)
		f.tiedSearch(e, n, math.Max(math.Abs(hz*e.period-1)+0.02, 0.02), 24)
		m2l, _ := f.polish(3)
		return append([]float64(nil), f.levels...), f.levelCovariance(e, m2l, scale)
	})
	return out
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

// shortMoment, of a period, between one output and the next.
const shortMoment = 0.015

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

// unrelated separates outputs that run free of each other. One blinker after
// the other is added while that explains the readings better: two waveforms
// would share a single light between them.
func (d *trace) unrelated(o *Outputs, e *expected, n int) Separated {
	out := Separated{Agreement: CantTell, MeanA: d.mean, MeanU: d.meanU()}
	if d.cycles(1/e.period) < 2.5 {
		out.Why = "fewer than three periods: read for longer"
		return out
	}
	if len(d.t) < leastFor*(n+1) {
		out.Why = "too few readings for so many outputs: read for longer"
		return out
	}
	var f *joint
	was, there := d.flatMisfit, 0
	for there < n {
		next := d.joint(o.Pattern, e, there+1)
		m2l, chi := next.misfit()
		if (was-m2l)/math.Max(d.scale(chi), d.scale(0)) < steadyGain || slices.Min(next.x[1:]) <= 0 {
			break
		}
		f, was, out.Chi = next, m2l, chi
		there++
	}
	if there == 0 {
		out.steadyOutputs(d, o, e, n)
		return out
	}
	for i, p := range f.at {
		for _, q := range f.at[:i] {
			if !d.apart(p, q, e) {
				out.Why = "the outputs run too much in step to separate them: read for longer"
				return out
			}
		}
	}
	if out.Chi > worstChi {
		out.Why = "it changes, but not as outputs of this pace would"
		return out
	}
	cov, m := f.covariance(d.noise * d.noise * d.scale(out.Chi))
	steps, clock := there+1, f.at[0]
	out.PeriodS, out.PeriodU = 1/clock.hz, math.Sqrt(math.Max(cov[steps*m+steps], 0))/(clock.hz*clock.hz)
	out.Duty, out.DutyU = e.duty+clock.duty, math.Sqrt(math.Max(cov[(steps+2)*m+steps+2], 0))
	if there < n && o.inStep(f.x[1:]) {
		out.Why = "two outputs may run in step, or one of them may be dark: measure them one at a time"
		return out
	}
	out.Agreement, out.Why = Agrees, "each output has its own period"
	// Outputs that weren't found are steps of nothing.
	l := n + 1
	levels, block := make([]float64, l), make([]float64, l*l)
	copy(levels, f.x)
	levels[0] += f.meanY
	for i := range l {
		block[i*l+i] = d.noise * d.noise / float64(len(d.t))
		if i >= steps {
			continue
		}
		copy(block[i*l:i*l+steps], cov[i*m:])
	}
	out.assign(levels, block, o, d, func(base, u float64) ([]float64, []float64) { return held(levels, block, 0, base, u) })
	return out
}

// joint fits a number of outputs of one pattern, each by a clock of its own, of
// whose draws nothing is known.
func (d *trace) joint(p Pattern, e *expected, outputs int) *joint {
	ld, _ := p.litDark()
	var b Blinker
	at := 0.0
	for i, x := range ld {
		if i%2 == 0 {
			b.Spans = append(b.Spans, [2]float64{at / e.period, (at + x) / e.period})
		}
		at += x
	}
	clocks := make([]Clock, outputs)
	for i := range clocks {
		clocks[i] = Clock{PeriodS: e.period, PeriodRel: e.tol.PeriodRel, DutyAbs: e.tol.DutyAbs, Outputs: []Blinker{b}}
	}
	f, _ := newJoint(d, clocks) // there are readings enough
	f.noiseA = d.noise
	f.run()
	return f
}

// permute calls each with every order of n things.
func permute(n int, each func([]int)) {
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	var from func(int)
	from = func(k int) {
		if k == n {
			each(order)
			return
		}
		for i := k; i < n; i++ {
			order[k], order[i] = order[i], order[k]
			from(k + 1)
			order[k], order[i] = order[i], order[k]
		}
	}
	from(0)
}
