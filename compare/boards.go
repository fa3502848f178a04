package compare

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/blink"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// output is one output of a board with the groups on it.
type output struct {
	number int
	at     []int // indexes into the findings
	want   expectation
}

// board judges the groups of a board from the levels of its trace.
func (s step) board(b plan.Board, out []Finding) {
	pace, ok := b.Pace(s.r.Step.Pace)
	if !ok {
		s.cantTell(out, fmt.Sprintf("the plan has no pace %q for board %q any more: measure it again", s.r.Step.Pace,
			b.Name))
		return
	}
	outputs := s.outputs(out)
	base := s.baseDraw(b.Name)
	switch {
	case pace.Steady():
		s.steadyBoard(outputs, base, out)
	case len(outputs) == 1:
		s.oneOutput(pace, outputs[0], base, out)
	default:
		s.severalOutputs(b, pace, outputs, base, out)
	}
	s.offPace(b, pace, outputs, base, out)
	for i := range out {
		out[i].PlanPeriodS = pace.PeriodS
		if out[i].Verdict != CantTell || showsLevel(out[i]) {
			continue
		}
		s.wholeBoard(&out[i], b, pace)
		if !out[i].meanFits {
			out[i].Settle = withoutLooks(out[i].Settle)
		}
	}
}

func (s step) cantTell(out []Finding, why string) {
	for i := range out {
		out[i].MeasuredA, out[i].MeasuredU, out[i].Readings = s.t.meanA, s.t.u, s.t.n
		out[i].untold(why)
	}
}

// outputs puts the findings together by output, in order of their number.
func (s step) outputs(out []Finding) []output {
	var os []output
	for i, f := range out {
		g, ok := s.b.GroupNamed(f.Group)
		if !ok {
			continue
		}
		k := slices.IndexFunc(os, func(o output) bool { return o.number == f.Output })
		if k < 0 {
			os = append(os, output{number: f.Output, want: fromDraw(g.Lit, g.SmallestA)})
			os[len(os)-1].at = []int{i}
			continue
		}
		// Two groups on one output are seen as one: their draws add, and what
		// they have in common adds in full.
		w := &os[k].want
		w.meanA += g.Lit.MeanA
		w.u += g.Lit.UA
		w.band.LowA += g.Lit.LowA
		w.band.HighA += g.Lit.HighA
		w.smallestA = min(w.smallestA, g.SmallestA)
		os[k].at = append(os[k].at, i)
	}
	slices.SortFunc(os, func(a, b output) int { return a.number - b.number })
	return os
}

// baseDraw is the board's draw with every output dark.
func (s step) baseDraw(board string) budget.Draw {
	for _, l := range s.b.Levels(board) {
		if len(l.Outputs) == 0 {
			return l.Draw
		}
	}
	return s.standing(board)
}

func (s step) known(p plan.Pace) blink.Known {
	k := blink.Known{WindowS: s.t.windowS}
	if p.PeriodS > 0 {
		k.MinHz = min(0.25, 0.5/p.PeriodS)
	}
	return k
}

// samples are the readings of which it's known when they were taken. A reply that comes late,
// from a busy computer or line, says what was read, not when: next to an edge that looks like
// another pace. A part of them is kept whatever they took.
func (s step) samples() []blink.Sample {
	usual := slices.Sorted(slices.Values(s.t.tookS))
	latest := math.Inf(1)
	if n := len(usual); n > 0 {
		latest = max(usual[n/2]+max(lateShare*s.t.windowS, lateS), usual[n-1-int(mostLate*float64(n-1))])
	}
	out := make([]blink.Sample, 0, len(s.t.amps))
	for i, a := range s.t.amps {
		if s.t.tookS[i] <= latest {
			out = append(out, blink.Sample{AtS: s.t.atS[i], Amps: a})
		}
	}
	return out
}

// A reply is late that took longer than usual by lateShare of the meter's window, and by lateS;
// mostLate of them are left out at most.
const (
	lateShare = 0.125
	lateS     = 0.005
	mostLate  = 1.0 / 3
)

// share is the instrument's limit of error at amps as a standard uncertainty:
// a fit knows the scatter of the readings, not what the meter is off.
func (s step) share(amps float64) float64 {
	if s.t.meanA == 0 {
		return s.t.halfWidth / math.Sqrt(3)
	}
	return s.t.halfWidth / math.Sqrt(3) * min(1, math.Abs(amps/s.t.meanA))
}

// oneOutput judges a board of which one output is in use.
func (s step) oneOutput(p plan.Pace, o output, base budget.Draw, out []Finding) {
	m := blink.Match(s.samples(), s.known(p), pattern(p), s.tolerance(p, o, base))
	for _, i := range o.at {
		f := &out[i]
		f.Readings = s.t.n
		f.MeasuredA, f.MeasuredU = m.OnA-m.OffA, math.Hypot(math.Hypot(m.OnU, m.OffU), s.share(m.OnA-m.OffA))
		f.PeriodS, f.PeriodU, f.Duty = m.PeriodS, m.PeriodU, m.Duty
		s.fill(f, o.want)
		s.agreement(f, o, m.Agreement, m.Why, base)
		if m.Agreement == blink.Agrees {
			if !m.LevelsShown {
				f.untold("its flashes are shorter than the meter can follow", words.LookAtIt)
				continue
			}
			s.decide(f, o.want)
		}
	}
}

func (s step) fill(f *Finding, e expectation) {
	f.ExpectedA, f.ExpectedU, f.Band, f.SmallestA = e.meanA, e.u, e.band, e.smallestA
}

func pattern(p plan.Pace) blink.Pattern {
	return blink.Pattern{PeriodS: p.PeriodS, Duty: p.Duty, Flashes: p.Flashes}
}

// agreement turns the answer of the pace into a verdict, for all but "agrees".
func (s step) agreement(f *Finding, o output, a blink.Agreement, why string, base budget.Draw) {
	switch a {
	case blink.OffPace:
		f.Verdict = OffPace
		f.Notes = append(f.Notes, why)
	case blink.SteadyLit:
		f.Verdict = StuckLit
		f.MeasuredA, f.MeasuredU = s.t.meanA-base.MeanA, math.Hypot(s.t.u, base.UA)
		f.Causes = s.stuckLit(*f, o)
	case blink.SteadyDark:
		f.Verdict = StuckDark
		f.MeasuredA, f.MeasuredU = s.t.meanA-base.MeanA, math.Hypot(s.t.u, base.UA)
		f.Causes = s.stuckDark(*f, base)
	case blink.CantTell, blink.NotCompared:
		f.untold(why, words.LookAtIt)
	}
}
