//go:build unix

package main

import (
	"strings"
	"testing"
)

// At one voltage a bad joint draws as a branch that is dark. The voltage that
// "next" chooses and measures, over real serial ports, tells them apart.
func TestNextMeasuresUntilItIsSettled(t *testing.T) {
	t.Parallel()
	dir := copyOf(t, "launch")
	r := putUpFor(t, dir, "--fault", "cabin lamps=bad joint")
	args := append([]string{"measure", dir, "--unattended", "--one-voltage", "--no-sweep", "--seed", "5"},
		r.ports(true)...)
	p := start(t, args...)
	if s := p.status(); s != exitKeepOpen {
		t.Fatalf("measure ended with %d: %s %s", s, p.out.plain(), p.err.plain())
	}
	p = start(t, "next", dir)
	if s := p.status(); s != exitNotReady || !strings.Contains(p.out.plain(),
		`next: count the rows of three LEDs of "cabin lamps"`) ||
		!strings.Contains(p.out.plain(), `measure "cabin lamps" at`) {
		t.Errorf("next ended with %d: %s", s, p.out.plain())
	}
	p = start(t, append([]string{"next", dir, "--do", "--unattended", "--seed", "6"}, r.ports(true)...)...)
	if s := p.status(); s != exitReady || !strings.Contains(p.out.plain(), "settled: There's a bad joint") {
		t.Errorf("next --do ended with %d: %s %s", s, p.err.plain(), p.out.plain())
	}
	r.mustBeOff()
}
