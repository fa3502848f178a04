package compare

import (
	"testing"

	"sealworthy/capture"
	"sealworthy/compare/scene"
)

// A clip is on the wrong feed only where something flows that another feed draws and
// this one doesn't; a board is no exception, and of what nobody planned nothing is known.
func TestRecognise(t *testing.T) {
	y := newYard(t, cutter+`
[[group]]
name = "old lamp"
closure = "hull"
joint = "keel"
lights = "as found"
[board.beacon]
part = "single blinker"
joint = "keel"
closure = "hull"
[[group]]
name = "beacon light"
closure = "hull"
board = "beacon"
output = 1
lights = [ { part = "red 3 mm", ohms = 680 } ]
`)
	b, err := y.exp.At(scene.Scene{})
	if err != nil {
		t.Fatal(err)
	}
	g := NewGuide(y.j, b, nil, true)
	windows, lamp := y.expected("windows", Fitted), y.expected("chart lamp", Fitted)
	for _, c := range []struct {
		feed string
		amps float64
		like string // the first other that fits; empty: none is named
	}{
		{"chart lamp", lamp, ""},
		{"chart lamp", windows, "windows"},
		{"windows", windows, ""},
		{"windows", 0, ""},
		{"windows", 5e-5, ""},
		{"beacon", windows, "windows"},
		{"beacon", lamp / 2, ""}, // a moment of the board may be as much
		{"old lamp", windows, ""},
	} {
		own, others := g.Recognise(capture.Step{Feed: c.feed, Volts: 12}, c.amps, 2e-5)
		switch {
		case c.like == "" && len(others) > 0, c.like != "" && len(others) == 0:
			t.Errorf("%s at %.2f mA: like %v", c.feed, c.amps*1e3, others)
		case c.like != "" &&
			(others[0].Feed != c.like || own.Feed != c.feed || c.amps > others[0].HighA || c.amps < others[0].LowA ||
				c.amps < own.HighA && c.amps > own.LowA):
			t.Errorf("%s at %.2f mA: like %v, not like %v", c.feed, c.amps*1e3, others, own)
		}
	}
}
