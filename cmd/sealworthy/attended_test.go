//go:build unix

package main

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/compare"
)

// attended starts a test on a terminal, without relays: hands clip.
func attended(t *testing.T, dir string, r *rigged, more ...string) *process {
	if !slices.Contains(more, "--prove") {
		more = append(more, "--prove=false")
	}
	if !slices.ContainsFunc(more, func(s string) bool { return strings.HasPrefix(s, "--hands-free") }) {
		more = append(more, "--hands-free=false") // each clip asked for
	}
	return startTerminal(t, append(append([]string{"measure", dir, "--closure", "hull", "--no-sweep"},
		r.ports(false)...), more...)...)
}

// touchedNothing answers the question before the end.
func (p *process) touchedNothing() {
	p.t.Helper()
	p.await("All is measured. What did you touch since it was measured?")
	p.await("q: stop")
	p.enter("n")
}

// A whole closure by hand: clip prompts, a bad verdict measured anew and then
// accepted with a reason, a look that isn't all right, the wiggle.
func TestAttended(t *testing.T) {
	t.Parallel()
	dir, r := putUpBench(t, "--fault", "cabin lamps=open branch")
	m := attended(t, dir, r)
	m.await("never solder with the output on")
	m.await("Clip the plus lead to \"stern light\"")
	m.await("Enter: done")
	r.hand("clip stern light")
	m.enter("")
	m.await("OUTPUT ON")
	m.await("reading: hands off")
	m.await("+ in band")
	m.await("Clip the plus lead to \"cabin lamps\"")
	m.await("Enter: done")
	r.hand("clip cabin lamps")
	m.enter("")
	m.await("! low")
	m.await("Enter: redo")
	m.enter("r") // the clip is where it was: it isn't asked for
	m.await("Something was wrong. What did you touch since it was measured?")
	m.await("stern light, ") // the list
	m.await("n: nothing")
	m.enter("")
	m.await("Enter alone is no answer here")
	m.await("q: stop")
	m.enter("n")
	m.await("OUTPUT ON")
	m.await("! low")
	m.await("Enter: redo")
	m.enter("a")
	m.await("say why, too")
	m.await("q: stop")
	m.enter("a the owner knows")
	m.await("What did you touch")
	m.await("q: stop")
	m.enter("n")
	m.await("Clip the plus lead") // onto both
	m.await("Enter: done")
	r.hand("clip stern light, cabin lamps")
	m.enter("")
	m.await("move the wires")
	m.await("Enter: done")
	m.enter("")
	m.await("look at the lights; don't solder now") // with the clip where it is: on both
	m.await("Look at \"stern light\", \"cabin lamps\": all lit as it should be?")
	m.await("a: all right or type which isn't")
	m.await("q: stop")
	m.enter("") // a pedal passes no look: it keeps it lit
	m.await("Two minutes more.")
	m.await("q: stop")
	m.enter("?")
	m.await("Count them, look at their colour and at their place.")
	m.await("q: stop")
	m.enter("there is something odd")
	m.await("Which of them is that? Lit are \"stern light\", \"cabin lamps\".")
	m.await("q: stop")
	m.enter("cabin lamps: one of them is out")
	m.await("Understood: cabin lamps: 1 dark.")
	m.await("And the rest, \"stern light\": all lit as it should be?")
	m.await("q: stop")
	m.enter("a")
	m.await("All is measured. What did you touch since it was measured?")
	m.await("q: stop")
	m.enter("n")
	m.await("kept in")
	if s := m.status(); s != exitKeepOpen { // what was seen after it was accepted isn't covered by that
		t.Errorf("status %d", s)
	}
	if s := m.out.raw(); !strings.HasSuffix(s, "\n") {
		t.Errorf("the last line stays half written: %q", s[max(0, len(s)-80):])
	}
	r.mustBeOff()
	f := mustBeWhole(t, dir)
	if len(f.Accepted) != 1 || f.Accepted[0].Reason != "the owner knows" {
		t.Errorf("accepted: %+v", f.Accepted)
	}
	// What was read before it was measured again stays.
	read := 0
	for _, s := range f.Steps {
		if s.Step.ID == "hull/cabin lamps" && s.Outcome == capture.Measured {
			read++
		}
	}
	if read != 2 || f.Redone["hull/cabin lamps"] != 1 {
		t.Errorf("%d readings of cabin lamps, redone: %v", read, f.Redone)
	}
	if len(f.TouchedNothing) != 3 || len(f.Reworked) != 0 {
		t.Errorf("touched: %+v, nothing: %+v", f.Reworked, f.TouchedNothing)
	}
	looks, wiggles := 0, 0
	for _, s := range f.Steps {
		switch {
		case s.Step.Kind == capture.Look && s.Seen == "stern light: all right; cabin lamps: 1 dark":
			looks++
		case s.Step.Kind == capture.Wiggle && s.ShortestDropS > 0:
			wiggles++
		}
	}
	if looks != 1 || wiggles != 1 {
		t.Errorf("%d looks, %d wiggles", looks, wiggles)
	}
}

