package compare_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/instruments"
)

// These builds are read without a bench: the draw of each group alone comes from the
// simulated model, the meter's and the supply's errors are put on it. Thousands of
// them can be had, and they're judged as a measured one is.

// sweptParts are the voltages besides the service voltage, as shares of it.
var sweptParts = []float64{0.75, 0.6, 0.5}

var slipMeter = instruments.Description{Profile: "invented", Identity: "invented meter",
	Ranges: []instruments.Range{{Name: "3 A", Quantity: instruments.Current, Max: 3, Resolution: 1e-5,
		Accuracy: instruments.Accuracy{OfReading: 0.003, Floor: 3e-5}}}}

// steadyPlan is a random plan of which only the steady groups are left that a rule
// of draws can judge; its closures hide nothing else.
func steadyPlan(t *testing.T, seed uint64) *plan.Plan {
	t.Helper()
	p, err := parsed(randomPlan(seed))
	if err != nil {
		t.Fatal(err)
	}
	p.Boards = nil
	for i := range p.Joints {
		p.Joints[i].Closure = ""
	}
	for i := range p.Returns {
		p.Returns[i].Closure = ""
	}
	p.Groups = slices.DeleteFunc(p.Groups, func(g plan.Group) bool {
		return g.Board != "" || g.AsFound || g.Sealed ||
			slices.ContainsFunc(g.Lights, func(l plan.Light) bool { return l.Kind == plan.Envelope })
	})
	return p
}

// readBuild is one model with what was read and seen of it.
type readBuild struct {
	p     *plan.Plan
	r     *rand.Rand
	l     *load.Load
	sound *load.Load // the same pieces without a fault
	gain  float64    // of the meter
	set   float64    // of the supply, V
	at    time.Time
	line  int
	h     compare.History
}

// newReadBuild makes a model with faults; law is what its parts follow.
func newReadBuild(p *plan.Plan, faults []fault.Fault, r *rand.Rand, law load.Law) (*readBuild, error) {
	ambient := 20 + 10*r.Float64()
	o := load.Options{AmbientC: &ambient, JackOhm: benchLeads.Ohm + benchLeads.HalfOhm*(2*r.Float64()-1), Law: law}
	seed := r.Uint64()
	b := &readBuild{p: p, r: r, gain: 0.003 * (2*r.Float64() - 1), set: 0.01 * (2*r.Float64() - 1),
		at: time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)}
	var err error
	if b.l, err = load.New(p, faults, seed, o); err == nil {
		b.sound, err = load.New(p, nil, seed, o)
	}
	return b, err
}

func (b *readBuild) order() capture.Order {
	b.line++
	return capture.OrderAt(1, b.line)
}

// read measures a group alone at service voltage and over its sweep; false where it
// would have been stopped on the way up, which no test lets pass.
func (b *readBuild) read(group string) (bool, error) {
	g := groupOf(b.p, group)
	top := b.p.Jacks[0].Volts
	b.at = b.at.Add(time.Minute)
	s := capture.Step{ID: g.Closure + "/" + group, Kind: capture.Power, Way: capture.Alone, Closure: g.Closure,
		Feed:   group,
		Groups: []string{group}, On: []string{group}, Volts: top, PlanRevision: b.p.Revision,
		Ramp: []capture.RampPoint{{Volts: top, LimitA: 3, MaxA: 3}}}
	rec := capture.StepRecord{Stage: compare.Fitted, Began: b.at, On: b.at, Settled: b.at, Outcome: capture.Measured,
		BeganAt:     b.order(),
		Instruments: map[string]instruments.Description{compare.MeterName: slipMeter}}
	for i, part := range append([]float64{1}, sweptParts...) {
		volts := top * part
		amps, err := b.l.Alone(group, volts+b.set)
		if err != nil {
			return false, err
		}
		if amps > 2.5 || math.IsNaN(amps) {
			return false, nil
		}
		from := b.at.Add(time.Duration(i) * 10 * time.Second)
		if i > 0 {
			s.Sweep = append(s.Sweep, capture.SweepPoint{Volts: volts, LimitA: 3, MaxA: 3})
			rec.Points = append(rec.Points, capture.PointAt{Volts: volts, At: from})
		}
		off := 3e-5 * (2*b.r.Float64() - 1)
		for k := range 6 {
			v := amps*(1+b.gain) + off + 1e-6*b.r.NormFloat64()
			rec.Readings = append(rec.Readings,
				instruments.Reading{Instrument: compare.MeterName, Quantity: instruments.Current, Unit: "A",
					Status: instruments.OK, Value: &v, Range: "3 A",
					HalfWidth: slipMeter.Ranges[0].Accuracy.HalfWidth(v),
					At:        from.Add(time.Duration(k+1) * 250 * time.Millisecond), Window: 100 * time.Millisecond})
		}
	}
	rec.Step, rec.Ended, rec.EndedAt = s, b.at.Add(50*time.Second), b.order()
	b.h.Steps = append(b.h.Steps, rec)
	return true, nil
}

