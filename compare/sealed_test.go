package compare_test

import (
	"context"
	"slices"
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
)

const sealedPlan = `build = "for later"
[jack.main]
volts = 12.0
[closure.hull]
[closure.house]
[joint.keel]
from = "main"
wire = { awg = 26, length_mm = 300 }
closure = "hull"
[[group]]
name = "cabin"
closure = "hull"
joint = "keel"
wire = { mm = 0.2, length_mm = 200 }
lights = [ { part = "red 1.8 mm", ohms = 1000 } ]
[[group]]
name = "searchlight"
closure = "hull"
joint = "keel"
wire = { mm = 0.2, length_mm = 400 }
lights = [ { test_ohms = 470, watts = 1 } ]
[[group]]
name = "second mast"
closure = "hull"
joint = "keel"
sealed_wire = true
wire = { mm = 0.2, length_mm = 400 }
lights = [ { part = "red 1.8 mm", ohms = 1000 } ]
[[group]]
name = "signal lamp"
closure = "house"
joint = "keel"
wire = { mm = 0.2, length_mm = 400 }
lights = [ { test_ohms = 1000 } ]
`

// obeys does what it's asked and notes what that was.
type obeys struct{ asked []string }

func (*obeys) Show(capture.Event) {}
func (o *obeys) Ask(_ context.Context, q capture.Question) (capture.Answer, error) {
	o.asked = append(o.asked, q.Text)
	if slices.Contains(q.Choices, "next") {
		return capture.Answer{Choice: "next"}, nil // the first is to measure it once more
	}
	return capture.Answer{Choice: q.Choices[0]}, nil
}

// A sealed wire is measured by itself with what is clipped across its end, which
// is asked for where relays switch, too; nothing of it is looked at.
func TestSealedWireSteps(t *testing.T) {
	p, problems := plan.Parse("plan.toml", []byte(sealedPlan))
	if len(problems) > 0 {
		t.Fatal(problems[0])
	}
	for _, o := range []compare.StepOptions{{Stage: compare.Fitted}, {Stage: compare.Fitted, Sweep: true},
		{Stage: compare.Loose},
		{Stage: compare.Fitted, Way: capture.Added}, {Stage: compare.Fitted, Way: capture.Joined}} {
		b, err := compare.NewExpected(p).At(scene.Scene{Loose: o.Stage == compare.Loose})
		if err != nil {
			t.Fatal(err)
		}
		steps, err := compare.Steps(p, b, o)
		if err != nil {
			t.Fatal(err)
		}
		measured := map[string]bool{}
		for _, s := range steps {
			sealed := s.Feed == "searchlight" || s.Feed == "second mast" || s.Feed == "signal lamp"
			switch {
			case sealed:
				measured[s.Feed] = true
				if s.Kind != capture.Power || s.Way != capture.Alone || !slices.Equal(s.On, []string{s.Feed}) ||
					len(s.Sweep) > 0 ||
					!strings.HasPrefix(s.First, "Clip a ") || !strings.HasPrefix(s.Ask, s.First) {
					t.Errorf("%+v: %+v", o, s)
				}
			case s.First != "" || s.Closure == "house" ||
				slices.ContainsFunc(s.On, func(x string) bool { return x != "cabin" }):
				t.Errorf("%+v: %s %s powers %q, asks first %q", o, s.ID, s.Kind, s.On, s.First)
			}
		}
		if len(measured) != 3 {
			t.Errorf("%+v: measured %v", o, measured)
		}
	}
	b, err := compare.NewExpected(p).At(scene.Scene{})
	if err != nil {
		t.Fatal(err)
	}
	whole, err := compare.WholeSteps(p, b, compare.WholeOptions{Stage: compare.Closed})
	if err != nil || !slices.Equal(whole[0].On, []string{"cabin"}) {
		t.Errorf("the whole model: %v, %v", whole, err)
	}
	cabin, _ := b.GroupNamed("cabin")
	if all := b.Jacks[0].AllLit.NominalA; all < 0.99*cabin.Service.NominalA || all > 1.01*cabin.Service.NominalA {
		t.Errorf("in service %g A, the cabin alone draws %g A", all, cabin.Service.NominalA)
	}
	if len(b.Twins) > 0 || len(b.Binding("", nil)) > 0 {
		t.Errorf("twins %v, wrong %v", b.Twins, b.Binding("", nil))
	}
}

// Whole, open, shorted, with a bad joint: judged like a group.
func TestSealedWireIsJudged(t *testing.T) {
	for _, c := range []struct {
		kind  fault.Kind
		ohms  float64
		want  compare.Verdict
		cause string
	}{
		{"", 0, compare.InBand, ""},
		{fault.OpenBranch, 0, compare.Low, "a 470 ohm resistor"},
		{fault.BadJoint, 150, compare.Low, "bad joint"},
		{fault.Short, 0.05, compare.High, ""},
	} {
		var faults []fault.Fault
		if c.kind != "" {
			faults = append(faults, fault.Fault{Kind: c.kind, Group: "searchlight", Ohms: c.ohms})
		}
		f := &obeys{}
		for seed := range uint64(4) {
			got := judgedBy(t, []byte(sealedPlan), f, compare.StepOptions{Stage: compare.Fitted}, seed, faults...)
			want(t, got, map[string]compare.Verdict{"searchlight": c.want, "cabin": compare.InBand,
				"second mast": compare.InBand, "signal lamp": compare.InBand})
			said := ""
			for _, x := range got["searchlight"].Causes {
				said += x.Text + "; "
			}
			if !strings.Contains(said, c.cause) || strings.Contains(said, "wrong way round") {
				t.Errorf("%s: %q", c.kind, said)
			}
		}
		if n := strings.Join(f.asked, "\n"); !strings.Contains(n,
			`Clip a 470 ohm resistor across the far end of the wire "searchlight"`) ||
			!strings.Contains(n, `Clip a red 1.8 mm with 1000 ohm across the far end of the wire "second mast"`) {
			t.Errorf("asked:\n%s", n)
		}
	}
	// Nobody there can clip anything on.
	got := judgedBy(t, []byte(sealedPlan), capture.Unattended{}, compare.StepOptions{Stage: compare.Fitted}, 1)
	if got["searchlight"].Verdict == compare.InBand {
		t.Errorf("%+v", got["searchlight"])
	}
}

// A wire can be open, shorted or badly joined, and nothing else.
func TestFaultsOfASealedWire(t *testing.T) {
	p, problems := plan.Parse("plan.toml", []byte(sealedPlan))
	if len(problems) > 0 {
		t.Fatal(problems[0])
	}
	var kinds []fault.Kind
	for _, f := range fault.Possible(p, p.Groups[1]) {
		kinds = append(kinds, f.Kind)
	}
	slices.Sort(kinds)
	if want := []fault.Kind{fault.BadJoint, fault.OpenBranch, fault.Short}; !slices.Equal(kinds, want) {
		t.Errorf("%q, want %q", kinds, want)
	}
	if s := fault.Suspects(p, []byte(sealedPlan), "searchlight", plan.Options{},
		fault.DefaultPriors().Plan); len(s) > 0 {
		t.Errorf("suspects %v", s)
	}
	if n, of := fault.Darkens(p, fault.Fault{Kind: fault.OpenBranch, Group: "searchlight"}); n != 0 || of != 0 {
		t.Errorf("%d of %d lights go dark", n, of)
	}
}
