package returns

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/plan"
)

// Guided are the steps of a return that is led through: little current first,
// then warm, a look while it's lit, then readings at single voltages, then all of it
// for the record.
type Guided struct {
	Limit  capture.Step   // up to service voltage at once, a look at the draw, off
	Warm   capture.Step   // on until it is warm; then a trace at service voltage, the first reading
	Look   capture.Step   // what is seen of the lights of all groups
	Probes []capture.Step // one voltage each, by falling voltage, below service voltage
	Whole  []capture.Step // trace and sweep of each pace
	// Resistor reads the one that was read when the model left; nil: none was.
	Resistor *capture.Step
}

// What the IDs of these steps begin with; the rest of one is that of the jack.
const (
	limitID = "limit/"
	warmID  = "warm/"
	lookID  = "look/"
	probeID = "probe/"
)

// limitRead is how long the first look at a return is.
const limitRead = 3 * time.Second

// NewGuided makes the steps of those that measure the whole model, for each
// pace one with its sweep; that of power-on comes first, a resistor last. warm is how its
// warm-up settles; groups are those whose lights can be looked at.
func NewGuided(whole []capture.Step, warm capture.Settle, groups []string) (Guided, error) {
	if len(whole) == 0 || len(whole[0].Ramp) == 0 || len(whole[0].Sweep) < 3 {
		return Guided{}, errors.New("the whole model has no sweep to take single voltages from")
	}
	first := whole[0]
	var resistor *capture.Step
	if last := whole[len(whole)-1]; last.Kind == capture.Resistor {
		resistor, whole = &last, whole[:len(whole)-1]
	}
	single := func(id string) capture.Step {
		s := first
		s.ID, s.Sweep = id, nil
		return s
	}
	g := Guided{Limit: single(limitID + first.Feed), Warm: single(fmt.Sprintf("%s%s/1", warmID, first.Feed)),
		Whole: whole, Resistor: resistor}
	g.Limit.For = limitRead
	g.Look = single(lookID + first.Feed)
	g.Look.Kind, g.Look.Groups = capture.Look, groups
	g.Warm.Settle = warm
	for _, p := range first.Sweep {
		if p.Volts >= first.Volts-near {
			continue
		}
		s := single(fmt.Sprintf("%s%s/%05.2f", probeID, first.Feed, p.Volts))
		s.Volts, s.For, s.Ramp = p.Volts, p.For, rampTo(first.Ramp, p)
		g.Probes = append(g.Probes, s)
	}
	return g, nil
}

// Again is a warm-up of a test that goes on: the n-th.
func (g Guided) Again(n int) capture.Step {
	s := g.Warm
	s.ID, s.For = fmt.Sprintf("%s%s/%d", warmID, s.Feed, n), limitRead
	return s
}

// rampTo is the part of a ramp below a voltage, then that voltage with its own
// limit. While capacitors charge, the limit is as much higher as it is at the
// end of the whole ramp.
func rampTo(ramp []capture.RampPoint, p capture.SweepPoint) []capture.RampPoint {
	var out []capture.RampPoint
	work := ramp[len(ramp)-1]
	last := capture.RampPoint{Volts: p.Volts, LimitA: p.LimitA, MaxA: p.MaxA, ExpectA: work.ExpectA}
	for _, x := range ramp {
		if x.Volts < p.Volts-near {
			out = append(out, x)
		} else {
			last.ExpectA = min(last.ExpectA, x.ExpectA)
		}
	}
	if n := len(ramp); n > 1 && ramp[n-2].Volts == work.Volts && work.LimitA > 0 {
		surge := last
		surge.LimitA *= ramp[n-2].LimitA / work.LimitA
		surge.MaxA = surge.LimitA
		out = append(out, surge)
	}
	return append(out, last)
}

// atOneVoltage: a step of a guided return that isn't for the record of a pace.
func atOneVoltage(r capture.StepRecord) bool {
	id := r.Step.ID
	return strings.HasPrefix(id, limitID) || strings.HasPrefix(id, warmID) || strings.HasPrefix(id, probeID)
}

// IsWarmUp: the step that warms a model up, first or again.
func IsWarmUp(s capture.Step) bool { return strings.HasPrefix(s.ID, warmID) }

// IsProbe: a step whose reading counts in a search.
func IsProbe(s capture.Step) bool {
	return strings.HasPrefix(s.ID, probeID) || IsWarmUp(s) && strings.HasSuffix(s.ID, "/1")
}

// ProbeOf takes the reading of a step at one voltage: the mean over whole
// cycles of what blinks. The trace is that of the step.
func ProbeOf(p *plan.Plan, s *Signature, r capture.StepRecord, l Leads) (x Probe, trace *Return, ok bool) {
	p = p.InService()
	if r.Outcome != capture.Measured {
		return Probe{}, nil, false
	}
	t, ok := traceOf(r, l)
	if !ok {
		return Probe{}, nil, false
	}
	pace := ""
	if len(s.Whole) > 0 {
		pace = s.Whole[0].Pace
	}
	trace = &Return{At: r.Ended, Simulated: r.Simulated, AmbientC: r.AmbientC, Instruments: r.Instruments, Pace: pace,
		Trace: t.samples, WindowS: t.windowS, Volts: t.volts}
	steady(p, s.Groups, pace, nil, &t)
	return Probe{Volts: t.volts, Amps: t.amps, U: t.u, DwellS: r.Step.For.Seconds(), SetVolts: r.Step.Volts},
		trace, true
}
