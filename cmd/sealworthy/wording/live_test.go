package wording

import (
	"strings"
	"testing"

	"sealworthy/capture"
)

// While what is asked for isn't felt nobody is told that it is: it's tapped, or the pedal is pressed.
func TestWhatIsNotFeltIsTapped(t *testing.T) {
	e := capture.Event{What: capture.SensingOn, Step: &capture.Step{Feed: "strip"}, OutputOn: true, Sensing: true}
	for _, c := range []struct {
		toTap     bool
		want, not string
	}{{true, "then tap or pedal", "felt"}, {false, "felt by itself", "tap"}} {
		e.ToTap = c.toTap
		if got := Doing(e, true, 0); !strings.Contains(got, c.want) || strings.Contains(got, c.not) ||
			!strings.Contains(got, "live: don't solder") {
			t.Errorf("to be tapped %v: %q", c.toTap, got)
		}
	}
}
