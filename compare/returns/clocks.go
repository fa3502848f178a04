package returns

import (
	"slices"

	"sealworthy/compare/blink"
	"sealworthy/compare/plan"
)

// periodTol is how far a board's pace may have moved since: warmth and age.
// sweepTol is how far it may within one sweep.
const (
	periodTol = 0.05
	sweepTol  = 0.001
)

// clocksOf lists what blinks at a set of paces, as built, at volts. Their duty is
// held to what it was: what the trace makes of it would enter their mean draw.
func clocksOf(p *plan.Plan, groups []GroupCurve, pace string, volts float64) []blink.Clock {
	var out []blink.Clock
	for _, b := range p.Boards {
		c := blink.Clock{Name: b.Name, PeriodRel: periodTol}
		numbers := map[int]int{}
		for _, g := range groups {
			if g.Board != b.Name {
				continue
			}
			l, ok := g.level(paceOf(pace, b.Name))
			if !ok || l.PeriodS <= 0 || l.OnA <= 0 || l.Duty <= 0 || l.Duty >= 1 {
				continue
			}
			c.PeriodS = l.PeriodS
			a := l.OnA
			if len(g.Lit.Volts) > 0 {
				a = g.Lit.at([]float64{volts})[0]
			}
			if k, seen := numbers[g.Output]; seen { // two groups on one output blink as one
				c.Outputs[k].Amps += a
				continue
			}
			numbers[g.Output] = len(c.Outputs)
			c.Outputs = append(c.Outputs, blink.Blinker{Name: g.Group, Spans: spansOf(b, l, g.Output), Amps: a})
		}
		switch {
		case len(c.Outputs) == 0:
		case b.Run == plan.Free:
			for i := range c.Outputs {
				one := c
				one.Outputs = c.Outputs[i : i+1]
				out = append(out, one)
			}
		default:
			out = append(out, c)
		}
	}
	return out
}

// parted takes a trace apart.
func parted(t []blink.Sample, windowS float64, cs []blink.Clock) blink.Parted {
	return blink.Joint(t, blink.Known{WindowS: windowS}, cs)
}

// inWhole brings the steps as built to what they were in the whole model when
// its trace was kept, where one was.
func inWhole(p *plan.Plan, s *Signature, pace string, cs []blink.Clock) []blink.Clock {
	for i, w := range s.Whole {
		if len(w.Trace) == 0 || w.Pace != pace && (pace != "" || i > 0) {
			continue
		}
		f := parted(w.Trace, w.WindowS, clocksOf(p, s.Groups, pace, w.Volts))
		ratio := map[string]float64{}
		for _, c := range f.Beats {
			for _, o := range c.Outputs {
				if o.StepA > 0.5*o.BuiltA {
					ratio[o.Name] = o.StepA / o.BuiltA
				}
			}
		}
		for i := range cs {
			for j := range cs[i].Outputs {
				if x, ok := ratio[cs[i].Outputs[j].Name]; ok {
					cs[i].Outputs[j].Amps *= x
				}
			}
		}
		return cs
	}
	return cs
}

// spansOf gives when an output is lit within its period.
func spansOf(b plan.Board, l Level, output int) [][2]float64 {
	k := slices.IndexFunc(b.Paces, func(q plan.Pace) bool {
		return q.Name == l.Pace && len(q.Flashes) > 0 &&
			q.PeriodS > 0
	})
	if k >= 0 {
		return b.Spans(b.Paces[k], output)
	}
	return b.Spans(plan.Pace{Duty: l.Duty}, output)
}
