package compare

import (
	"slices"
	"strings"
	"testing"

	"sealworthy/capture/record"
	"sealworthy/compare/scene"
)

// hot is a plan in which an LED gets far too much. Invented.
const hot = `
build = "Hot"
[jack.main]
volts = 12.0
[closure.hull]
[[group]]
name = "lamp"
closure = "hull"
lights = [ { part = "red 3 mm", ohms = 100 } ]
`

// The plan's own checks hold a closure until they are mended or accepted by name,
// at the value that they have.
func TestChecksBindAClosure(t *testing.T) {
	y := newYard(t, hot)
	y.passed()
	got, _ := y.verdicts()
	h := got["hull"]
	if h.Verdict != KeepOpen || len(h.Checks) == 0 || !h.Checks[0].Burns {
		t.Fatalf("%s, checks %+v, %q", h.Verdict, h.Checks, h.Reasons)
	}
	if s := strings.Join(h.Reasons, "\n"); !strings.Contains(s, "--allow") || !strings.Contains(s, "Change the plan") {
		t.Errorf("no way out stands in %q", h.Reasons)
	}
	allow := func(value func(float64) float64) ClosureFinding {
		y.h.Allowed = nil
		b, err := y.exp.At(scene.Scene{})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range b.Binding("hull", nil) {
			y.h.Allowed = append(y.h.Allowed, record.ByName{Name: c.Name, Reason: "it flashes only",
				Value: value(c.Value), Order: y.order()})
		}
		got, _ := y.verdicts()
		return got["hull"]
	}
	if h := allow(func(v float64) float64 { return v }); h.Verdict != ClosedByChoice ||
		!strings.Contains(strings.Join(h.Reasons, "\n"), "accepted: it flashes only") {
		t.Errorf("accepted: %s, %q", h.Verdict, h.Reasons)
	}
	if h := allow(func(v float64) float64 { return v / 2 }); h.Verdict != KeepOpen {
		t.Errorf("accepted at half of it: %s, %q", h.Verdict, h.Reasons)
	}
}

// What was allowed by name stays with what it was about when the plan stops
// saying it: it may have been powered. Told to be touched, it is another part.
func TestAllowedOutlivesAnEdit(t *testing.T) {
	y := newYard(t, lighter)
	y.h.Allowed = []record.ByName{{Name: "LED current: bilge", Reason: "it flashes only", Value: 0.1,
		Order: y.order()}}
	y.passed()
	if got, _ := y.verdicts(); got["hull"].Verdict != ClosedByChoice || got["house"].Verdict != ReadyToClose {
		t.Errorf("hull %s, house %s: %q", got["hull"].Verdict, got["house"].Verdict, got["hull"].Reasons)
	}
	y.rework("bilge")
	y.passed()
	if got, _ := y.verdicts(); got["hull"].Verdict != ReadyToClose {
		t.Errorf("with other parts: %s: %q", got["hull"].Verdict, got["hull"].Reasons)
	}
}

// A wire for a part still to come is measured and passed like a group, without a
// look; what the plan says must be in a closure is ticked by hand.
func TestSealedWiresAndThings(t *testing.T) {
	y := newYard(t, strings.Replace(lighter, "[closure.hull]", "[closure.hull]\nmust_hold = [\"ballast\"]", 1)+`
[[group]]
name = "davit wire"
closure = "hull"
lights = [ { test_ohms = 470, ohms_tolerance = 0.01 } ]
`)
	y.passed()
	y.rework("davit wire")
	got, _ := y.verdicts()
	if h := got["hull"]; h.Verdict != NotSettled || !strings.Contains(strings.Join(h.Reasons, "\n"),
		"davit wire: not measured") || !strings.Contains(strings.Join(h.Reasons, "\n"), "ballast") {
		t.Errorf("%s: %q", h.Verdict, h.Reasons)
	}
	y.measure("davit wire", Fitted, y.expected("davit wire", Fitted))
	y.nothing()
	y.ticks("house", "ballast")
	if got, _ := y.verdicts(); got["hull"].Verdict != NotSettled {
		t.Errorf("ticked in another closure: %s: %q", got["hull"].Verdict, got["hull"].Reasons)
	}
	y.ticks("hull", "ballast")
	if got, _ := y.verdicts(); got["hull"].Verdict != ReadyToClose {
		t.Errorf("%s: %q", got["hull"].Verdict, got["hull"].Reasons)
	}
	items, err := ByHandOnly(y.plan, "hull")
	if err != nil || !slices.Equal(items, []string{"ballast"}) {
		t.Errorf("by hand: %q, %v", items, err)
	}
	y.rework("davit wire")
	y.measure("davit wire", Fitted, 0)
	if got, _ := y.verdicts(); got["hull"].Verdict != KeepOpen {
		t.Errorf("the wire is broken: %s: %q", got["hull"].Verdict, got["hull"].Reasons)
	}
}
