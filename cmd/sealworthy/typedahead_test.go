//go:build unix

package main

import (
	"fmt"
	"io"
	"testing"
)

// Keys pressed while it was being read pass nothing that is asked later, whether
// they were entered or half typed; the words that stop count whenever they came.
func TestTypedAheadPassesNothing(t *testing.T) {
	t.Parallel()
	dir, r := putUpBench(t)
	m := attended(t, dir, r, "--only", "stern light")
	m.await("Clip the plus lead to \"stern light\"")
	m.await("q: stop")
	m.typeAhead("") // at once: nobody has read it yet
	m.await("That was typed before the question; it doesn't count.")
	m.await("q: stop")
	r.hand("clip stern light")
	m.enter("")
	m.await("OUTPUT ON")
	m.typeAhead("n") // for the question at the end
	m.typeAhead("n")
	m.await("What did you touch")
	m.await("That was typed before the question; it doesn't count.")
	m.await("q: stop")
	m.enter("n")
	m.await("kept in")
	m.status()
	r.mustBeOff()
}

// A line half typed before a question is gone when it opens: what is typed then
// stands alone.
func TestHalfTypedLineDoesNotSurvive(t *testing.T) {
	t.Parallel()
	dir, r := putUpBench(t)
	m := attended(t, dir, r, "--only", "stern light")
	m.await("Clip the plus lead to \"stern light\"")
	m.await("q: stop")
	r.hand("clip stern light")
	m.enter("")
	m.await("OUTPUT ON")
	if _, err := io.WriteString(m.in, "nothing"); err != nil { // without Enter
		t.Fatal(err)
	}
	m.await("What did you touch")
	m.await("q: stop")
	m.enter("")
	m.await("Enter alone is no answer here")
	m.await("q: stop")
	m.enter("n")
	m.await("kept in")
	m.status()
	r.mustBeOff()
}

func TestStopTypedAheadCounts(t *testing.T) {
	t.Parallel()
	dir, r := putUpBench(t)
	m := attended(t, dir, r, "--only", "stern light")
	m.await("Clip the plus lead to \"stern light\"")
	m.await("q: stop")
	r.hand("clip stern light")
	m.enter("")
	m.await("OUTPUT ON")
	m.typeAhead("")
	m.typeAhead("q")
	m.await("Stopped. To go on:")
	m.status()
	r.mustBeOff()
	if f := mustBeWhole(t, dir); len(f.TouchedNothing) != 0 {
		t.Errorf("touched nothing: %+v", f.TouchedNothing)
	}
}

// The terminal is closed at a question: the output goes off and nothing passes.
func TestTerminalClosedAtALook(t *testing.T) {
	t.Parallel()
	dir, r := putUpBench(t)
	m := attended(t, dir, r, "--stage", "fitted")
	for _, feed := range []string{"stern light", "cabin lamps"} {
		m.await(fmt.Sprintf("Clip the plus lead to %q", feed))
		m.await("q: stop")
		r.hand("clip " + feed)
		m.enter("")
		m.await("+ in band")
	}
	m.await("Clip the plus lead") // onto both
	m.await("q: stop")
	r.hand("clip stern light, cabin lamps")
	m.enter("")
	m.await("move the wires")
	m.await("Enter: done")
	m.enter("")
	m.await("Look at \"stern light\", \"cabin lamps\"")
	m.await("q: stop")
	if _, err := io.WriteString(m.in, "\x04"); err != nil { // the end of the input
		t.Fatal(err)
	}
	m.await("the input ended in the middle of a question")
	if s := m.status(); s != exitFailure {
		t.Errorf("status %d", s)
	}
	r.mustBeOff()
	for _, s := range mustBeWhole(t, dir).Steps {
		if s.Seen != "" {
			t.Errorf("seen %q", s.Seen)
		}
	}
}
