//go:build unix

package main

import (
	"cmp"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
)

// stopPlace is a place at which a verb is stopped on a terminal.
type stopPlace struct {
	args   []string                                  // DIR is the build
	build  string                                    // "": the tender
	fault  string                                    // of the bench; "": none
	made   func(t *testing.T, dir string, r *rigged) // what is done with the build before; nil: nothing
	before func(m *process, r *rigged)               // nil: it's the first question
	asks   string                                    // what stands there; "": between two questions
	words  string                                    // that q ends with; Ctrl-C says how to go on, too, where q does
	status int                                       // after q
	alike  bool                                      // Ctrl-C ends it as q does: nothing was under way
}

// clipped clips a feed as it is asked for.
func clipped(m *process, r *rigged, feed string) {
	m.await("Clip the plus lead")
	m.await("q: stop")
	r.hand("clip " + feed)
	m.enter("")
}

// stopPlaces are all kinds of prompt, and what runs between two of them.
func stopPlaces() map[string]stopPlace {
	byHand := []string{"measure", "DIR", "--prove=false", "--hands-free=false"}
	return map[string]stopPlace{
		"proof": {args: []string{"measure", "DIR"}, asks: "Hold the clips apart", words: "the output is off",
			status: exitFailure},
		"felt for": {args: []string{"measure", "DIR", "--prove=false"}, asks: "SENSING", words: "Stopped. To go on:",
			status: exitNotReady},
		"clip": {args: byHand, asks: "Clip the plus lead", words: "Stopped. To go on:", status: exitNotReady},
		"measuring": {args: byHand, before: func(m *process, r *rigged) {
			clipped(m, r, "stern light")
			m.await("OUTPUT ON")
		}, words: "Stopped. To go on:", status: exitNotReady},
		"look": {args: byHand, before: func(m *process, r *rigged) {
			for _, feed := range []string{"stern light", "cabin lamps"} {
				clipped(m, r, feed)
				m.await("+ in band")
			}
			m.await("Clip the plus lead") // onto both
			m.await("q: stop")
			r.hand("clip stern light, cabin lamps")
			m.enter("")
			m.await("move the wires")
			m.await("Enter: done")
			m.enter("")
		}, asks: "Look at \"stern light\", \"cabin lamps\"", words: "Stopped. To go on:", status: exitNotReady},
		"part": {args: []string{"part", "red 1.8 mm", "--ohms", "1000"}, asks: "Clip piece 1", words: "To go on:",
			status: exitNotReady},
		"keep": {args: []string{"keep", "DIR"}, asks: "Enter: done", words: "to go on:", status: exitFailure},
		"soaking": {args: []string{"soak", "DIR", "--for", "2h"}, before: func(m *process, r *rigged) {
			m.await("q: stop")
			r.hand("clip stern light, cabin lamps")
			m.enter("")
			m.await("OUTPUT ON")
		}, words: "to go on:", status: exitFailure},
		"return": {args: []string{"return", "DIR"},
			made: unattendedly("keep", exitReady, "--warm", "1s", "--trace", "2s"), asks: "?",
			words: "to go on:", status: exitFailure},
		"next": {args: []string{"next", "DIR", "--do"}, build: "launch", fault: "cabin lamps=bad joint", made: doubtful,
			asks: "Clip the plus lead", words: "Stopped. To go on:", status: exitNotReady},
		"next, lit": {args: []string{"next", "DIR", "--do"}, build: "launch", fault: "cabin lamps=bad joint",
			made:   doubtful,
			before: func(m *process, r *rigged) { clipped(m, r, "cabin lamps") },
			asks:   "Look at \"cabin lamps\"", words: "Stopped. To go on:", status: exitNotReady},
		"page": {args: []string{"page", "DIR", "--no-open"},
			before: func(m *process, _ *rigged) { m.await("q or Ctrl-C ends it") }, alike: true, status: exitReady},
		"bench": {args: []string{"bench"}, asks: "Try the supply now?", words: "Nothing was written down.",
			status: exitNotReady},
		"bench, written": {args: []string{"bench"}, before: func(m *process, _ *rigged) {
			m.await("Try the supply now?")
			m.await("q: stop")
			m.enter("")
		}, asks: "Write down the supply", words: "Nothing was written down.", status: exitNotReady},
		"bench, supply": {args: []string{"bench", "--try"}, asks: "Is nothing connected to the supply?",
			words: "Stopped, the output off.", status: exitNotReady},
	}
}

