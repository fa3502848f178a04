package blink

import (
	"fmt"
	"math"
	"sort"

	"sealworthy/compare/linear"
)

// Limits of a joint fit.
const (
	maxBlinkers    = 8
	jointDutyAbs   = 0.03
	runningShare   = 0.5 // of the step as built: above, it runs
	jointRounds    = 3
	jointPhases    = 40
	jointGridShare = 8 // frequencies per 1/T
)

// Joint takes a trace of several blinkers over a common base apart, by a joint
// fit of the base and of all steps. What each blinker does when it's good is
// given; its period and duty may lie within their tolerances, its step may be
// anything from zero. A blinker runs when its step is above half of the step
// as built; when two uncertainties don't settle that, it's "can't tell". Two
// blinkers whose periods are closer than one over the length of the trace
// can't be separated: they're listed as twins and never judged.
//
// At most 8 blinkers. That one doesn't run leaves open whether it's dead or
// stuck lit: the base tells.
func Joint(s []Sample, k Known, b []Blinker) Parted {
	if len(b) == 0 || len(b) > maxBlinkers {
		return Parted{Why: fmt.Sprintf("%d blinkers given; 1 to %d can be taken apart", len(b), maxBlinkers)}
	}
	var es []expected
	for _, x := range b {
		e, why := x.Pattern.expected(Tolerance{PeriodRel: x.PeriodRel, DutyAbs: positive(x.DutyAbs, jointDutyAbs)})
		if why != "" {
			return Parted{Why: x.Name + ": " + why}
		}
		if !finite(x.Amps) || x.Amps <= 0 || x.Amps > mostAmps {
			return Parted{Why: x.Name + ": its step as built must be above zero"}
		}
		es = append(es, e)
	}
	d, why := newTrace(s, k, max(leastFree, 4*len(b)+4))
	if d == nil {
		return Parted{Why: why}
	}
	for i := range es {
		if d.cycles(1/es[i].period) > mostCycles {
			return Parted{Why: b[i].Name + ": " + tooLong}
		}
	}
	f := d.fitJointly(b, es)
	out := Parted{Usable: true, MeanA: d.mean, MeanU: d.meanU(), Twins: d.twins(es)}
	out.read(f, b, es)
	return out
}

// fitJointly finds the waveforms by back-fitting, the one that moves the
// current most first, then refines them all at once.
func (d *trace) fitJointly(b []Blinker, es []expected) *fitter {
	order := make([]int, len(b))
	for i := range order {
		order[i] = i
	}
	moves := func(i int) float64 { return b[i].Amps * math.Sqrt(es[i].duty*(1-es[i].duty)) }
	sort.SliceStable(order, func(i, j int) bool { return moves(order[i]) > moves(order[j]) })
	found := make([]part, len(b))
	placed := make([]bool, len(b))
	f := newFitter(d)
	f.flatWeights()
	rest := make([]float64, len(d.t))
	for round := range jointRounds {
		for _, i := range order {
			// What the others leave, with this one taken out.
			var others []part
			for j := range found {
				if j != i && placed[j] {
					others = append(others, found[j])
				}
			}
			copy(rest, d.y)
			if len(others) > 0 {
				f.set(others...)
				f.respond(-1)
				f.solveLevels()
				copy(rest, f.resid)
			}
			found[i] = d.place(&es[i], rest)
			placed[i] = true
		}
		f.set(found...)
		f.respond(-1)
		f.solveLevels()
		if round > 0 {
			f.descend(6, 0.04)
			copy(found, f.parts)
		}
	}
	f.descend(8, 0.01)
	f.polish(3)
	return f
}

// place finds one blinker in what the others leave.
func (d *trace) place(e *expected, rest []float64) part {
	hz := 1 / e.period
	step := 1 / (jointGridShare * d.spanS)
	reach := e.tol.PeriodRel * hz
	best := start{cost: math.Inf(1)}
	for i := -int(reach / step); i <= int(reach/step); i++ {
		if c := d.tryPhases(&e.m, e.first, hz+float64(i)*step, jointPhases, rest); c.cost < best.cost {
			best = c
		}
	}
	room := e.tol.DutyAbs / float64(e.m.count)
	return part{model: e.m, p: best.p, low: hz - 1.2*reach, high: hz + 1.2*reach,
		leastA: e.first - room, mostA: e.first + room}
}

