package compare

import (
	"fmt"
	"math"

	"sealworthy/capture"
	"sealworthy/compare/budget"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
	"sealworthy/instruments"
)

// shownCauses is how many causes a finding names at most.
const shownCauses = 3

// leastP: a cause less likely than this isn't worth a line.
const leastP = 0.05

// causes ranks what may be wrong with a group whose draw isn't as expected.
func (s step) causes(f Finding) []Cause {
	if s.drawsNothing(f) {
		return s.nothing(f)
	}
	effects, err := s.effects(f.Group, s.r.Step.Volts)
	if err != nil {
		return []Cause{{Name: "unknown", Text: err.Error()}}
	}
	seen := fault.Seen{DeltaA: f.MeasuredA - f.ExpectedA, U: math.Hypot(f.MeasuredU, f.ExpectedU), SpreadA: s.r.Step.LimitA()}
	if f.Verdict == CantTell {
		seen.Healthy = priorHealthy
	}
	ranked := fault.Rank(effects, seen)
	return s.named(f, ranked)
}

// priorHealthy is how many groups are as planned (common practice, no source).
const priorHealthy = 0.85

// named keeps the causes that explain the verdict.
func (s step) named(f Finding, ranked []fault.Ranked) []Cause {
	var out []Cause
	d := f.MeasuredA - f.ExpectedA
	for _, r := range ranked {
		if len(out) == shownCauses || r.P < leastP || (f.Verdict == CantTell && r.P < 0.5) || r.DeltaA*d < 0 {
			continue
		}
		out = append(out, Cause{Name: string(r.Fault.Kind), Kinds: kindNames(r.Kinds), Text: r.Text(s.j.Expected.Plan), P: round2(r.P)})
	}
	if len(out) == 0 && f.Verdict != CantTell {
		out = []Cause{{Name: "unknown", Text: "none of the usual faults fits: count the lights and compare the parts with the plan"}}
	}
	return out
}

func kindNames(ks []fault.Kind) []string {
	out := make([]string, len(ks))
	for i, k := range ks {
		out[i] = string(k)
	}
	return out
}

func round2(p float64) float64 { return math.Round(p*100) / 100 }

// effects computes what each fault would make of a group's draw.
func (s step) effects(group string, volts float64) ([]fault.Effect, error) {
	w, err := s.wired(group)
	if err != nil {
		return nil, err
	}
	return fault.Effects(w, group, volts)
}

// wired is the circuit behind a group's jack, meter and leads in.
func (s step) wired(group string) (*wiring.Wired, error) {
	c := ConditionsOf(s.r, s.j.Leads)
	o := wiring.Options{SeriesOhm: c.BurdenOhm + c.LeadsOhm}
	if c.AmbientC != nil {
		o.AmbientC = *c.AmbientC
	}
	g, _ := s.b.GroupNamed(group)
	return wiring.Build(s.j.Expected.Plan, g.Jack, o)
}

// drawsNothing: no more than the meter's own doubt, where something was due.
func (s step) drawsNothing(f Finding) bool {
	if f.Board != "" {
		return false
	}
	nothing := max(3.29*f.MeasuredU, 0.02*f.ExpectedA)
	return f.ExpectedA > 2*nothing && math.Abs(f.MeasuredA) < nothing
}

// nothing: the bench is suspected before the model.
func (s step) nothing(f Finding) []Cause {
	var out []Cause
	if back := readingsTrace(s.r.Trace(SupplyName, instruments.Current)); back.n > 0 && back.meanA > max(3*back.halfWidth, f.ExpectedA/2) {
		return append(out, Cause{Name: "meter lead", Text: fmt.Sprintf("the supply gives %s, the meter reads nothing: look at the meter's fuse, jack and leads first",
			Milliamps(back.meanA, back.u))})
	}
	g, _ := groupNamed(s.j.Expected.Plan, f.Group)
	out = append(out, Cause{Name: "clip or meter fuse", Text: "it draws nothing: look at the clip, then at the meter's fuse, before the model"})
	name, text := string(fault.OpenBranch), "its wire is off, or its lights are turned round"
	for _, l := range g.Lights {
		if l.Kind == plan.Strip {
			text = "its wire is off, or the strip is joined the wrong way round"
		}
	}
	if g.Return != "" {
		text += fmt.Sprintf("; or its return %q is open", g.Return)
	}
	return append(out, Cause{Name: name, Text: "then: " + text})
}

// tripCauses names what makes too much flow at the voltage of a trip.
func (s step) tripCauses(f Finding) []Cause {
	w, err := s.wired(f.Group)
	if err != nil {
		return []Cause{{Name: "unknown", Text: err.Error()}}
	}
	var ramp []fault.RampPoint
	at := 0
	for i, p := range s.r.Step.Ramp {
		ramp = append(ramp, fault.RampPoint{Volts: p.Volts, MaxA: p.MaxA})
		if p.Volts <= s.r.TripVolts+1e-9 {
			at = i
		}
	}
	var out []Cause
	if ranked, err := fault.Trip(w, f.Group, ramp, at); err == nil {
		for _, r := range ranked {
			if len(out) < shownCauses && r.P >= leastP {
				out = append(out, Cause{Name: string(r.Fault.Kind), Kinds: kindNames(r.Kinds), Text: r.Text(s.j.Expected.Plan), P: round2(r.P)})
			}
		}
	}
	if len(out) == 0 {
		out = []Cause{{Name: "unknown", Text: fmt.Sprintf("more flows in %q than any usual fault explains: look for a bridge or a bare wire, compare the parts with the plan; measure ohms with the output off", f.Group)}}
	}
	return out
}

// lastReadings are the meter's last readings of current before a trip.
func lastReadings(r capture.StepRecord) []instruments.Reading {
	var out []instruments.Reading
	for _, x := range r.Readings {
		if x.Instrument == ammeter(r) && x.Quantity == instruments.Current && x.Status == instruments.OK {
			out = append(out, x)
		}
	}
	return out[max(0, len(out)-1):]
}

// stuckLit names why an output doesn't go dark.
func (s step) stuckLit(f Finding, o output) []Cause {
	u := math.Hypot(f.MeasuredU, o.want.u)
	over := fault.Ranked{Fault: fault.Fault{Kind: fault.Overloaded, Group: f.Group}}.Text(s.j.Expected.Plan)
	if f.MeasuredA > o.want.meanA+s.j.Rule.K*u {
		return []Cause{{Name: string(fault.Overloaded), Text: over}}
	}
	return []Cause{
		{Name: "board set to steady", Text: "the board may be set to a steady pace: step its button, then measure again"},
		{Name: string(fault.Overloaded), Text: over},
	}
}

// stuckDark names why an output never lights.
func (s step) stuckDark(f Finding, base budget.Draw) []Cause {
	if base.MeanA > 6*s.t.u && s.t.meanA < base.MeanA/3 {
		return []Cause{{Name: "clip or meter fuse", Text: fmt.Sprintf("the board %q itself draws next to nothing: look at the clip, the meter's fuse and the board's plus and minus", f.Board)}}
	}
	return []Cause{{Name: string(fault.StuckDark), Text: fault.Ranked{Fault: fault.Fault{Kind: fault.StuckDark, Group: f.Group}}.Text(s.j.Expected.Plan)}}
}