// doubtful measures a build by relays so that something of it isn't settled.
func doubtful(t *testing.T, dir string, r *rigged) {
	unattendedly("measure", exitKeepOpen, "--one-voltage", "--no-sweep", "--seed", "5")(t, dir, r)
}

// unattendedly runs a verb to its end, by relays.
func unattendedly(verb string, status int, flags ...string) func(t *testing.T, dir string, r *rigged) {
	return func(t *testing.T, dir string, r *rigged) {
		p := start(t, append(append([]string{verb, dir, "--unattended"}, flags...), r.ports(true)...)...)
		if s := p.status(); s != status {
			t.Fatalf("%s ended with %d: %s %s", verb, s, p.out.plain(), p.err.plain())
		}
	}
}

// At each kind of prompt, and between two of them, q and Ctrl-C end what runs on a
// terminal: the output off, what was measured kept, and it's said how to go on.
func TestStoppingAnywhere(t *testing.T) {
	t.Parallel()
	for name, c := range stopPlaces() {
		for key, typed := range map[string]string{"q": "q\n", "Ctrl-C": "\x03"} {
			t.Run(name+"/"+key, func(t *testing.T) {
				t.Parallel()
				var broken []string
				if c.fault != "" {
					broken = []string{"--fault", c.fault}
				}
				dir := copyOf(t, cmp.Or(c.build, "tender"))
				r := putUpFor(t, dir, broken...)
				if c.made != nil {
					c.made(t, dir, r)
				}
				args := slices.Clone(c.args)
				for i := range args {
					args[i] = strings.Replace(args[i], "DIR", dir, 1)
				}
				if args[0] == "bench" {
					args = append(args, "--port", r.rep.Ports.Supply)
				} else {
					args = append(args, r.ports(false)...)
				}
				m := startTerminal(t, args...)
				if c.before != nil {
					c.before(m, r)
				}
				if c.asks != "" {
					m.await(c.asks)
					m.await("q: stop")
				}
				if _, err := m.in.Write([]byte(typed)); err != nil {
					t.Fatal(err)
				}
				status, said := m.status(), m.out.plain()
				want, words := c.status, c.words
				if key == "Ctrl-C" && !c.alike {
					want, words = exitFailure, "ended by signal"
				}
				goesOn := strings.Contains(strings.ToLower(c.words), "to go on:")
				how := "--resume"
				if args[0] == "next" { // it begins with what is recorded, each time
					how = "sealworthy next"
				}
				if status != want || !strings.Contains(said, words) || goesOn && !strings.Contains(said, how) {
					t.Errorf("status %d, want %d and %q: %s", status, want, words, said[max(0, len(said)-600):])
				}
				r.mustBeOff()
				if _, err := os.Stat(filepath.Join(dir, "readings")); err == nil {
					mustBeWhole(t, dir)
				}
			})
		}
	}
}

// A plan in the making is kept at each answer, however it's left.
func TestStoppingAnInterview(t *testing.T) {
	t.Parallel()
	for key, typed := range map[string]string{"q": "q\n", "Ctrl-C": "\x03"} {
		dir := filepath.Join(t.TempDir(), "tram")
		m := startTerminal(t, "new", dir, "--ask")
		m.await("a coin cell")
		m.enter("2")
		m.await("How many volts?")
		if _, err := m.in.Write([]byte(typed)); err != nil {
			t.Fatal(err)
		}
		m.status()
		if key == "Ctrl-C" && m.cmd.ProcessState.Sys().(syscall.WaitStatus).Signal() != syscall.SIGINT {
			t.Errorf("Ctrl-C: %v", m.cmd.ProcessState)
		}
		m = startTerminal(t, "new", dir, "--ask")
		m.await("How many volts?")
		if strings.Contains(m.out.plain(), "a coin cell") {
			t.Errorf("%s: what was answered is asked again: %s", key, m.out.plain())
		}
		m.enter("q")
		m.status()
	}
}

// A simulated bench is taken down by either.
func TestStoppingTheRig(t *testing.T) {
	t.Parallel()
	for _, typed := range []string{"q\n", "\x03"} {
		m := startTerminal(t, "rig", tender(t))
		m.await("q or Ctrl-C takes it down")
		if _, err := m.in.Write([]byte(typed)); err != nil {
			t.Fatal(err)
		}
		if s := m.status(); s != exitReady {
			t.Errorf("%q: status %d", typed, s)
		}
	}
}