// What the eye takes for dark and for dim by the draw of a light against the planned
// one (common practice, no source), and how often it overlooks them.
const (
	eyeDark, eyeDim, eyeGlare = 0.03, 0.40, 2.0
	overlooked, dimSeen       = 0.02, 0.3
)

// sees tells whether a maker notices a fault of a group, and how many are dark.
func (b *readBuild) sees(f fault.Fault) (dark int, notices bool) {
	dark, of := fault.Darkens(b.p, f)
	dim := false
	switch f.Kind {
	case fault.BadJoint, fault.BranchJoint, fault.MissingOhms, fault.DecadeOff:
		ratio, lights := b.left(f), of
		if f.Kind != fault.BadJoint {
			lights, _ = fault.Darkens(b.p, fault.Fault{Kind: fault.OpenBranch, Group: f.Group, Light: f.Light,
				Branch: f.Branch})
		}
		if ratio < eyeDark {
			dark = lights
		}
		dim = dark == 0 && (ratio < eyeDim || ratio > eyeGlare)
	}
	for range dark {
		if b.r.Float64() > overlooked {
			return dark, true
		}
	}
	return max(dark, 1), dim && b.r.Float64() < dimSeen
}

// left is what a fault leaves of the current through the lights that it lies before:
// all of its group, or one branch, which draws its part of it.
func (b *readBuild) left(f fault.Fault) float64 {
	top := b.p.Jacks[0].Volts
	with, err := b.l.Alone(f.Group, top)
	without, err2 := b.sound.Alone(f.Group, top)
	if err != nil || err2 != nil || without <= 0 {
		return 1
	}
	if f.Kind == fault.BadJoint {
		return with / without
	}
	return 1 + (with-without)/(without/float64(branchesOf(groupOf(b.p, f.Group))))
}

func branchesOf(g plan.Group) int {
	n := 0
	for _, l := range g.Lights {
		n += l.Branches()
	}
	return max(1, n)
}

// look records what was seen of every closure that holds one of the groups; wrong is
// what was noticed, by group.
func (b *readBuild) look(groups []string, wrong map[string]string) {
	for _, c := range b.p.Closures {
		s := capture.Step{ID: c.Name + "/look", Kind: capture.Look, Closure: c.Name, Feed: c.Name}
		var parts []string
		for _, g := range b.p.Groups {
			if g.Closure != c.Name || !slices.Contains(groups, g.Name) {
				continue
			}
			s.Groups = append(s.Groups, g.Name)
			if w := wrong[g.Name]; w != "" {
				parts = append(parts, g.Name+": "+w)
			} else {
				parts = append(parts, g.Name+": all right")
			}
		}
		if len(s.Groups) == 0 {
			continue
		}
		b.at = b.at.Add(time.Minute)
		b.h.Steps = append(b.h.Steps,
			capture.StepRecord{Step: s, Stage: compare.Fitted, Began: b.at, Ended: b.at, Outcome: capture.Measured,
				Seen: strings.Join(parts, "; "), BeganAt: b.order(), SeenAt: b.order(), EndedAt: b.order()})
	}
	b.h.Nothing = append(b.h.Nothing, b.order())
}

// rows are the findings by group.
func (b *readBuild) rows(j *compare.Judge) ([]compare.ClosureFinding, map[string]compare.Finding, error) {
	cs, err := j.Findings(b.h, "")
	out := map[string]compare.Finding{}
	for _, c := range cs {
		for _, f := range c.Groups {
			out[f.Group] = f
		}
	}
	return cs, out, err
}

func slipJudge(t *testing.T, p *plan.Plan) *compare.Judge {
	t.Helper()
	j, err := compare.NewJudge(compare.NewExpected(p), rule.Default(), benchLeads)
	if err != nil {
		t.Fatal(err)
	}
	return j
}

// withOhms draws what isn't known of a fault by the priors.
func withOhms(f fault.Fault, r *rand.Rand) fault.Fault {
	pr := fault.DefaultPriors().Joint
	switch f.Kind {
	case fault.BadJoint:
		f.Ohms = pr.FeedOhms * math.Exp(pr.FeedSigma*r.NormFloat64())
		if r.Float64() < 0.15 { // it is off altogether, as often as belief takes it to be
			f.Ohms = 1e9
		}
	case fault.BranchJoint:
		f.Ohms = pr.BranchOhms * math.Exp(pr.BranchSigma*r.NormFloat64())
	case fault.Short:
		shorts := []float64{0.05, 0.3, 1, 3, 10, 30, 100}
		f.Ohms = shorts[r.IntN(len(shorts))]
	}
	return f
}

// everyFault are those of a group: all that the plan makes possible, and a bad joint
// in each branch.
func everyFault(p *plan.Plan, g plan.Group) []fault.Fault {
	out := fault.Possible(p, g)
	for li, l := range g.Lights {
		for b := range l.Branches() {
			out = append(out, fault.Fault{Kind: fault.BranchJoint, Group: g.Name, Light: li, Branch: b})
		}
	}
	return out
}
