package returns

import (
	"fmt"
	"math"

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
	bs := inWhole(p, s, r.Pace, beatsOf(p, s.Groups, r.Pace, volts))
	if len(bs) == 0 || len(r.Trace) == 0 {
		return t
	}
	f := fitBeats(r.Trace, r.WindowS, bs, false)
	if !f.ok {
		t.notes = append(t.notes, "the trace can't be taken apart: too few readings for what blinks")
		return t
	}
	spanS := r.Trace[len(r.Trace)-1].AtS - r.Trace[0].AtS
	poor := f.scatterA > worstFit*f.baseA
	if poor {
		t.notes = append(t.notes, "something else changes as well: base and blinkers don't account for the readings of the trace")
	}
	k := 0
	for i, b := range f.beats {
		alike := ""
		for j, c := range f.beats {
			if i != j && math.Abs(1/bs[i].periodS-1/bs[j].periodS) < 1/spanS {
				alike = c.board
			}
		}
		for _, o := range b.outputs {
			st := BlinkerState{Group: o.group, StepA: f.stepA[k], StepU: f.stepU[k], BuiltA: o.builtA}
			limit := 0.5 * o.builtA
			switch {
			case alike != "":
				st.State, st.Why = "can't tell", fmt.Sprintf("the board %q blinks too alike to be told apart: read for longer", alike)
			case poor || math.Abs(st.StepA-limit) < 3*st.StepU:
				st.State, st.Why = "can't tell", "its step is too uncertain"
			case st.StepA > limit:
				st.State, st.Why, st.PeriodS = "running", "its step is there", b.periodS
			default:
				st.State, st.Why = "not running", "its step is not there"
			}
			t.states = append(t.states, st)
			if st.State != "can't tell" {
				t.judged = append(t.judged, tracedBlinker{group: o.group, stepA: st.StepA, u: st.StepU, builtA: o.builtA})
			}
			k++
		}
	}
	return t
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
