package tones

import (
	"fmt"
	"testing"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
)

// A group felt, ramped and found good: what is heard of it.
func TestWhatIsHeard(t *testing.T) {
	said := func(good, undecided bool) capture.Said { return capture.Said{Good: good, Undecided: undecided} }
	off, sensing, on := capture.Event{}, capture.Event{OutputOn: true, Sensing: true}, capture.Event{OutputOn: true}
	at := func(e capture.Event, what capture.EventKind, of ...capture.Said) session.Event {
		e.What, e.Said = what, of
		return session.Event{What: session.Shown, Test: &e}
	}
	asked := session.Event{What: session.Asked}
	for _, c := range []struct {
		name   string
		events []session.Event
		want   string
	}{
		{"felt and measured", []session.Event{at(off, capture.Starting), at(sensing, capture.SensingOn), at(sensing,
			capture.SensingOn),
			asked, at(sensing, capture.Contact), at(sensing, capture.HandsOff), at(off, capture.OutputOff), at(off,
				capture.StepBegins),
			at(on, capture.OutputOn), at(on, capture.RampStep), at(off, capture.OutputOff), at(off, capture.StepEnds,
				said(true, false))},
			"[sensing your turn contact hands off output on output off good]"},
		{"by a key", []session.Event{asked, at(off, capture.StepBegins), at(on, capture.OutputOn), at(off,
			capture.OutputOff),
			at(off, capture.StepEnds, said(true, false), said(false, true))},
			"[your turn hands off output on output off can't tell]"},
		{"the worst is heard", []session.Event{at(off, capture.StepEnds, said(false, true), said(false, false),
			said(true, false))}, "[not good]"},
		{"let go", []session.Event{at(sensing, capture.SensingOn), at(sensing, capture.HandsOff), at(off,
			capture.OutputOff), at(off, capture.Told)},
			"[sensing hands off output off]"},
		{"a look is lit again", []session.Event{at(off, capture.Lit), at(off, capture.HandsOff),
			at(on, capture.OutputOn)},
			"[hands off output on]"},
		{"a look stays dark", []session.Event{at(off, capture.HandsOff), at(off, capture.Lit),
			at(off, capture.StepBegins),
			at(on, capture.OutputOn)}, "[hands off hands off output on]"},
		{"a trip", []session.Event{at(on, capture.OutputOn), at(off, capture.OutputOff), at(off, capture.Trip),
			at(off, capture.StepEnds)},
			"[hands off output on output off trip]"},
		{"nothing felt", []session.Event{at(sensing, capture.SensingOn), at(sensing, capture.NothingYet)},
			"[sensing your turn]"},
		{"solder", []session.Event{at(sensing, capture.SensingOn), at(off, capture.OutputOff)},
			"[sensing output off]"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var x Ear
			var got []Name
			for _, e := range c.events {
				got = append(got, x.Hear(e)...)
			}
			if s := fmt.Sprint(got); s != c.want {
				t.Errorf("heard %s, want %s", s, c.want)
			}
		})
	}
}

// By its bell alone a terminal tells what must be told apart with closed eyes.
func TestBellsDiffer(t *testing.T) {
	seen := map[string]Name{}
	for _, n := range []Name{Contact, HandsOff, Good, NotGood, CantTell, YourTurn, Trip} {
		s := fmt.Sprint(Bell(n))
		if was, ok := seen[s]; ok || len(Bell(n)) == 0 {
			t.Errorf("%s rings as %s does: %s", n, was, s)
		}
		seen[s] = n
	}
}