// A slip of the finger isn't taken for an answer; a skip needs a reason; q
// keeps what there is and says how to go on.
func TestSkipAndStop(t *testing.T) {
	t.Parallel()
	dir, r := putUpBench(t)
	m := attended(t, dir, r)
	m.await("Clip the plus lead to \"stern light\"")
	m.await("q: stop")
	m.enter("x")
	m.await("\"x\" is no answer here")
	m.await("q: stop")
	m.enter("s")
	m.await("say why, too")
	m.await("q: stop")
	m.enter("s not soldered yet")
	m.await("Clip the plus lead to \"cabin lamps\"")
	m.await("q: stop")
	m.enter("q")
	m.await("hull: ? NOT SETTLED")
	m.await("Stopped. To go on: sealworthy measure")
	m.await("--resume")
	if s := m.status(); s != exitNotReady {
		t.Errorf("status %d", s)
	}
	if n := r.mustBeOff(); n != 0 {
		t.Errorf("the output went on %d times", n)
	}
	skipped := 0
	for _, s := range mustBeWhole(t, dir).Steps {
		if s.Outcome == capture.Skipped && s.Reason == "not soldered yet" && s.Step.Feed == "stern light" {
			skipped++
		}
	}
	if skipped != 1 {
		t.Errorf("%d steps skipped", skipped)
	}
}

// The wrong clip is recognised by its draw, and the output is off while asked.
func TestWrongClip(t *testing.T) {
	t.Parallel()
	dir, r := putUpBench(t)
	m := attended(t, dir, r, "--only", "stern light")
	m.await("Clip the plus lead to \"stern light\"")
	m.await("q: stop")
	r.hand("clip cabin lamps")
	m.enter("")
	m.await("wrong clip?")
	m.await("q: stop")
	r.enter("state")
	r.says("output off")
	r.hand("clip stern light")
	m.enter("")
	m.await("+ in band")
	m.touchedNothing()
	m.status()
	r.mustBeOff()
}

// The bench is proved before the model is suspected: hands hold the clips.
func TestProof(t *testing.T) {
	t.Parallel()
	dir, r := putUpBench(t)
	m := attended(t, dir, r, "--prove")
	m.await("Hold the clips apart")
	m.await("q: stop")
	r.hand("open")
	m.enter("")
	m.await("Put the clips together")
	m.await("q: stop")
	r.hand("together")
	m.enter("")
	m.await("known resistor of")
	m.await("q: stop")
	r.hand("resistor 1000")
	m.enter("")
	m.await("bench proved: leads, clips and meter together")
	m.await("Clip the plus lead to")
	m.await("q: stop")
	m.enter("q")
	m.await("Stopped. To go on:")
	m.status()
	f := mustBeWhole(t, dir)
	var p capture.Proof
	if len(f.Notes) != 1 || f.Notes[0].Name != "proof" || json.Unmarshal([]byte(f.Notes[0].Text), &p) != nil ||
		!p.Good() || len(f.Notes[0].Readings) < 10 {
		t.Errorf("of the proof the record keeps %+v", f.Notes)
	}
	if n := r.mustBeOff(); n != 3 {
		t.Errorf("the output went on %d times for three parts", n)
	}
}

// The meter's fuse has blown: the proof says so before any group is suspected.
func TestProofFindsBlownFuse(t *testing.T) {
	t.Parallel()
	dir, r := putUpBench(t)
	r.hand("blow")
	m := attended(t, dir, r, "--prove")
	m.await("Hold the clips apart")
	m.await("q: stop")
	r.hand("open")
	m.enter("")
	m.await("Put the clips together")
	m.await("q: stop")
	r.hand("together")
	m.enter("")
	m.await("fuse")
	m.await("known resistor of")
	m.await("q: stop")
	m.enter("q")
	m.status()
	r.mustBeOff()
}

// Neither instrument has a port: the maker sets the supply and types what the
// meter shows.
func TestByHand(t *testing.T) {
	t.Parallel()
	dir := tender(t)
	m := startTerminal(t, "measure", dir, "--closure", "hull", "--stage", "loose", "--supply-by-hand", "--typed-meter")
	m.await("Switch the supply's output OFF now")
	m.await("q: stop")
	m.enter("")
	amps := map[string]string{"stern light": "13.8", "cabin lamps": "19,4 mA"}
	for _, feed := range []string{"stern light", "cabin lamps"} {
		m.await(fmt.Sprintf("Clip the plus lead to %q", feed))
		m.await("q: stop")
		m.enter("")
		typeFeed(m, amps[feed])
		m.await("+ in band")
	}
	m.await("Clip")
	m.await("q: stop")
	m.enter("q")
	m.await("Stopped.")
	if s := m.status(); s != exitNotReady {
		t.Errorf("status %d", s)
	}
	measured := 0
	for _, s := range mustBeWhole(t, dir).Steps {
		if s.Outcome == capture.Measured && s.Stage == compare.Loose {
			measured++
		}
	}
	if measured != 2 {
		t.Errorf("%d measured", measured)
	}
}

// typeFeed answers what is asked for one feed once it's clipped: what to set and switch
// on, the number at full voltage, and off. Four prompts with the clip, no more.
func typeFeed(m *process, number string) {
	m.t.Helper()
	m.await(", then switch its output ON")
	m.await("q: stop")
	m.enter("")
	if q := m.nextQuestion("type what it shows", "Enter: done"); q != "type what it shows" {
		m.t.Fatalf("asked %q", q)
	}
	m.await("q: stop")
	m.enter(number)
	if q := m.nextQuestion("Switch the supply's output OFF",
		"type what it shows"); q != "Switch the supply's output OFF" {
		m.t.Fatalf("asked %q", q)
	}
	m.await("q: stop")
	m.enter("")
}
