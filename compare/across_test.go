package compare

import (
	"testing"

	"sealworthy/compare/fault"
)

// punt has three groups behind one joint and one beside it. Invented.
const punt = `
build = "Punt"
[jack.main]
volts = 12.0
[closure.hull]
[joint.keel]
from = "main"
wire = { mm = 0.3, length_mm = 100 }
closure = "hull"
[part."punt lamp"]
like = "smd warm white 12 V"
tolerance = 0.02
[[group]]
name = "fore"
closure = "hull"
joint = "keel"
lights = [ { part = "punt lamp", count = 3 } ]
[[group]]
name = "mid"
closure = "hull"
joint = "keel"
lights = [ { part = "punt lamp", count = 4 } ]
[[group]]
name = "aft"
closure = "hull"
joint = "keel"
lights = [ { part = "punt lamp", count = 5 } ]
[[group]]
name = "mast"
closure = "hull"
lights = [ { part = "punt lamp", count = 4 } ]
`

// Three groups behind one joint that all draw less, the more the larger they
// are, have a bad joint and not three faults.
func TestBadJointUpstreamIsNamedOnce(t *testing.T) {
	y := newYard(t, punt)
	y.healthy(Fitted)
	for g, part := range map[string]float64{"fore": 0.93, "mid": 0.91, "aft": 0.89} {
		y.measure(g, Fitted, part*y.expected(g, Fitted))
	}
	_, groups := y.verdicts()
	named := 0
	for _, g := range []string{"fore", "mid", "aft"} {
		f := groups[g]
		t.Logf("%s: %s %+v", g, f.Verdict, f.Causes)
		if len(f.Causes) == 1 && f.Causes[0].Name == string(fault.UpstreamJoint) && f.Causes[0].Place != "" {
			named++
		}
	}
	if named != 3 || groups["mast"].Verdict != InBand {
		t.Errorf("%d of 3 groups name the joint; mast is %s", named, groups["mast"].Verdict)
	}
}

// Groups that all draw nothing behind one joint, while another is lit, have an
// open joint, not three clips that are off.
func TestOpenJointUpstreamIsNamed(t *testing.T) {
	y := newYard(t, punt)
	y.healthy(Fitted)
	for _, g := range []string{"fore", "mid", "aft"} {
		y.measure(g, Fitted, 0)
	}
	_, groups := y.verdicts()
	for _, g := range []string{"fore", "mid", "aft"} {
		if f := groups[g]; len(f.Causes) == 0 || f.Causes[0].Place != "keel" {
			t.Errorf("%s: %+v", g, f.Causes)
		}
	}
	ds, err := y.j.Next(y.h, "", "")
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range ds {
		if !d.Settled || d.Answer != groups[d.Group].Causes[0].Text {
			t.Errorf("next of %s: %+v", d.Group, d)
		}
	}
}
