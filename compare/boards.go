package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sealworthy/compare/blink"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
)

// output is one output of a board with the groups on it.
type output struct {
	number int
	at     []int // indexes into the findings
	want   expectation
}

// board judges the groups of a board from the levels of its trace.
func (s step) board(b plan.Board, out []Finding) {
	pace, ok := paceNamed(b, s.r.Step.Pace)
	if !ok {
		s.cantTell(out, fmt.Sprintf("the plan has no pace %q for board %q any more: measure it again", s.r.Step.Pace, b.Name))
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
	for i := range out {
		out[i].PlanPeriodS = pace.PeriodS
		if out[i].evidence == nil {
			out[i].meanFits = s.meanFits(b, pace, out[i].SmallestA)
			if out[i].Verdict == CantTell && !out[i].meanFits {
				out[i].Settle = withoutLooks(out[i].Settle)
			}
		}
	}
}

// withoutLooks leaves out what a look can't settle.
func withoutLooks(settle []string) []string {
	var out []string
	for _, s := range settle {
		s = strings.TrimSuffix(s, ", or look at both lit and say all right")
		if !strings.HasPrefix(s, "look at it lit") && !strings.HasPrefix(s, "look at both lit") {
			out = append(out, s)
		}
	}
	return out
}

// meanFits: where the outputs of a board can't be parted, its mean draw still
// tells whether something is wrong that a look doesn't show. It must be near what
// is expected, and so sure that the loss of the least branch would show in it.
func (s step) meanFits(b plan.Board, p plan.Pace, smallest float64) bool {
	feed, ok := s.b.FeedNamed(b.Name)
	i := slices.IndexFunc(feed.Paces, func(q budget.PaceDraw) bool { return q.Pace == p.Name })
	if !ok || i < 0 || s.t.n < minReadings || smallest <= 0 {
		return false
	}
	q := feed.Paces[i]
	swing := q.PeakA - s.baseDraw(b.Name).MeanA
	u := math.Hypot(math.Hypot(q.Mean.UA, modelRel*q.Mean.MeanA), s.t.u)
	u = math.Hypot(u, swing*p.DutyTol/math.Sqrt(3))
	if last := s.t.atS[len(s.t.atS)-1]; last > 0 {
		// A trace rarely holds whole periods.
		u = math.Hypot(u, 0.3*swing*math.Sqrt(q.Duty*(1-q.Duty))*p.PeriodS/last)
	}
	d := math.Abs(s.t.meanA - q.Mean.MeanA)
	return d < s.j.Rule.K*u && d <= smallest*q.Duty-s.j.Rule.Guard*u
}

func paceNamed(b plan.Board, name string) (plan.Pace, bool) {
	i := slices.IndexFunc(b.Paces, func(p plan.Pace) bool { return p.Name == name })
	if i < 0 {
		return plan.Pace{}, false
	}
	return b.Paces[i], true
}

func (s step) cantTell(out []Finding, why string) {
	for i := range out {
		out[i].Verdict = CantTell
		out[i].MeasuredA, out[i].MeasuredU, out[i].Readings = s.t.meanA, s.t.u, s.t.n
		out[i].Settle = append(out[i].Settle, why)
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

func (s step) samples() []blink.Sample {
	out := make([]blink.Sample, len(s.t.amps))
	for i, a := range s.t.amps {
		out[i] = blink.Sample{AtS: s.t.atS[i], Amps: a}
	}
	return out
}

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
	on := base.MeanA + o.want.meanA
	tol := blink.Tolerance{
		PeriodRel: p.PeriodRelTol, DutyAbs: p.DutyTol,
		OnA: on, OnU: math.Hypot(math.Hypot(base.UA, o.want.u), s.share(on)), OffA: base.MeanA, OffU: math.Hypot(base.UA, s.share(base.MeanA)),
	}
	m := blink.Match(s.samples(), s.known(p), pattern(p), tol)
	for _, i := range o.at {
		f := &out[i]
		f.Readings = s.t.n
		f.MeasuredA, f.MeasuredU = m.OnA-m.OffA, math.Hypot(math.Hypot(m.OnU, m.OffU), s.share(m.OnA-m.OffA))
		f.PeriodS, f.PeriodU, f.Duty = m.PeriodS, m.PeriodU, m.Duty
		s.fill(f, o.want)
		s.agreement(f, o, m.Agreement, m.Why, base)
		if m.Agreement == blink.OffPace {
			if other := s.runsAt(*f, tol); other != "" {
				f.Causes = []Cause{{Name: "off pace", Text: fmt.Sprintf("it runs at its pace %q: step its button, then measure again", other)}}
			}
		}
		if m.Agreement == blink.Agrees {
			if !m.LevelsShown {
				f.Verdict = CantTell
				f.Settle = append(f.Settle, "its flashes are shorter than the meter can follow: look at it lit, and say all right")
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
		f.Causes = []Cause{{Name: "off pace", Text: "the board runs at another pace than planned: its button was pressed, or its timing parts differ"}}
	case blink.SteadyLit:
		f.Verdict = StuckLit
		f.MeasuredA, f.MeasuredU = s.t.meanA-base.MeanA, math.Hypot(s.t.u, base.UA)
		f.Causes = s.stuckLit(*f, o)
	case blink.SteadyDark:
		f.Verdict = StuckDark
		f.MeasuredA, f.MeasuredU = s.t.meanA-base.MeanA, math.Hypot(s.t.u, base.UA)
		f.Causes = s.stuckDark(*f, base)
	case blink.CantTell, blink.NotCompared:
		f.Verdict = CantTell
		f.Settle = append(f.Settle, why, "look at it lit, and say all right")
	}
}

// severalOutputs judges a board of which two or more outputs are in use.
func (s step) severalOutputs(b plan.Board, p plan.Pace, os []output, base budget.Draw, out []Finding) {
	runs := map[plan.OutputsRun]blink.Run{plan.Alternate: blink.Alternate, plan.Together: blink.Together, plan.Free: blink.Free}
	want := blink.Outputs{
		Run: runs[b.Run], Pattern: pattern(p), Tolerance: blink.Tolerance{PeriodRel: p.PeriodRelTol, DutyAbs: p.DutyTol},
		BaseA: base.MeanA, BaseU: math.Hypot(base.UA, s.share(base.MeanA)), BaseKnown: base.MeanA > 0,
	}
	for _, o := range os {
		want.ExpectedA = append(want.ExpectedA, o.want.meanA)
	}
	sep := blink.Levels(s.samples(), s.known(p), want)
	if !sep.Apart && sep.Agreement == blink.Agrees && sep.SumA > 0 {
		s.sumOnly(os, sep, base, out)
		return
	}
	s.swapped(os, sep)
	for k, o := range os {
		for _, i := range o.at {
			f := &out[i]
			f.Readings = s.t.n
			f.PeriodS, f.PeriodU, f.Duty = sep.PeriodS, sep.PeriodU, sep.Duty
			s.fill(f, o.want)
			if !sep.Apart || k >= len(sep.Outputs) {
				s.notApart(f, sep)
				continue
			}
			l := sep.Outputs[k]
			f.MeasuredA, f.MeasuredU = l.Amps, math.Hypot(math.Hypot(l.U, s.share(l.Amps)), s.gapU(b, sep, len(os), base))
			if n := s.taken(os, sep, k); n >= 0 {
				f.Notes = append(f.Notes, fmt.Sprintf("it could be output %d as well by what blinks: look which of them doesn't", os[n].number))
			}
			switch l.Agreement {
			case blink.Agrees:
				if other := s.mayBe(os, sep, k); other >= 0 {
					f.Verdict = CantTell
					f.Settle = append(f.Settle, fmt.Sprintf("one output of %q blinks and one doesn't; by its draw it could be output %d or %d that blinks: look which", f.Board, o.number, os[other].number),
						"unclip one output of the board and measure it again")
					continue
				}
				s.decide(f, o.want)
				if f.Verdict == CantTell && s.gapU(b, sep, len(os), base) > f.ExpectedU {
					f.Settle = []string{fmt.Sprintf("the outputs of %q take turns without a dark moment, and what the board itself draws isn't known well enough: unclip one output and measure it again", f.Board),
						"look at both lit, and say all right"}
				}
			case blink.SteadyLit:
				f.Verdict = StuckLit
				if a, u, ok := s.stuckAmps(sep, k, base); ok {
					f.MeasuredA, f.MeasuredU = a, u
				}
				f.Causes = s.stuckLit(*f, o)
			case blink.SteadyDark:
				f.Verdict = StuckDark
				f.Causes = s.stuckDark(*f, base)
			default:
				s.agreement(f, o, l.Agreement, sep.Why, base)
			}
		}
	}
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
func (s step) notApart(f *Finding, sep blink.Separated) {
	f.MeasuredA, f.MeasuredU = s.t.meanA, s.t.u
	switch sep.Agreement {
	case blink.OffPace:
		f.Verdict = OffPace
		f.Notes = append(f.Notes, sep.Why)
		return
	default:
		f.Verdict = CantTell
	}
	f.Settle = append(f.Settle, sep.Why, "unclip one output of the board and measure it again, or look at both lit and say all right")
}

// gapU is what the board's own draw adds to the doubt of an output that takes
// turns where the dark moment is shorter than the meter's window: the trace
// doesn't show the board alone then, the plan does.
func (s step) gapU(b plan.Board, sep blink.Separated, outputs int, base budget.Draw) float64 {
	n := float64(outputs)
	gapS := math.Abs(1-n*sep.Duty) / n * sep.PeriodS
	if b.Run != plan.Alternate || gapS >= shownGap*s.t.windowS {
		return 0
	}
	return base.UA
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
