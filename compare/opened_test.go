package compare

import (
	"testing"

	"sealworthy/capture"
	"sealworthy/compare/plan"
)

// A closure was opened where something in it was touched later, or in one inside it; not by what lies outside it, by a
// clip, or by a damaged record.
func TestOpenedSince(t *testing.T) {
	p, problems := plan.Parse("plan.toml", []byte(`build = "Gig"
[jack.main]
volts = 12.0
source = "adapter"
[closure.hull]
[closure.locker]
inside = "hull"
[joint.keel]
from = "main"
wire = { awg = 26, length_mm = 200 }
closure = "hull"
[[group]]
name = "bow lamps"
closure = "hull"
joint = "keel"
lights = [ { part = "smd cold white 12 V", count = 6 } ]
[[group]]
name = "locker lamp"
closure = "locker"
joint = "keel"
lights = [ { part = "smd cold white 12 V", count = 6 } ]
`))
	if p == nil {
		t.Fatal(problems)
	}
	glued, later := capture.OrderAt(2, 1), capture.OrderAt(2, 2)
	for _, c := range []struct {
		touched      Rework
		hull, locker bool
	}{
		{Rework{What: "bow lamps", Order: later}, true, false},
		{Rework{What: "keel", Groups: []string{"bow lamps", "locker lamp"}, Order: later}, true, false},
		{Rework{What: "locker lamp", Order: later}, true, true},
		{Rework{What: "locker lamp", Order: capture.OrderAt(1, 9)}, false, false},
		{Rework{What: "locker lamp", Order: later, Clip: true}, false, false},
		{Rework{What: Everything, Order: later}, false, false},
		{Rework{What: "main", Order: later}, false, false},
	} {
		h := History{Reworks: []Rework{c.touched}}
		if a, b := h.OpenedSince(p, "hull", glued), h.OpenedSince(p, "locker", glued); a != c.hull || b != c.locker {
			t.Errorf("%+v: hull opened %v, locker %v", c.touched, a, b)
		}
	}
}
