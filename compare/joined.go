package compare

import (
	"fmt"
	"math"

	"sealworthy/compare/blink"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// joined judges groups whose wires are joined for good: the blinkers by their
// steps in the trace, all that is steady by what is left.
func (s step) joined(out []Finding) {
	clocks, at := s.clocks(out)
	base, baseU := s.t.meanA, s.t.u
	if len(clocks) > 0 {
		parted := blink.Joint(s.samples(), blink.Known{WindowS: s.t.windowS}, clocks)
		if !parted.Usable {
			s.cantTell(out, parted.Why+": measure the groups alone")
			return
		}
		base, baseU = parted.BaseA, math.Hypot(parted.BaseU, s.share(parted.BaseA))
		parted.Settle(s.dark().MeanA, math.Hypot(s.dark().UA, s.share(base)))
		for k, beat := range parted.Beats {
			for j, b := range beat.Outputs {
				for _, i := range at[k][j] {
					s.joinedBlinker(&out[i], s.together(out, at[k][j]), beat, b)
				}
				if b.State == blink.StaysLit {
					base -= b.BuiltA
				}
			}
		}
	}
	s.joinedSteady(out, base, baseU)
}

// clocks lists what blinks in a joined whole, every board at its first pace, with
// the findings that hang on each output.
func (s step) clocks(out []Finding) (cs []blink.Clock, at [][][]int) {
	clockOf, outputOf := map[string]int{}, map[string]int{}
	for i, f := range out {
		b, ok := s.j.Expected.Plan.Board(f.Board)
		if !ok || len(b.Paces) == 0 {
			continue
		}
		pace := b.Paces[0]
		out[i].Pace = pace.Name
		if pace.Steady() {
			continue
		}
		out[i].PlanPeriodS = pace.PeriodS
		output := fmt.Sprintf("%s/%d", f.Board, f.Output)
		clock := f.Board
		switch b.Run {
		case plan.Together:
			output = f.Board // lit as one
		case plan.Free:
			clock = output
		}
		c, known := clockOf[clock]
		if !known {
			c = len(cs)
			clockOf[clock] = c
			cs, at = append(cs, blink.Clock{Name: clock, PeriodS: pace.PeriodS, PeriodRel: pace.PeriodRelTol,
				DutyAbs: pace.DutyTol}), append(at, nil)
		}
		o, known := outputOf[output]
		if !known {
			o = len(cs[c].Outputs)
			outputOf[output] = o
			cs[c].Outputs, at[c] = append(cs[c].Outputs, blink.Blinker{Name: output, Spans: b.Spans(pace, f.Output)}),
				append(at[c], nil)
		}
		g, _ := s.b.GroupNamed(f.Group)
		cs[c].Outputs[o].Amps += g.Lit.MeanA
		at[c][o] = append(at[c][o], i)
	}
	return cs, at
}

// together is what the groups of one output are expected to draw: its step is
// that of all of them.
func (s step) together(out []Finding, at []int) expectation {
	one := make([]Finding, len(at))
	for i, k := range at {
		one[i] = out[k]
	}
	return sumOf(s.outputs(one))
}

// joinedBlinker judges a group by the step of its output in the whole.
func (s step) joinedBlinker(f *Finding, want expectation, beat blink.Beat, b blink.Blinking) {
	s.fill(f, want)
	f.Readings = s.t.n
	f.MeasuredA, f.MeasuredU = b.StepA, math.Hypot(b.StepU, s.share(b.StepA))
	o := output{number: f.Output, want: want}
	switch b.State {
	case blink.Running:
		f.PeriodS, f.PeriodU, f.Duty = beat.PeriodS, beat.PeriodU, b.Duty
		s.decide(f, o.want)
	case blink.StaysLit:
		f.Verdict = StuckLit
		f.Causes = s.stuckLit(*f, o)
	case blink.StaysDark:
		f.Verdict = StuckDark
		f.Causes = s.stuckDark(*f, budget.Draw{})
	default:
		f.untold(b.Why, "measure it alone, before it is joined", words.LookAtIt)
	}
}

// dark is what hangs on the step's jack with every blinker dark, as expected.
func (s step) dark() budget.Draw {
	for _, j := range s.b.Jacks {
		for _, name := range s.r.Step.Groups {
			if g, ok := s.b.GroupNamed(name); ok && g.Jack == j.Jack {
				return j.DarkMeter
			}
		}
	}
	return budget.Draw{}
}

// joinedSteady judges all that doesn't blink by its sum.
func (s step) joinedSteady(out []Finding, base, baseU float64) {
	e := fromDraw(s.dark(), math.Inf(1))
	var steady []int
	for i, f := range out {
		g, ok := s.b.GroupNamed(f.Group)
		if f.Verdict != NotMeasured {
			continue // a blinker, judged already
		}
		steady = append(steady, i)
		if pg, _ := s.j.Expected.Plan.Group(f.Group); !ok || g.AsFound || hasEnvelope(pg) {
			e.smallestA = 0 // nothing of it can be excluded
			continue
		}
		e.smallestA = min(e.smallestA, g.SmallestA)
	}
	u := math.Hypot(e.u, baseU)
	for _, i := range steady {
		f := &out[i]
		f.MeasuredA, f.MeasuredU, f.Readings, f.FiguresOf = base, baseU, s.t.n, OfJoined
		f.Notes = append(f.Notes,
			fmt.Sprintf("joined: the figures are the sum of %d groups and what their boards draw", len(steady)))
		s.fill(f, e)
		if f.Verdict = verdictOf(s.j.Rule.Decide(base, e.meanA, u, e.smallestA)); f.Verdict == CantTell {
			f.Settle = append(f.Settle, words.GroupsAlone, words.LookAtThem)
		}
		if f.Verdict == Low || f.Verdict == High {
			f.Causes = []Cause{{Name: "one of the joined groups", Text: words.OneOfJoined}}
		}
	}
}
