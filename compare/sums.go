package compare

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/blink"
	"sealworthy/compare/budget"
	"sealworthy/compare/words"
)

// sumOnly judges outputs that are lit together by what they draw together.
func (x several) sumOnly(out []Finding) {
	s, sep := x.step, x.sep
	e := sumOf(x.os)
	staysLit := s.staysLit(sep, x.base)
	for i := range out {
		f := &out[i]
		f.Readings, f.FiguresOf = s.t.n, OfOutputs
		f.MeasuredA, f.MeasuredU = sep.SumA, math.Hypot(sep.SumU, s.share(sep.SumA))
		f.PeriodS, f.PeriodU, f.Duty = sep.PeriodS, sep.PeriodU, sep.Duty
		f.Notes = append(f.Notes, fmt.Sprintf("lit together: the figures are the sum of %d groups", len(out)))
		s.decide(f, e)
		if f.Verdict != InBand && staysLit > 0 && sep.SumA < e.meanA {
			// What blinks is less than all of them, and what is missing flows in the dark time.
			f.evidence, f.PHealthy, f.Why, f.Settle, f.Also, f.Learned = nil, 0, "", nil, nil, ""
			f.Notes = []string{fmt.Sprintf("in the dark time it still draws %s more than the board alone",
				words.Milliamps(staysLit, math.Hypot(sep.BaseU, x.base.UA)))}
			x.oddOne(f, blink.SteadyLit, staysLit)
		}
	}
}

// staysLit is what flows in the dark time beyond what the board itself draws;
// 0 where that is within its doubt.
func (s step) staysLit(sep blink.Separated, base budget.Draw) float64 {
	if !sep.BaseShown || base.MeanA <= 0 {
		return 0
	}
	more := sep.BaseA - base.MeanA
	if more < s.j.Rule.K*math.Hypot(math.Hypot(sep.BaseU, base.UA), s.share(sep.BaseA)) {
		return 0
	}
	return more
}

// sumOf adds what outputs are expected to draw. They may share a reel, so their
// doubts add in full.
func sumOf(os []output) expectation {
	e := expectation{smallestA: math.Inf(1), band: Band{Coverage: budget.Coverage}}
	for _, o := range os {
		e.meanA += o.want.meanA
		e.u += o.want.u
		e.band.LowA += o.want.band.LowA
		e.band.HighA += o.want.band.HighA
		e.smallestA = min(e.smallestA, o.want.smallestA)
	}
	return e
}

// steadyBoard judges a pace that doesn't blink: only the sum of the outputs is known.
func (s step) steadyBoard(os []output, base budget.Draw, out []Finding) {
	e := sumOf(os)
	if all, ok := s.allLit(os); ok {
		e = fromDraw(all, e.smallestA)
	} else {
		e.meanA += base.MeanA
		e.u = math.Hypot(e.u, base.UA)
		e.band.LowA += base.LowA
		e.band.HighA += base.HighA
	}
	for i := range out {
		f := &out[i]
		f.MeasuredA, f.MeasuredU, f.Readings, f.FiguresOf = s.t.meanA, s.t.u, s.t.n, OfSteady
		if len(out) > 1 {
			f.Notes = append(f.Notes, fmt.Sprintf("at a steady pace the figures are those of the board and "+
				"its %d groups together", len(out)))
		} else {
			f.Notes = append(f.Notes, "at a steady pace the figures are those of the board and its lights together")
		}
		s.decide(f, e)
	}
}

// allLit is the draw of the board under judgement with all these outputs lit.
func (s step) allLit(os []output) (budget.Draw, bool) {
	for _, l := range s.b.Levels(s.r.Step.Board) {
		if len(l.Outputs) != len(os) {
			continue
		}
		if !slices.ContainsFunc(os, func(o output) bool { return !slices.Contains(l.Outputs, o.number) }) {
			return l.Draw, true
		}
	}
	return budget.Draw{}, false
}
