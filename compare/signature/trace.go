package signature

import (
	"fmt"
	"math"

	"sealworthy/compare/blink"
	"sealworthy/compare/plan"
)

// What a trace decides, and how far it is trusted.
const (
	stepRel      = 0.05 // a step's own change with age and warmth, standard deviation
	traceFloor   = 1e-4 // no trace makes anything less likely than this
	unknownTrace = -2.3 // ln 0.1: an unknown fault may do anything to a blinker
)

// tracedBlinker is one blinker that the trace could judge.
type tracedBlinker struct {
	group        string
	stepA, u     float64
	builtA       float64
	periodS, uPd float64
}

type tracedModel struct {
	states []BlinkerState
	judged []tracedBlinker
	notes  []string
}

// readTrace takes the trace of a return apart by the joint fit of all blinkers.
func readTrace(p *plan.Plan, s *Signature, r *Return) tracedModel {
	var t tracedModel
	bs := blinkers(p, s, r.Pace)
	if len(bs) == 0 || len(r.Trace) == 0 {
		return t
	}
	k := blink.Known{WindowS: r.WindowS}
	parted := blink.Joint(r.Trace, k, bs)
	if !parted.Usable {
		t.notes = append(t.notes, "the trace can't be used: "+parted.Why)
		return t
	}
	for i, x := range parted.Blinkers {
		st := BlinkerState{Group: x.Name, State: x.State.String(), StepA: x.StepA, StepU: x.StepU, BuiltA: bs[i].Amps, Why: x.Why}
		if x.State == blink.Running {
			st.PeriodS = x.PeriodS
		}
		t.states = append(t.states, st)
		if x.State == blink.Unsettled || parted.Chi > 25 {
			continue
		}
		t.judged = append(t.judged, tracedBlinker{group: x.Name, stepA: x.StepA, u: x.StepU, builtA: bs[i].Amps})
	}
	if parted.Chi > 25 {
		t.notes = append(t.notes, parted.Why)
	}
	for _, w := range parted.Twins {
		t.notes = append(t.notes, fmt.Sprintf("%q and %q blink too alike to be told apart in this trace", bs[w[0]].Name, bs[w[1]].Name))
	}
	return t
}

// blinkers lists what blinks at a pace, as built.
func blinkers(p *plan.Plan, s *Signature, pace string) []blink.Blinker {
	var out []blink.Blinker
	for _, g := range p.Groups {
		if g.Board == "" {
			continue
		}
		kept, ok := s.Group(g.Name)
		if !ok {
			continue
		}
		l, ok := kept.level(paceOf(pace, g.Board))
		if !ok || l.PeriodS <= 0 || l.OnA <= 0 {
			continue
		}
		out = append(out, blink.Blinker{Name: g.Name, Pattern: blink.Pattern{PeriodS: l.PeriodS, Duty: l.Duty}, Amps: l.OnA})
	}
	return out
}

// says gives the log likelihood of a hypothesis by the trace; nil: no trace.
func (t tracedModel) says() func(Hypothesis) float64 {
	if len(t.judged) == 0 {
		return nil
	}
	return func(h Hypothesis) float64 {
		ln := 0.0
		for _, b := range t.judged {
			f := 1.0
			if x, ok := h.steps[b.group]; ok {
				f = x
			}
			u := math.Hypot(b.u, stepRel*b.builtA)
			z := (b.stepA - f*b.builtA) / u
			ln += math.Log(math.Max(math.Exp(-z*z/2), traceFloor))
		}
		return ln
	}
}
