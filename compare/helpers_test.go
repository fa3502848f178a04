package compare

import (
	"math"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
	"sealworthy/instruments"
)

// cutter is a small invented plan: two closures, one inside the other.
const cutter = `
build = "Cutter"
[jack.main]
volts = 12.0
volts_range = [11.9, 12.1]
[closure.hull]
[closure.cabin]
inside = "hull"
[joint.keel]
from = "main"
wire = { mm = 0.3, length_mm = 100 }
closure = "hull"
[part."sampled strip"]
like = "strip warm white 12 V"
tolerance = 0.03
[[group]]
name = "windows"
closure = "hull"
joint = "keel"
wire = { mm = 0.2, length_mm = 100 }
lights = [ { part = "sampled strip", segments = 4 } ]
[[group]]
name = "galley"
closure = "hull"
joint = "keel"
wire = { mm = 0.2, length_mm = 100 }
lights = [ { part = "smd warm white 12 V", count = 6 } ]
[[group]]
name = "chart lamp"
closure = "cabin"
joint = "keel"
wire = { mm = 0.2, length_mm = 100 }
lights = [ { part = "red 3 mm", ohms = 680, ohms_tolerance = 0.01 } ]
`

// yard is a place where invented readings are judged.
type yard struct {
	t    *testing.T
	plan *plan.Plan
	exp  *Expected
	j    *Judge
	now  time.Time
	h    History
	line int // of the record
}

// order is the next place in the record.
func (y *yard) order() capture.Order {
	y.line++
	return capture.OrderAt(1, y.line)
}

// nothing says that nothing was touched.
func (y *yard) nothing() { y.h.Nothing = append(y.h.Nothing, y.order()) }

// accept takes a group as it is.
func (y *yard) accept(group, reason string) {
	y.h.Accepts = append(y.h.Accepts, Accept{Group: group, Reason: reason, Order: y.order(), At: y.now})
}

func newYard(t *testing.T, src string) *yard {
	t.Helper()
	p, problems := plan.Parse("plan.toml", []byte(src))
	if len(problems) > 0 {
		t.Fatal(problems[0])
	}
	exp := NewExpected(p)
	j, err := NewJudge(exp, rule.Default(), Leads{})
	if err != nil {
		t.Fatal(err)
	}
	return &yard{t: t, plan: p, exp: exp, j: j, now: time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)}
}

// meterAnswers describes a good bench meter without burden.
var meterAnswers = instruments.Description{Profile: "invented", Identity: "invented meter",
	Ranges: []instruments.Range{{Name: "200 mA", Quantity: instruments.Current, Max: 0.2, Resolution: 1e-5,
		Accuracy: instruments.Accuracy{OfReading: 0.001, Floor: 2e-5}}}}

// expected is the draw that a group is expected to have at a stage.
func (y *yard) expected(group, stage string) float64 {
	y.t.Helper()
	b, err := y.exp.At(scene.Scene{Loose: stage == Loose})
	if err != nil {
		y.t.Fatal(err)
	}
	g, ok := b.GroupNamed(group)
	if !ok {
		y.t.Fatalf("no group %q", group)
	}
	return g.Lit.MeanA
}

// measure records a reading of a steady group, a minute after what came before.
func (y *yard) measure(group, stage string, amps float64) *capture.StepRecord {
	y.t.Helper()
	g, ok := y.plan.Group(group)
	if !ok {
		y.t.Fatalf("no group %q", group)
	}
	y.now = y.now.Add(time.Minute)
	r := capture.StepRecord{
		Step: capture.Step{ID: g.Closure + "/" + group, Kind: capture.Power, Way: capture.Alone, Closure: g.Closure,
			Feed:   group,
			Groups: []string{group}, On: []string{group}, Volts: 12, PlanRevision: y.plan.Revision,
			Planned: map[string]string{group: plannedOf(y.plan, group)},
			Ramp:    []capture.RampPoint{{Volts: 12, LimitA: 0.2, MaxA: 0.2}}},
		Stage: stage, Began: y.now, On: y.now, Settled: y.now, Outcome: capture.Measured, BeganAt: y.order(),
		EndedAt:     y.order(),
		Instruments: map[string]instruments.Description{MeterName: meterAnswers},
	}
	for i := range 8 {
		v := amps + 1e-6*math.Sin(float64(i))
		r.Readings = append(r.Readings,
			instruments.Reading{Instrument: MeterName, Quantity: instruments.Current, Unit: "A",
				Status: instruments.OK, Value: &v, Range: "200 mA",
				HalfWidth: meterAnswers.Ranges[0].Accuracy.HalfWidth(v),
				At:        y.now.Add(time.Duration(i+1) * 250 * time.Millisecond), Window: 100 * time.Millisecond})
	}
	r.Ended = y.now.Add(3 * time.Second)
	y.h.Steps = append(y.h.Steps, r)
	return &y.h.Steps[len(y.h.Steps)-1]
}

// healthy measures every group as expected.
func (y *yard) healthy(stage string) {
	for _, g := range y.plan.Groups {
		y.measure(g.Name, stage, y.expected(g.Name, stage))
	}
}

// look records what was seen of a closure.
func (y *yard) look(closure, seen string) {
	y.now = y.now.Add(time.Minute)
	s := capture.Step{ID: closure + "/look", Kind: capture.Look, Closure: closure, Feed: closure}
	for _, g := range y.plan.Groups {
		if g.Closure == closure {
			s.Groups = append(s.Groups, g.Name)
		}
	}
	y.h.Steps = append(y.h.Steps,
		capture.StepRecord{Step: s, Stage: Fitted, Began: y.now, Ended: y.now, Outcome: capture.Measured,
			Seen:    seen,
			BeganAt: y.order(), SeenAt: y.order(), EndedAt: y.order()})
}

func (y *yard) rework(what string) {
	y.now = y.now.Add(time.Minute)
	y.h.Reworks = append(y.h.Reworks, Rework{What: what, Order: y.order(), At: y.now})
}

// verdicts judges all and returns closures and groups by name.
func (y *yard) verdicts() (map[string]ClosureFinding, map[string]Finding) {
	y.t.Helper()
	cs, err := y.j.Findings(y.h, "")
	if err != nil {
		y.t.Fatal(err)
	}
	closures, groups := map[string]ClosureFinding{}, map[string]Finding{}
	for _, c := range cs {
		closures[c.Closure] = c
		for _, g := range c.Groups {
			groups[g.Group] = g
		}
	}
	return closures, groups
}
