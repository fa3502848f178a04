//go:build unix

package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
)

// keptDinghy is a small model that left: measured and kept in simulated time.
func keptDinghy(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "dinghy")
	if err := os.CopyFS(dir, os.DirFS("testdata/plans/dinghy")); err != nil {
		t.Fatal(err)
	}
	b, err := openBuild(silent(), dir)
	if err != nil {
		t.Fatal(err)
	}
	x, now := simulatedBench{seed: 7}, time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)
	for i, s := range []session.Sitting{
		{Stage: compare.Fitted, Seed: 7, Sweep: true},
		{Stage: compare.Delivered, Seed: 7, Whole: &compare.WholeOptions{Warm: time.Minute}},
	} {
		if err := x.sit(b, s, now.Add(time.Duration(i)*24*time.Hour)); err != nil {
			t.Fatal(err)
		}
	}
	if _, _, err := b.keep(silent()); err != nil {
		t.Fatal(err)
	}
	return dir
}

// rigOf puts up a bench of a process of its own with a build on it.
func rigOf(t *testing.T, dir string, args ...string) *rigged {
	t.Helper()
	r := &rigged{process: start(t, append([]string{"rig", dir, "--json", "--verbose", "--seed", "7"}, args...)...)}
	for end := time.Now().Add(patience); ; time.Sleep(10 * time.Millisecond) {
		if json.Unmarshal([]byte(r.out.raw()), &r.rep) == nil {
			return r
		}
		if time.Now().After(end) {
			t.Fatalf("the rig didn't come up: %s %s", r.out.raw(), r.err.raw())
		}
	}
}

// A return in real time, over serial ports, on a terminal: answers by key, the
// clips by hand, Ctrl-C in the middle, and on with it without a question.
func TestReturnInRealTime(t *testing.T) {
	t.Parallel()
	dir := keptDinghy(t)
	r := rigOf(t, dir, "--fault", "side lights=open branch")
	args := append([]string{"return", dir, "--warm", "0", "--trace", "2s"}, r.ports(false)...)
	m := startTerminal(t, args...)
	m.await("First by eye. Nothing is connected yet.")
	m.await("a: none of these")
	m.await("q: stop")
	m.enter("") // what passes a look is never Enter alone
	m.await("\"\" is no answer here")
	m.await("q: stop")
	m.enter("a")
	m.await("What does the client say is wrong?")
	m.await("q: stop")
	m.enter("")
	m.await("Can you tell the colours of lights apart?")
	m.await("q: stop")
	m.enter("")
	m.await("The client's own adapter: is it here")
	m.await("q: stop")
	m.enter("x")
	m.await("\"x\" is no answer here")
	m.await("q: stop")
	m.enter("")
	m.await("where plus should be (two pins, plus is the long one)")
	m.await("q: stop")
	m.enter("")
	m.await("How many volts does it show?")
	m.await("q: stop")
	m.enter("3,02 V")
	m.await("How many ohms has yours?")
	m.await("q: stop")
	m.enter("d")
	m.await("Now the clips onto the model's own jack")
	m.await("Its plug: two pins, plus is the long one.")
	m.await("q: stop")
	r.hand("clip side lights, stern light")
	m.enter("")
	m.await("little current first")
	m.await("No short")
	m.await("OUTPUT ON")
	m.signal(syscall.SIGINT)
	m.await("the output is off")
	m.await("sealworthy return")
	if s := m.status(); s != exitFailure {
		t.Errorf("status %d", s)
	}

	m = startTerminal(t, append(args, "--resume")...)
	m.await("Now the clips onto the model's own jack")
	m.await("q: stop")
	m.enter("")
	m.await("warm, at 3.0 V")
	m.await("for the record")
	m.await("Dinghy, returned: !")
	m.await("side lights")
	m.await("The adapter gives 3.02 V, as it should. It was not measured under load.")
	if s := m.status(); s != exitKeepOpen {
		t.Errorf("status %d", s)
	}
	if s := m.out.plain(); strings.Contains(s, "First by eye") || strings.Contains(s, "adapter: is it here") {
		t.Errorf("it asked again: %s", s)
	}
	r.mustBeOff()
	limits, sweeps := 0, 0
	for _, s := range mustBeWhole(t, dir).Steps {
		if s.Stage != compare.Returned || s.Outcome != capture.Measured || s.Step.Kind != capture.Whole {
			continue
		}
		if strings.HasPrefix(s.Step.ID, "limit/") {
			limits++
		}
		if len(s.Points) == 3 {
			sweeps++
		}
	}
	if limits != 1 || sweeps != 1 {
		t.Errorf("%d times little current first, %d sweeps", limits, sweeps)
	}
}
