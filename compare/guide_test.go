package compare

import (
	"strings"
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
		if d, _, _ := g.draws("galley", 12); c.like == "" {
			// Nothing is like what it lies outside of, as that is said, were it by little.
			for _, amps := range []float64{d.LowA * 0.998, d.HighA * 1.002, d.HighA * 1.02, d.HighA * 1.2} {
				_, others := g.Recognise(capture.Step{Feed: "chart lamp", Volts: 12}, amps, 2e-4)
				for _, x := range others {
					if amps < x.LowA || amps > x.HighA {
						t.Errorf("%.2f mA is like %v", amps*1e3, x)
					}
				}
				if amps > d.HighA*1.1 && len(others) > 0 {
					t.Errorf("%.2f mA is like %v", amps*1e3, others)
				}
			}
		}
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

// What was stopped when it was powered by itself isn't powered together with others, to have
// its wires moved or to be looked at: a lamp without its resistor would bear the current of all.
// Once it was measured it's among them again, and looked at.
func TestWhatWasStoppedIsNotPoweredWithOthers(t *testing.T) {
	y := newYard(t, cutter)
	b, err := y.exp.At(scene.Scene{})
	if err != nil {
		t.Fatal(err)
	}
	steps, err := Steps(y.exp.Plan, b, StepOptions{Stage: Fitted, Closure: "hull"})
	if err != nil {
		t.Fatal(err)
	}
	g := NewGuide(y.j, b, steps, true)
	feeds := 0
	for _, mended := range []bool{false, true} {
		var done []capture.StepRecord
		looked, moved := map[string]bool{}, map[string]bool{}
		for n := 0; ; n++ {
			s, more := g.Next(done)
			if !more || n > 50 {
				break
			}
			r := capture.StepRecord{Step: s, Outcome: capture.Measured}
			switch {
			case s.Kind == capture.Power:
				feeds++
				if s.Feed == "galley" {
					r.Outcome = capture.Tripped
				}
			case s.Kind == capture.Look || s.Kind == capture.Wiggle:
				for _, f := range s.On {
					(map[capture.Kind]map[string]bool{capture.Look: looked, capture.Wiggle: moved})[s.Kind][f] = true
				}
				if !mended && strings.Contains(strings.Join(s.Groups, " "), "galley") ||
					s.Ask != "" && !strings.Contains(s.Ask, `Leave "galley" off`) {
					t.Errorf("%s: %q of %q", s.ID, s.Ask, s.Groups)
				}
			}
			done = append(done, r)
			if mended && r.Outcome == capture.Tripped {
				r.Outcome = capture.Measured // found, mended and measured anew
				done = append(done, r)
			}
		}
		for what, on := range map[string]map[string]bool{"looked at": looked, "moved": moved} {
			if !on["windows"] || on["galley"] != mended {
				t.Errorf("mended %v, %s: %v", mended, what, on)
			}
		}
	}
	if feeds == 0 {
		t.Error("no feed was powered")
	}
}
