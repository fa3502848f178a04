package compare

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/capture"
	"sealworthy/compare/belief"
	"sealworthy/compare/budget"
	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
	"sealworthy/compare/words"
	"sealworthy/instruments"
)

// shownCauses is how many causes a finding names at most.
const shownCauses = 3

// leastP: a cause less likely than this isn't worth a line.
const leastP = 0.05

// weigh puts probabilities to a decided finding, and lets what was read at other
// voltages decide where one reading can't.
func (s step) weigh(f *Finding) {
	if s.plain {
		return
	}
	if s.drawsNothing(*f) {
		f.Causes, f.unweighed, f.conditions = s.nothing(*f), true, ConditionsOf(s.r, s.j.Leads)
		return
	}
	f.evidence, f.conditions, f.plainA = s.evidence(*f, f.Board == "" && !s.j.OneReading), ConditionsOf(s.r, s.j.Leads), f.ExpectedA
	f.evidence.single = verdictOnly{f.Verdict, f.Why, slices.Clone(f.Settle), len(f.Notes)}
	w, err := s.j.weigh(f.evidence, look.Look{})
	if err != nil {
		f.evidence, f.unweighed = nil, true
		if f.Verdict != InBand && f.Verdict != CantTell {
			f.Causes = []Cause{{Name: "unknown", Text: err.Error()}}
		}
		return
	}
	f.PHealthy = w.result.None
	s.j.jointly(f, w)
	if f.Verdict != InBand {
		f.Causes = s.j.causesOf(w, *f)
	}
}

// causes ranks what may be wrong with a group whose envelope isn't as expected.
func (s step) causes(f Finding) []Cause {
	s.weigh(&f)
	return f.Causes
}

// jointly lets several readings together pass or fail a group.
func (j *Judge) jointly(f *Finding, w weighed) {
	x := w.ensemble
	worst, off := -1, 0.0
	for i, r := range f.evidence.readings {
		if i == 0 || i >= len(x.HealthyA) {
			continue
		}
		u := math.Hypot(r.U, r.GainU*r.Amps)
		f.Also = append(f.Also, Also{Volts: r.Volts, MeasuredA: r.Amps, MeasuredU: u, ExpectedA: x.HealthyA[i], ExpectedU: x.HealthyU[i]})
		if z := math.Abs(r.Amps-x.HealthyA[i]) / math.Hypot(u, x.HealthyU[i]); z > off {
			worst, off = i, z
		}
	}
	if worst < 0 {
		return
	}
	at := f.evidence.readings[worst]
	text := fmt.Sprintf("at %s V it draws %s, expected %s", words.Number(at.Volts, 0.1), words.Milliamps(at.Amps, at.U), words.Milliamps(x.HealthyA[worst], x.HealthyU[worst]))
	switch {
	case w.decision.Verdict == belief.Pass && f.Verdict == CantTell:
		f.Verdict, f.Why, f.Settle = InBand, "", nil
		f.Notes = append(f.Notes, "passed by its draw at two voltages together: "+text)
	case w.decision.Verdict == belief.FailLow && (f.Verdict == CantTell || f.Verdict == InBand):
		f.Verdict, f.Why, f.Settle = Low, "", nil
		f.Notes = append(f.Notes, "not as planned at two voltages together: "+text)
	case w.decision.Verdict == belief.FailHigh && (f.Verdict == CantTell || f.Verdict == InBand):
		f.Verdict, f.Why, f.Settle = High, "", nil
		f.Notes = append(f.Notes, "not as planned at two voltages together: "+text)
	}
}

// inSum lists the groups whose draw is in the figures of f: itself, and on a
// board those of its output, or all where the outputs are lit at once.
func (s step) inSum(f Finding) []string {
	p := s.j.Expected.Plan
	b, ok := boardNamed(p, f.Board)
	if !ok {
		return []string{f.Group}
	}
	pace, _ := paceNamed(b, f.Pace)
	var out []string
	for _, g := range p.Groups {
		if g.Board == f.Board && slices.Contains(s.r.Step.Groups, g.Name) && (g.Output == f.Output || b.Run == plan.Together || pace.Steady()) {
			out = append(out, g.Name)
		}
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

// wired is the circuit behind a group's jack, meter and leads in.
func (s step) wired(group string) (*wiring.Wired, error) {
	c := ConditionsOf(s.r, s.j.Leads)
	o := wiring.Options{AmbientC: c.AmbientC, SeriesOhm: c.BurdenOhm + c.LeadsOhm}
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
			words.Milliamps(back.meanA, back.u))})
	}
	g, _ := groupNamed(s.j.Expected.Plan, f.Group)
	out = append(out, Cause{Name: "clip or meter fuse", Text: "it draws nothing: look at the clip, then at the meter's fuse, before the model"})
	text := "its wire is off, or its lights are turned round"
	for _, l := range g.Lights {
		if l.Kind == plan.Strip {
			text = "its wire is off, or the strip is joined the wrong way round"
		}
	}
	if g.Sealed {
		text = "the wire is open, or " + g.TestLoadText() + " isn't clipped across its end"
	}
	if g.Return != "" {
		text += fmt.Sprintf("; or its return %q is open", g.Return)
	}
	return append(out, Cause{Name: string(fault.OpenBranch), Kinds: kindNames([]fault.Kind{fault.OpenBranch, fault.GroupReversed}), Text: "then: " + text})
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
	return []Cause{{Name: string(fault.StuckDark), Kinds: kindNames([]fault.Kind{fault.StuckDark, fault.GroupReversed}), Text: fault.Ranked{Fault: fault.Fault{Kind: fault.StuckDark, Group: f.Group}}.Text(s.j.Expected.Plan)}}
}
