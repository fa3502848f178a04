package blink

import (
	"fmt"
	"math"
	"slices"
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
// most of the trace or their phases go once round, see [PartingS]; those in step that
// flash for long enough give their sum alone. A step that may be two outputs in
// step is never taken for one of them.
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
	out := Separated{Agreement: m.Agreement, Why: m.Why, PeriodS: m.PeriodS, PeriodU: m.PeriodU, Duty: m.Duty,
		DutyU: m.DutyU,
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
	m := f.nl + f.lin
	scale := d.scale(out.Chi)
	cov, known := f.baseCovariance()
	if !known {
		cov, known = f.betweenReadings(scale)
	}
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
		if chi2/math.Max(float64(len(d.t)-f.nl-f.lin), 1) < worstChi && chi2 < mostLeft*d.flatMisfit &&
			math.Abs(other/e.period-1) > e.tol.PeriodRel {
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

// shortMoment, of a period, between one output and the next.
const shortMoment = 0.015

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
		if (was-m2l)/math.Max(d.scale(chi), d.scale(0)) < steadyGain || slices.Min(next.x[1:]) <= 0 ||
			d.shareOne(next, o, e) {
			break
		}
		f, was, out.Chi = next, m2l, chi
		there++
	}
	if there == 0 {
		out.steadyOutputs(d, o, e, n)
		return out
	}
	inStep := d.anyInStep(f.at, e)
	if inStep {
		out.Why = "the outputs run too much in step to separate them: read for longer"
	}
	if out.Chi > worstChi {
		if !inStep {
			out.Why = "it changes, but not as outputs of this pace would"
		}
		return out
	}
	cov, m := f.covariance(d.noise * d.noise * d.scale(out.Chi))
	steps, clock := there+1, f.at[0]
	out.PeriodS, out.PeriodU = 1/clock.hz, math.Sqrt(math.Max(cov[steps*m+steps], 0))/(clock.hz*clock.hz)
	out.Duty, out.DutyU = e.duty+clock.duty, math.Sqrt(math.Max(cov[(steps+2)*m+steps+2], 0))
	if inStep {
		if there == n && o.Pattern.shortestLit() >= windowsLit*d.window {
			out.litAtOnce(f.x, cov, m, there, f.meanY)
		}
		return out
	}
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
	out.assign(levels, block, o, d,
		func(base, u float64) ([]float64, []float64) { return held(levels, block, 0, base, u) })
	return out
}

// shareOne reports whether two of the outputs found, in step with each other, draw together
// what one output does and several don't: they share a single light between them.
func (d *trace) shareOne(f *joint, o *Outputs, e *expected) bool {
	for i, p := range f.at {
		for j, q := range f.at[:i] {
			if !d.apart(p, q, e) && !o.inStep([]float64{f.x[1+i] + f.x[1+j]}) {
				return true
			}
		}
	}
	return false
}

// anyInStep reports whether two outputs among those found can't be told apart.
func (d *trace) anyInStep(at []timing, e *expected) bool {
	for i, p := range at {
		if slices.ContainsFunc(at[:i], func(q timing) bool { return !d.apart(p, q, e) }) {
			return true
		}
	}
	return false
}

// windowsLit of the meter each flash must last for the sum of outputs in step to be read: of
// shorter ones the edges decide how much it is.
const windowsLit = 2.5

// shortestLit is the shortest time lit, s.
func (p Pattern) shortestLit() float64 {
	ld, _ := p.litDark()
	least := math.Inf(1)
	for i := 0; i < len(ld); i += 2 {
		least = math.Min(least, ld[i])
	}
	return least
}

// litAtOnce keeps what outputs in step draw together, each of which was found: how they
// share it isn't known, its sum is. x and cov are the base, their steps, then the rest.
func (out *Separated) litAtOnce(x, cov []float64, m, outputs int, meanA float64) {
	v := 0.0
	for i := 1; i <= outputs; i++ {
		out.SumA += x[i]
		for j := 1; j <= outputs; j++ {
			v += cov[i*m+j]
		}
	}
	out.SumU = math.Sqrt(math.Max(v, 0))
	out.BaseA, out.BaseU, out.BaseShown = x[0]+meanA, math.Sqrt(math.Max(cov[0], 0)), true
	out.Agreement = Agrees
	out.Why = "the outputs run in step: their sum can be read, but they can't be separated"
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
	f.run(0)
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
