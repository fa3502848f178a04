package returns

import (
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
	group    string
	stepA, u float64
	builtA   float64
}

type tracedModel struct {
	states []BlinkerState
	judged []tracedBlinker
	notes  []string
}

// readTrace takes the trace of a return apart: the base and the step of every
// output, each board with the period and phase it has now.
func readTrace(p *plan.Plan, s *Signature, r *Return) tracedModel {
	var t tracedModel
	volts := r.Volts
	if volts == 0 {
		volts = p.Jacks[0].Volts
	}
	cs := inWhole(p, s, r.Pace, clocksOf(p, s.Groups, r.Pace, volts))
	if len(cs) == 0 || len(r.Trace) == 0 {
		return t
	}
	f := parted(r.Trace, r.WindowS, cs)
	switch {
	case !f.Usable:
		t.notes = append(t.notes, "the trace can't be taken apart: "+f.Why)
	case f.Poor:
		t.notes = append(t.notes, f.Why)
	}
	for _, b := range f.Beats {
		for _, o := range b.Outputs {
			st := BlinkerState{Group: o.Name, State: o.State, StepA: o.StepA, StepU: o.StepU, BuiltA: o.BuiltA,
				Why: o.Why}
			if o.State == blink.Running {
				st.PeriodS = b.PeriodS
			}
			t.states = append(t.states, st)
			if o.State != blink.Unsettled {
				t.judged = append(t.judged, tracedBlinker{group: o.Name, stepA: o.StepA, u: o.StepU, builtA: o.BuiltA})
			}
		}
	}
	return t
}

// says weighs the hypotheses by the trace.
func (t tracedModel) says() evidence {
	if len(t.judged) == 0 {
		return nothingKnown()
	}
	return evidence{unknown: unknownTrace, of: func(h Hypothesis) float64 {
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
	}}
}
