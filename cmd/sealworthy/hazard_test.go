//go:build unix

package main

import (
	"strings"
	"testing"

	"sealworthy/capture"
)

// What may burn isn't powered: at the question Enter leaves it out, a slip of the
// finger doesn't go on, and the output was never on.
func TestAttendedHazardLeftOut(t *testing.T) {
	t.Parallel()
	dir := copyOf(t, "hot")
	r := putUpFor(t, dir)
	m := attended(t, dir, r, "--only", "stern light")
	m.await("WRONG in the plan")
	m.await("NOT POWERED")
	m.await("rated 20 mA")
	m.await("680 ohm instead of 100 ohm")
	m.await("LED current: stern light")
	m.await("Enter: leave it out")
	m.enter("y")
	m.await("The name of the check is")
	m.await("Enter: leave it out")
	m.enter("")
	m.await("skipped: not powered")
	if s := m.status(); s == exitReady {
		t.Errorf("status %d", s)
	}
	if n := r.mustBeOff(); n != 0 {
		t.Errorf("the output was on %d times", n)
	}
	for _, s := range mustBeWhole(t, dir).Steps {
		if s.Outcome != capture.Skipped || !strings.HasPrefix(s.Reason, capture.NotPowered) {
			t.Errorf("%s: %s %s", s.Step.ID, s.Outcome, s.Reason)
		}
	}
}

// Its name and a reason power it, and both stand in the record.
func TestAttendedHazardAllowed(t *testing.T) {
	t.Parallel()
	dir := copyOf(t, "hot")
	r := putUpFor(t, dir)
	m := attended(t, dir, r, "--only", "stern light")
	m.await("NOT POWERED")
	m.await("Enter: leave it out")
	m.enter("LED current: stern light")
	m.await("Why is it powered")
	m.await("type why")
	m.enter("a spare one, to see it fail")
	m.await("Clip the plus lead to \"stern light\"")
	m.await("Enter: done")
	r.hand("clip stern light")
	m.enter("")
	m.await("OUTPUT ON")
	m.touchedNothing()
	m.await("kept in")
	if s := m.status(); s == exitReady {
		t.Errorf("status %d", s)
	}
	if n := r.mustBeOff(); n != 1 {
		t.Errorf("the output was on %d times", n)
	}
	f := mustBeWhole(t, dir)
	if len(f.Allowed) != 1 || f.Allowed[0].Name != "LED current: stern light" ||
		f.Allowed[0].Reason != "a spare one, to see it fail" || !(f.Allowed[0].Value > 0.09) {
		t.Errorf("allowed: %+v", f.Allowed)
	}
}