// twins returns the pairs that a trace of this length can't separate.
func (d *trace) twins(es []expected) [][2]int {
	var out [][2]int
	for i := range es {
		for j := i + 1; j < len(es); j++ {
			if math.Abs(1/es[i].period-1/es[j].period) < 1/d.spanS {
				out = append(out, [2]int{i, j})
			}
		}
	}
	return out
}

// read turns the fit into states. A blinker that isn't there has neither
// phase nor period: for its uncertainty, and for that of the others, its
// waveform is held where the search left it.
func (out *Parted) read(f *fitter, b []Blinker, es []expected) {
	_, chi2 := f.misfit()
	out.Chi = chi2 / math.Max(float64(len(f.d.t)-f.nl-f.lin), 1)
	parts := append([]part(nil), f.parts...)
	levels := append([]float64(nil), f.levels...)
	for i := range parts {
		if levels[1+i] < runningShare*b[i].Amps {
			parts[i].free = 2 // frequency and phase, removed from the matrix below
		}
	}
	f.set(parts...)
	copy(f.levels, levels)
	cov, known := f.jointCovariance(es, func(i int) bool { return levels[1+i] >= runningShare*b[i].Amps })
	scale := f.d.scale(out.Chi)
	m := f.nl + f.lin
	at := func(i int) float64 { return math.Sqrt(math.Max(cov[i*m+i], 0) * scale) }
	out.BaseA = levels[0]
	if known {
		out.BaseU = at(f.nl)
	}
	col := 0
	for i := range parts {
		s := Blinking{Name: b[i].Name, StepA: levels[1+i]}
		runs := s.StepA >= runningShare*b[i].Amps
		if known {
			s.StepU = at(f.nl + 1 + i)
		}
		if runs {
			s.PeriodS = 1 / parts[i].p[pHz]
			s.Duty = parts[i].lit(&parts[i].p)
			if known {
				s.PeriodU = at(col) * s.PeriodS * s.PeriodS
				s.DutyU = at(col+2) * float64(parts[i].count)
			}
		}
		s.State, s.Why = stateOf(&s, b[i].Amps, known)
		out.Blinkers = append(out.Blinkers, s)
		col += parts[i].free
	}
	for i := range out.Blinkers {
		for j := i + 1; j < len(out.Blinkers); j++ {
			p, q := out.Blinkers[i].PeriodS, out.Blinkers[j].PeriodS
			if p > 0 && q > 0 && math.Abs(1/p-1/q) < 1/f.d.spanS && !paired(out.Twins, i, j) {
				out.Twins = append(out.Twins, [2]int{i, j})
			}
		}
	}
	for _, t := range out.Twins {
		for _, i := range t {
			out.Blinkers[i].State = Unsettled
			out.Blinkers[i].Why = "another blinker's period is too close to tell them apart: read for longer"
		}
	}
	out.Why = "base and blinkers account for the readings"
	if out.Chi > worstChi {
		out.Why = "something else changes as well: base and blinkers don't account for the readings"
	}
	_ = es
}

func paired(t [][2]int, i, j int) bool {
	for _, x := range t {
		if x == [2]int{i, j} {
			return true
		}
	}
	return false
}

func stateOf(s *Blinking, built float64, known bool) (State, string) {
	limit := runningShare * built
	switch {
	case !known || math.Abs(s.StepA-limit) < 2*s.StepU:
		return Unsettled, "its step is too uncertain"
	case s.StepA > limit:
		return Running, "its step is there"
	}
	return NotRunning, "its step is not there"
}

// jointCovariance is covariance with the non-linear parameters of some parts
// held, and with the tolerances of the others as prior knowledge (rectangular:
// half-width over the root of 3), so that an edge which no window straddles is
// still known to lie within its tolerance.
func (f *fitter) jointCovariance(es []expected, free func(int) bool) ([]float64, bool) {
	f.respond(f.jitterSoft())
	f.fillNormal()
	m := f.nl + f.lin
	scale := f.d.scale(0)
	col := 0
	for i := range f.parts {
		e := &es[i]
		prior := [most]float64{e.tol.PeriodRel / e.period, 0.5, e.tol.DutyAbs / float64(e.m.count), 1}
		for c := range f.parts[i].free {
			at := (col+c)*m + col + c
			if free(i) {
				f.normal[at] += 3 * scale / (prior[c] * prior[c])
				continue
			}
			for j := range m {
				f.normal[(col+c)*m+j], f.normal[j*m+col+c] = 0, 0
			}
			f.normal[at] = 1
		}
		col += f.parts[i].free
	}
	cov := make([]float64, m*m)
	ok := linear.Invert(f.normal[:m*m], cov, m)
	return cov, ok
}
