package main

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
)

// The bell rings each tone in its rhythm, one after another, and leaves out what comes
// much too fast.
func TestBellRings(t *testing.T) {
	at := time.Duration(0)
	var rung []string
	var later []func()
	r := &ringer{strike: func() { rung = append(rung, fmt.Sprint(at.Milliseconds())) },
		sleep: func(d time.Duration) { at += d }, run: func(f func(), _ func(error)) { later = append(later, f) }}
	shown := func(what capture.EventKind, said ...capture.Said) session.Event {
		return session.Event{What: session.Shown, Test: &capture.Event{What: what, Said: said}}
	}
	r.hear(shown(capture.StepEnds, capture.Said{Verdict: "low"}))
	r.hear(session.Event{What: session.Asked})
	for range 5 {
		r.hear(shown(capture.Contact))
	}
	if len(later) != 1 {
		t.Fatalf("%d goroutines ring", len(later))
	}
	later[0]()
	// not good three times slowly, your turn twice slowly; five contacts are too many
	if got := strings.Join(rung, " "); got != "0 520 1040 1390 1910" {
		t.Errorf("rung at %s", got)
	}
	r.hear(shown(capture.HandsOff))
	if len(later) != 2 {
		t.Fatal("it doesn't ring again")
	}
	rung, at = nil, 0
	later[1]()
	if got := strings.Join(rung, " "); got != "0 180" {
		t.Errorf("hands off rung at %s", got)
	}
	var quiet *ringer
	quiet.hear(shown(capture.Trip))
}
