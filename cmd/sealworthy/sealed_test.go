//go:build unix

package main

import (
	"strings"
	"testing"

	"sealworthy/capture"
)

// A wire that is sealed in for a part still to come: with relays, too, the maker
// is asked to clip the resistor on, and the look leaves it out.
func TestAttendedSealedWire(t *testing.T) {
	t.Parallel()
	dir := copyOf(t, "later")
	r := putUpFor(t, dir)
	m := startTerminal(t, append([]string{"measure", dir, "--closure", "hull", "--stage", "loose", "--no-sweep",
		"--prove=false"}, r.ports(true)...)...)
	m.await("Clip a 470 ohm resistor across the far end of the wire \"searchlight\"")
	m.await("Enter: done")
	m.enter("")
	m.await("OUTPUT ON")
	m.await("searchlight")
	m.await("+ in band")
	m.await("Look at \"cabin\"")
	m.enter("q")
	m.await("Stopped")
	if s := m.status(); s == exitReady {
		t.Errorf("status %d", s)
	}
	r.mustBeOff()
	for _, s := range mustBeWhole(t, dir).Steps {
		if s.Step.Kind == capture.Look && strings.Contains(strings.Join(s.Step.Groups, " "), "searchlight") {
			t.Errorf("looked at: %q", s.Step.Groups)
		}
	}
}
