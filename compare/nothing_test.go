package compare

import (
	"strings"
	"testing"

	"sealworthy/capture"
)

// Nothing flows: the bench comes first until something else was read with it, then
// the wire and the LEDs do.
func TestNothingFlows(t *testing.T) {
	for _, c := range []struct {
		name        string
		then        []string // read after it, or "moved" with all of the closure
		first, last string
	}{
		{"alone", nil, "clip, the leads and the meter's fuse first", "wrong way round"},
		{"others read since", []string{"galley"}, "the meter has read others since: its wire or a joint",
			"clip it again"},
		{"all of them read while their wires were moved", []string{"moved"},
			"the meter has read others since: its wire or a joint", "clip it again"},
	} {
		y := newYard(t, cutter)
		y.measure("chart lamp", Fitted, y.expected("chart lamp", Fitted)) // before: the fuse may have gone since
		y.measure("windows", Fitted, 0)
		for _, g := range c.then {
			if g == "moved" {
				r := y.measure("galley", Fitted, y.expected("galley", Fitted))
				r.Step.Kind, r.Step.ID, r.Step.Feed = capture.Wiggle, "hull/wiggle", "hull"
				r.Step.Groups, r.Step.On = []string{"windows", "galley"}, []string{"windows", "galley"}
				continue
			}
			y.measure(g, Fitted, y.expected(g, Fitted))
		}
		_, groups := y.verdicts()
		f := groups["windows"]
		if f.Verdict != Low || len(f.Causes) != 2 || !strings.Contains(f.Causes[0].Text, c.first) ||
			!strings.Contains(f.Causes[1].Text, c.last) {
			t.Errorf("%s: %s, %+v", c.name, f.Verdict, f.Causes)
		}
	}
}
