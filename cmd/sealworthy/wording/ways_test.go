package wording

import (
	"slices"
	"testing"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
)

// What a terminal offers, word for word.
func TestKeys(t *testing.T) {
	for _, c := range []struct {
		kind    capture.QuestionKind
		step    bool
		choices []string
		want    string
	}{
		{capture.AskLook, true, []string{"right", "wrong", "skip", "stop"},
			"a: all right   or type which isn't   s: skip   l: more light   ?   q: stop"},
		{capture.AskLook, true, []string{"right", "wrong", "skip", "undo", "stop"},
			"a: all right   or type which isn't   s: skip   l: more light   ?   u: undo   q: stop"},
		{capture.AskUnderstood, true, []string{"right", "wrong", "skip", "stop"},
			"a: yes, that's it   or type it anew   s: skip   l: more light   ?   q: stop"},
		{capture.AskUnderstood, true, []string{"wrong", "skip", "stop"},
			"type the group, how many and what   s: skip   l: more light   ?   q: stop"},
		{capture.AskTouched, false, []string{"nothing", "touched", "stop"},
			"n: nothing   or numbers, names   ?   q: stop"},
		{capture.AskTouched, true, []string{"nothing", "touched", "stop"},
			"n: nothing   or numbers, names, the clip   ?   q: stop"},
		{capture.AskAgain, true, []string{"next", "redo", "accept", "stop"},
			"Enter: go on   r: redo   a REASON: accept as it is   q: stop"},
		{capture.AskAgain, true, []string{"redo", "next", "accept", "stop"},
			"Enter: redo   n: go on   a REASON: accept as it is   q: stop"},
		{capture.AskNumber, false, []string{"number", "overload", "stop"},
			"type what it shows, as 38.2 (mA) or 0.04 A or OL   q: stop"},
		{capture.AskHazard, true, []string{"skip", "allow", "stop"},
			"Enter: leave it out   its NAME: power it   q: stop"},
		{capture.AskReason, true, []string{"reason", "skip", "stop"}, "type why   s: leave it out   q: stop"},
		{capture.AskWiggle, true, []string{"done", "skip", "stop"}, "Enter: done   q: stop"},
		{capture.AskPlug, false, []string{"done", "stop"}, "Enter: done   q: stop"},
		{capture.AskClip, true, []string{"done", "skip", "stop"}, "Enter: done   s REASON: skip   q: stop"},
		{capture.AskClip, true, []string{"done", "keep", "skip", "stop"},
			"Enter: moved it   k: it's right   s REASON: skip   q: stop"},
	} {
		q := capture.Question{Kind: c.kind, Choices: c.choices}
		if c.step {
			q.Step = &capture.Step{}
		}
		if got := Keys(q); got != c.want {
			t.Errorf("%s %v: %q, want %q", c.kind, c.choices, got, c.want)
		}
	}
}

// What stopped a step of a return may be a short: to end it stands first.
func TestAStoppedReturnEndsFirst(t *testing.T) {
	q := session.Question{Question: capture.Question{Kind: capture.AskAgain,
		Choices: []string{"next", "redo", "accept", "stop"}}, About: &session.About{Stopped: true}}
	if w := Ways(q); Entered(q) != "next" || w[0].Label() != "end it here" || w[1].Label() != "try it once more" {
		t.Errorf("%+v", w)
	}
}

// Each choice of a question has a way, even one that nobody thought of, and no other has.
func TestWaysAreTheChoices(t *testing.T) {
	for _, k := range []capture.QuestionKind{capture.AskClip, capture.AskPress, capture.AskLook, capture.AskUnderstood,
		capture.AskTouched,
		capture.AskWiggle, capture.AskAgain, capture.AskNumber, capture.AskSupply, capture.AskPlug, capture.AskHazard,
		capture.AskReason, "new"} {
		for _, choices := range [][]string{{"done", "stop"}, {"right", "wrong", "skip", "undo", "stop"},
			{"perhaps", "nothing", "touched"}} {
			var got []string
			for _, w := range Ways(session.Question{Question: capture.Question{Kind: k, Choices: choices}}) {
				if w.Says == "" || w.Line() == "" {
					t.Errorf("%s: nothing is said of %q", k, w.Choice)
				}
				got = append(got, w.Choice)
			}
			slices.Sort(got)
			want := slices.Sorted(slices.Values(choices))
			if !slices.Equal(got, want) {
				t.Errorf("%s: %q, want %q", k, got, want)
			}
		}
	}
}
