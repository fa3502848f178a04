//go:build unix

package main

import (
	"strings"
	"syscall"
	"testing"

	"sealworthy/cmd/sealworthy/tones"
)

// With both hands full, on a terminal, over serial ports in real time: what is clipped
// on is felt, announced with a tone and measured; a key switches off to solder; what
// draws nothing takes Enter.
func TestHandsFree(t *testing.T) {
	t.Parallel()
	dir := copyOf(t, "gig")
	r := putUpFor(t, dir, "--fault", "bow lamps=group reversed")
	m := startTerminal(t,
		append([]string{"measure", dir, "--closure", "hull", "--no-sweep", "--one-voltage", "--prove=false",
			"--only", "stern lamp", "--only", "bow lamps"}, r.ports(false)...)...)
	m.await("SENSING")
	m.await("Clip the plus lead to \"bow lamps\". Any other that is left will do.")
	m.await("OFF, TO SOLDER")
	m.await("q: stop")
	r.hand("clip stern lamp")
	m.await("felt something: hold still")
	m.await("I take it for \"stern lamp\". Hands off.")
	m.await("OUTPUT ON")
	m.await("+ in band")
	m.await("Take the clip off. Next: clip the plus lead to \"bow lamps\".")
	m.await("q: stop")
	m.enter("o")
	m.await("off: you may solder")
	m.await("q: stop")
	r.enter("state")
	r.says("output off")
	r.hand("key on") // at the supply, while it's said that one may solder
	m.await("somebody switched it on there, nothing here did. It's switched off.")
	m.await("So keep the iron away from what is clipped on.")
	m.await("q: stop")
	r.enter("state")
	r.says("output off")
	m.enter("")
	m.await("You soldered.")
	m.await("q: stop")
	m.enter("n")
	m.await("SENSING")
	m.await("q: stop")
	r.hand("clip bow lamps")
	m.await("Nothing felt. Clip on?")
	m.enter("")
	m.await("OUTPUT ON")
	m.await("! 0 mA")
	m.await("q: stop")
	m.enter("n") // Enter alone would measure it once more
	m.await("Something was wrong. What did you touch")
	m.await("q: stop")
	m.enter("n")
	m.await("kept in")
	if s := m.status(); s != exitKeepOpen {
		t.Errorf("status %d", s)
	}
	r.mustBeOff()
	mustBeWhole(t, dir)
	said := m.out.raw()
	for _, shape := range []string{"○ output off", "◐ SENSING", "● OUTPUT ON"} {
		if !strings.Contains(said, shape) {
			t.Errorf("%q isn't there", shape)
		}
	}
	// All of it is rung where it comes slowly enough; what comes too fast is left out.
	all := 0
	for n, times := range map[tones.Name]int{tones.Contact: 1, tones.HandsOff: 2, tones.Good: 1, tones.NotGood: 1,
		tones.YourTurn: 8} {
		all += times * len(tones.Bell(n))
	}
	if n := strings.Count(said, "\a"); n < 5 || n > all {
		t.Errorf("the bell rang %d times, want 1 for the contact and 2 for each hands off at least, %d with all else",
			n, all)
	}
}

// Killed in the middle of sensing: what a signal can do, it does.
func TestHandsFreeEndsWithASignal(t *testing.T) {
	t.Parallel()
	dir := copyOf(t, "gig")
	r := putUpFor(t, dir)
	m := startTerminal(t, append([]string{"measure", dir, "--closure", "hull", "--no-sweep", "--prove=false",
		"--hands-free"}, r.ports(false)...)...)
	m.await("SENSING")
	m.await("q: stop")
	m.signal(syscall.SIGTERM)
	if s := m.status(); s != exitFailure {
		t.Errorf("status %d", s)
	}
	r.mustBeOff()
}
