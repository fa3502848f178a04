package main

import (
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
)

// Who can't judge colours says so once. The current's verdicts stand, nothing is ready before
// somebody looks who can, and a test that goes on asks for that, knowing who looked.
func TestColoursAreSeenBySomebodyWhoCan(t *testing.T) {
	t.Parallel()
	b := gig(t)
	var asked []capture.QuestionKind
	maker := careful(&asked)
	usual := maker.answer
	var looks []capture.Question
	choose := []string{capture.NoColours}
	maker.answer = func(q capture.Question) capture.Answer {
		if q.Kind == capture.AskLook {
			looks = append(looks, q)
			if len(choose) > 0 {
				a := capture.Answer{Choice: choose[0]}
				choose = choose[1:]
				return a
			}
		}
		return usual(q)
	}
	verdicts := func() (out []compare.ClosureVerdict, text string) {
		cs, _, err := b.findings(quiet(), "", compare.Leads{Ohm: 0.1, HalfOhm: 0.05})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range cs {
			out = append(out, c.Verdict)
			text += strings.Join(c.Reasons, "\n") + "\n"
			for _, f := range c.Groups {
				if !f.NoColours && c.Verdict != compare.ReadyToClose || f.Verdict != compare.InBand {
					t.Errorf("%s: %s, seen %q", f.Group, f.Verdict, f.Seen)
				}
			}
		}
		return out, text
	}
	s := session.Sitting{Stage: compare.Fitted, Seed: 3}
	end := sitBefore(t, maker, b, s, sittingBegan)
	if got, text := verdicts(); slices.ContainsFunc(got, func(v compare.ClosureVerdict) bool {
		return v != compare.LookFirst
	}) || !strings.Contains(text, "colours not judged") {
		t.Errorf("%v:\n%s", got, text)
	}
	if n := len(looks); n != 3 || !looks[1].NoColours || !looks[2].NoColours {
		t.Errorf("%d looks, want one told once and two that know it", n)
	}
	// Told outside a test it's as before: nobody said that another one looks.
	must(t, measureFlags{closure: "hull", seen: "all right", stage: compare.Fitted}.tell(quiet(), b))
	if got, text := verdicts(); slices.ContainsFunc(got, func(v compare.ClosureVerdict) bool {
		return v != compare.LookFirst
	}) {
		t.Errorf("told: %v:\n%s", got, text)
	}
	// In another run: it's known, and somebody is there now who can.
	looks, choose, s.Resume = nil, []string{capture.Colours}, true
	end = sitBefore(t, maker, b, s, end.Add(time.Minute))
	if n := len(looks); n != 3 || !looks[0].NoColours || looks[1].NoColours {
		t.Errorf("%d looks, want the two again, the first knowing who looked", n)
	}
	if got, text := verdicts(); slices.ContainsFunc(got, func(v compare.ClosureVerdict) bool {
		return v != compare.ReadyToClose
	}) {
		t.Errorf("%v:\n%s", got, text)
	}
	// What was looked at whole isn't asked again.
	looks = nil
	sitBefore(t, maker, b, s, end.Add(time.Minute))
	if len(looks) != 0 {
		t.Errorf("asked again: %+v", looks)
	}
}
