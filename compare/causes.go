package compare

import (
	"math"
	"slices"

	"sealworthy/capture"
	"sealworthy/compare/budget"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
	"sealworthy/compare/words"
	"sealworthy/instruments"
)

// shownCauses is how many causes a finding names at most.
const shownCauses = 3

// leastP: a cause less likely than this isn't worth a line.
const leastP = 0.05

// causes ranks what may be wrong with a group whose envelope isn't as expected.
func (s step) causes(f Finding) []Cause {
	s.weigh(&f, f.Settle)
	return f.Causes
}

// inSum lists the groups whose draw is in the figures of f: itself, and on a
// board those of its output, or all where the outputs are lit at once.
func (s step) inSum(f Finding) []string {
	p := s.j.Expected.Plan
	b, ok := p.Board(f.Board)
	if !ok {
		return []string{f.Group}
	}
	pace, _ := b.Pace(f.Pace)
	var out []string
	for _, g := range p.Groups {
		if g.Board == f.Board && slices.Contains(s.r.Step.Groups, g.Name) &&
			(g.Output == f.Output || f.FiguresOf == OfOutputs || pace.Steady()) {
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
	c := SceneOf(s.r, s.j.Leads)
	room := c.RoomOr()
	o := wiring.Options{AmbientC: &room.C, SeriesOhm: c.SeriesOhm()}
	g, _ := s.b.GroupNamed(group)
	return wiring.Build(s.j.Expected.Plan, g.Jack, o)
}

// drawsNothing: no more than the meter's own doubt, where something was due.
func (f Finding) drawsNothing() bool {
	if f.Board != "" {
		return false
	}
	nothing := max(3.29*f.MeasuredU, 0.02*f.ExpectedA)
	return f.ExpectedA > 2*nothing && math.Abs(f.MeasuredA) < nothing
}

// nothing names why nothing flows: the bench is suspected before the model, until
// something else was read with it (readSince).
func (s step) nothing(f Finding) []Cause {
	if back := instrumentTrace(s.r, SupplyName); back.n > 0 &&
		back.meanA > max(3*back.halfWidth, f.ExpectedA/2) {
		return []Cause{{Name: string(fault.MeterLead),
			Text: words.MeterReadsNothing(words.Milliamps(back.meanA, back.u))}}
	}
	g, _ := s.j.Expected.Plan.Group(f.Group)
	bench, model := words.NothingFlows(g, false)
	return benchThen(bench, model, []fault.Kind{fault.OpenBranch, fault.GroupReversed})
}

func benchThen(bench, model string, kinds []fault.Kind) []Cause {
	return []Cause{{Name: string(fault.NoContact), Text: bench}, {Name: string(kinds[0]), Kinds: kindNames(kinds),
		Text: model}}
}

// modelFirst turns the causes of a group or board that draws nothing round where the
// same meter has read something since: then its fuse and its leads are whole.
func (j *Judge) modelFirst(f *Finding, g plan.Group, h History) {
	if len(f.Causes) != 2 || f.Causes[0].Name != string(fault.NoContact) || !readSince(*f, h) {
		return
	}
	bench, model := f.Causes[0], f.Causes[1]
	if f.Board != "" {
		bench.Text, model.Text = words.BoardDrawsNothing(f.Board, true)
	} else {
		bench.Text, model.Text = words.NothingFlows(g, true)
	}
	f.Causes = []Cause{model, bench}
}

// readSince: after a reading of nothing, another feed was read with the same meter, by itself
// or with all of its closure, while their wires were moved or they were looked at.
func readSince(f Finding, h History) bool {
	return f.record != nil && slices.ContainsFunc(h.Steps, func(r capture.StepRecord) bool {
		if r.Outcome != capture.Measured || !r.BeganAt.After(f.record.EndedAt) ||
			r.Step.Feed == f.record.Step.Feed || Ammeter(r) != Ammeter(*f.record) || meterOf(r) != meterOf(*f.record) {
			return false
		}
		t := traceOf(r)
		return t.n > 0 && t.meanA > nothingA+3*t.halfWidth
	})
}

func meterOf(r capture.StepRecord) string { return r.Instruments[Ammeter(r)].Identity }

// lastReadings are the meter's last readings of current before a trip.
func lastReadings(r capture.StepRecord) []instruments.Reading {
	var last []instruments.Reading
	for x := range currents(r.All(), Ammeter(r)) {
		if x.Status == instruments.OK {
			last = append(last[:0], x)
		}
	}
	return last
}

// stuckLit names why an output doesn't go dark.
func (s step) stuckLit(f Finding, o output) []Cause {
	u := math.Hypot(f.MeasuredU, o.want.u)
	over := s.j.overloaded(f.Board, f.Output, f.MeasuredA,
		words.Fault(s.j.Expected.Plan, fault.Fault{Kind: fault.Overloaded, Group: f.Group}, nil))
	b, _ := s.j.Expected.Plan.Board(f.Board)
	if f.MeasuredA > o.want.meanA+s.j.Rule.K*u || !b.Button || !slices.ContainsFunc(b.Paces, plan.Pace.Steady) {
		return []Cause{over}
	}
	return []Cause{
		{Name: "board set to steady", Text: words.MaySteady},
		over,
	}
}

// stuckDark names why an output never lights.
func (s step) stuckDark(f Finding, base budget.Draw) []Cause {
	if base.MeanA > 6*s.t.u && s.t.meanA < base.MeanA/3 {
		bench, model := words.BoardDrawsNothing(f.Board, false)
		return benchThen(bench, model, []fault.Kind{fault.StuckDark, fault.GroupReversed})
	}
	return []Cause{{Name: string(fault.StuckDark),
		Kinds: kindNames([]fault.Kind{fault.StuckDark, fault.GroupReversed}),
		Text:  words.Fault(s.j.Expected.Plan, fault.Fault{Kind: fault.StuckDark, Group: f.Group}, nil)}}
}
