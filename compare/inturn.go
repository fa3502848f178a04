package compare

import (
	"fmt"
	"math"

	"sealworthy/compare/blink"
	"sealworthy/compare/budget"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// several is a board of which two or more outputs are in use, taken apart.
type several struct {
	step
	b    plan.Board
	p    plan.Pace
	os   []output
	sep  blink.Separated
	base budget.Draw
}

// severalOutputs judges a board of which two or more outputs are in use.
func (s step) severalOutputs(b plan.Board, p plan.Pace, os []output, base budget.Draw, out []Finding) {
	sep := blink.Levels(s.samples(), s.known(p), s.outputsAt(b, p, os, base))
	if !sep.Apart && sep.Agreement == blink.Agrees && sep.SumA > 0 {
		several{s, b, p, os, sep, base}.sumOnly(out)
		return
	}
	s.oddByDraw(os, &sep)
	s.swapped(os, sep)
	x := several{s, b, p, os, sep, base}
	ways := x.weighWays(out)
	for k, o := range os {
		for _, i := range o.at {
			f := &out[i]
			f.Readings = s.t.n
			f.PeriodS, f.PeriodU, f.Duty = sep.PeriodS, sep.PeriodU, sep.Duty
			s.fill(f, o.want)
			if !sep.Apart || k >= len(sep.Outputs) {
				s.notApart(f, b, p, sep)
				continue
			}
			x.output(f, k)
		}
	}
	x.eitherWay(ways, out)
}

// oddByDraw tells which output stays lit or dark where the draw of those that blink
// leaves only one. Where it fits none of them, nothing is known of any: none is odd.
func (s step) oddByDraw(os []output, sep *blink.Separated) {
	var left []blink.OutputLevel
	odd, any := -1, len(sep.Odd) == 0
	for _, way := range sep.Odd {
		at, fits := -1, len(way) == len(os)
		for k := range min(len(way), len(os)) {
			if way[k].Agreement != blink.Agrees {
				at = k
			} else {
				fits = fits && s.fits(way[k], os[k])
			}
		}
		any = any || fits
		switch {
		case !fits || at == odd:
		case odd >= 0:
			return // it could be either
		default:
			left, odd = way, at
		}
	}
	if !any {
		sep.OddOne = blink.NotCompared
	}
	if left != nil {
		sep.Outputs, sep.OddOne, sep.Agreement = left, blink.NotCompared, blink.Agrees
	}
}

// outputsAt is what is known of the outputs of a board at a pace.
func (s step) outputsAt(b plan.Board, p plan.Pace, os []output, base budget.Draw) blink.Outputs {
	runs := map[plan.OutputsRun]blink.Run{plan.Alternate: blink.Alternate, plan.Together: blink.Together,
		plan.Free: blink.Free}
	want := blink.Outputs{
		Run: runs[b.Run], Pattern: pattern(p), Tolerance: blink.Tolerance{PeriodRel: p.PeriodRelTol,
			DutyAbs: p.DutyTol},
		BaseA: base.MeanA, BaseU: math.Hypot(base.UA, s.share(base.MeanA)), BaseKnown: base.MeanA > 0,
	}
	for _, o := range os {
		want.ExpectedA = append(want.ExpectedA, o.want.meanA)
	}
	return want
}

// output judges a group by what its output was found to do.
func (x several) output(f *Finding, k int) {
	s, sep, o, l := x.step, x.sep, x.os[k], x.sep.Outputs[k]
	f.MeasuredA, f.MeasuredU = l.Amps, x.levelU(l)
	if n := s.taken(x.os, sep, k); n >= 0 {
		f.Notes = append(f.Notes, fmt.Sprintf("it could be output %d as well by what blinks: look which of them "+
			"doesn't", x.os[n].number))
	}
	switch l.Agreement {
	case blink.Agrees:
		if other := s.mayBe(x.os, sep, k); other >= 0 {
			f.untold(fmt.Sprintf("one output of %q blinks and one doesn't; by its draw it could be output %d or %d "+
				"that blinks: look which", f.Board, o.number, x.os[other].number),
				"unclip one output of the board and measure it again")
			return
		}
		s.decide(f, o.want)
		if f.Verdict == CantTell && x.gapU() > f.ExpectedU {
			f.Why = fmt.Sprintf("The outputs of %q take turns without a dark moment, and what the board itself draws "+
				"isn't known well enough.", f.Board)
			f.Settle = []string{"unclip one output of the board and measure it again", words.LookAtBoth}
		}
	case blink.SteadyLit:
		f.Verdict = StuckLit
		if a, u, ok := s.stuckAmps(sep, k, x.base); ok {
			f.MeasuredA, f.MeasuredU = a, u
		}
		f.Causes = s.stuckLit(*f, o)
	case blink.SteadyDark:
		f.Verdict = StuckDark
		f.Causes = s.stuckDark(*f, x.base)
	default:
		if sep.OddOne == blink.SteadyLit || sep.OddOne == blink.SteadyDark {
			most := 0.0
			for _, l := range sep.Outputs {
				most = max(most, l.Amps)
			}
			x.oddOne(f, sep.OddOne, most)
			return
		}
		s.agreement(f, o, l.Agreement, sep.Why, x.base)
	}
}

// levelU is the standard uncertainty of the level of an output. What the board
// itself draws is in it already where the trace was held to it.
func (x several) levelU(l blink.OutputLevel) float64 {
	return math.Hypot(max(l.U, x.gapU()), x.share(l.Amps))
}

// oddOne is the finding where one of several like outputs stays lit, with amps, or dark and
// the current can't tell which.
func (x several) oddOne(f *Finding, does blink.Agreement, amps float64) {
	kind, what := fault.Overloaded, "stays lit, so it is overloaded"
	f.Verdict = StuckLit
	if does == blink.SteadyDark {
		kind, what = fault.StuckDark, "never lights"
		f.Verdict = StuckDark
	}
	f.MeasuredA, f.MeasuredU = x.t.meanA, x.t.u
	x.wholeBoard(f, x.b, x.p)
	text := words.OneOutput(f.Board, what, x.numbers())
	f.Causes = []Cause{x.j.cured(Cause{Name: string(kind), Text: text}, f.Board, f.Output, amps)}
}

// numbers lists the outputs in use.
func (x several) numbers() string {
	var names []string
	for _, o := range x.os {
		names = append(names, fmt.Sprint(o.number))
	}
	return list(names)
}

// stuckAmps is what an output that stays lit draws: what is left of the mean
// when the board itself and the outputs that blink are taken off. It can't be
// told where a second output is stuck or undecided.
func (s step) stuckAmps(sep blink.Separated, stuck int, base budget.Draw) (amps, u float64, ok bool) {
	amps, u = s.t.meanA-base.MeanA, math.Hypot(s.t.u, base.UA)
	for i, l := range sep.Outputs {
		switch {
		case i == stuck || l.Agreement == blink.SteadyDark:
		case l.Agreement == blink.Agrees && sep.Duty > 0:
			amps -= sep.Duty * l.Amps
			u = math.Hypot(u, math.Hypot(sep.Duty*l.U, sep.DutyU*l.Amps))
		default:
			return 0, 0, false
		}
	}
	// A trace rarely holds whole periods: a part of one, lit or dark, is in doubt.
	if sep.PeriodS > 0 && len(s.t.atS) > 1 {
		last := s.t.atS[len(s.t.atS)-1]
		for i, l := range sep.Outputs {
			if i != stuck {
				u = math.Hypot(u, l.Amps*sep.Duty*(1-sep.Duty)*sep.PeriodS/last)
			}
		}
	}
	return amps, u, true
}

// notApart says what to do where the outputs of a board can't be told apart.
func (s step) notApart(f *Finding, b plan.Board, p plan.Pace, sep blink.Separated) {
	if sep.Agreement == blink.OffPace {
		f.Verdict = OffPace
		f.Notes = append(f.Notes, sep.Why)
		s.wholeBoard(f, b, p)
		return
	}
	f.untold(sep.Why, "unclip one output of the board and measure it again, or look at both lit and say all right")
}

// gapU is what the board's own draw adds to the doubt of an output that takes
// turns where the dark moment is shorter than the meter's window: the trace
// doesn't show the board alone then, the plan does.
func (x several) gapU() float64 {
	n := float64(len(x.os))
	gapS := math.Abs(1-n*x.sep.Duty) / n * x.sep.PeriodS
	if x.b.Run != plan.Alternate || gapS >= shownGap*x.t.windowS {
		return 0
	}
	return x.base.UA
}

// shownGap windows of the meter a dark moment must last for a whole reading of it.
const shownGap = 2

// swapped gives the output that blinks to the one that would draw as much, where
// it is taken for another that can't: the draw of an output that doesn't blink
// says nothing of which it is.
func (s step) swapped(os []output, sep blink.Separated) {
	for k := range min(len(os), len(sep.Outputs)) {
		if sep.Outputs[k].Agreement != blink.Agrees || s.fits(sep.Outputs[k], os[k]) {
			continue
		}
		if i := s.mayBe(os, sep, k); i >= 0 {
			sep.Outputs[i], sep.Outputs[k] = sep.Outputs[k], sep.Outputs[i]
			return
		}
	}
}

// mayBe finds an output that doesn't blink although by its draw it could be the
// one that does; -1: none.
func (s step) mayBe(os []output, sep blink.Separated, k int) int {
	for i, l := range sep.Outputs {
		if i >= len(os) || l.Agreement != blink.SteadyLit && l.Agreement != blink.SteadyDark {
			continue
		}
		if s.fits(sep.Outputs[k], os[i]) {
			return i
		}
	}
	return -1
}

// taken finds the output that blinks where it could be k that does; -1: none.
func (s step) taken(os []output, sep blink.Separated, k int) int {
	for i, l := range sep.Outputs {
		if i < len(os) && l.Agreement == blink.Agrees && s.mayBe(os, sep, i) == k {
			return i
		}
	}
	return -1
}

func (s step) fits(l blink.OutputLevel, o output) bool {
	u := math.Hypot(math.Hypot(l.U, s.share(l.Amps)), o.want.u)
	return math.Abs(l.Amps-o.want.meanA) < s.j.Rule.K*u
}
