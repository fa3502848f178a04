package main

import (
	"io"
	"slices"
	"strings"
	"testing"

	"sealworthy/capture"
)

func TestAnswer(t *testing.T) {
	clip := capture.Question{Kind: capture.AskClip, Choices: []string{"done", "skip", "stop"}}
	wrongClip := capture.Question{Kind: capture.AskClip, Choices: []string{"done", "keep", "skip", "stop"}}
	clipBack := capture.Question{Kind: capture.AskClip, Choices: []string{"done", "skip", "stop", capture.Undo}}
	look := capture.Question{Kind: capture.AskLook, Choices: []string{"right", "wrong", "skip", "stop"}}
	stepped := capture.Question{Kind: capture.AskLook, Choices: []string{"right", "wrong", capture.Press, "skip", "stop"}}
	lookBack := capture.Question{Kind: capture.AskLook, Choices: []string{"right", "wrong", "skip", "stop",
		capture.Undo}}
	understood := capture.Question{Kind: capture.AskUnderstood, Choices: []string{"right", "wrong", "skip", "stop"}}
	which := capture.Question{Kind: capture.AskUnderstood, Choices: []string{"wrong", "skip", "stop"}}
	touched := capture.Question{Kind: capture.AskTouched, Choices: []string{"nothing", "touched", "stop"}}
	again := capture.Question{Kind: capture.AskAgain, Choices: []string{"redo", "next", "accept", "stop"}}
	open := capture.Question{Kind: capture.AskAgain, Choices: []string{"next", "redo", "accept", "stop"}}
	number := capture.Question{Kind: capture.AskNumber}
	hazard := capture.Question{Kind: capture.AskHazard, Choices: []string{"skip", "allow", "stop"}}
	reason := capture.Question{Kind: capture.AskReason, Choices: []string{"reason", "skip", "stop"}}
	supply := capture.Question{Kind: capture.AskSupply, Choices: []string{"done", "stop"}}
	for _, c := range []struct {
		q            capture.Question
		typed        string
		choice, text string
		asksAgain    string
	}{
		{clip, "", "done", "", ""},
		{clip, "q", "stop", "", ""},
		{clip, "Q", "stop", "", ""},
		{clip, "quit", "stop", "", ""},
		{clip, "s wire is off", "skip", "wire is off", ""},
		{clip, "skip wire is off", "skip", "wire is off", ""},
		{clip, "s", "", "", "say why"},
		{clip, "k", "", "", "no answer"}, // only where it's offered
		{clip, "ok", "", "", "no answer"},
		{wrongClip, "k", "keep", "", ""},
		{look, "", "", "", "Enter alone is no answer"}, // never a pedal
		{look, "y", "", "", "no answer"},
		{look, "yes", "", "", "no answer"},
		{look, "Y", "", "", "no answer"},
		{look, "ok", "", "", "no answer"},
		{look, "done", "wrong", "done", ""},
		{look, "a", "right", "", ""},
		{look, "A", "right", "", ""},
		{look, "all right", "right", "", ""},
		{look, "a dark one", "wrong", "a dark one", ""},
		{look, "p", "", "", "no answer"}, // no board with a button is lit
		{stepped, "p", "press", "", ""},
		{stepped, "press 2", "press", "2", ""},
		{stepped, "port light: 1 dark", "wrong", "port light: 1 dark", ""},
		{look, "s", "skip", "", ""},
		{look, "s too bright", "skip", "too bright", ""},
		{look, "u", "", "", "no answer to take back"},
		{look, "q", "stop", "", ""},
		{lookBack, "u", "undo", "", ""},
		{lookBack, "undo", "undo", "", ""},
		{clipBack, "u", "undo", "", ""},
		{clipBack, "", "done", "", ""},
		{understood, "a", "right", "", ""},
		{understood, "", "", "", "Enter alone is no answer"},
		{understood, "y", "", "", "no answer"},
		{understood, "cabin: one dark", "wrong", "cabin: one dark", ""},
		{which, "a", "", "", "no answer"},
		{which, "cabin: one dark", "wrong", "cabin: one dark", ""},
		{touched, "", "", "", "Enter alone is no answer"},
		{touched, "n", "nothing", "", ""},
		{touched, "nothing", "nothing", "", ""},
		{touched, "1, cabin", "touched", "1, cabin", ""},
		{touched, "q", "stop", "", ""},
		{look, "cabin windows: two dark", "wrong", "cabin windows: two dark", ""},
		{look, "starboard is dark", "wrong", "starboard is dark", ""},
		{again, "", "redo", "", ""},
		{again, "r", "redo", "", ""},
		{again, "n", "next", "", ""},
		{open, "", "next", "", ""},
		{open, "r", "redo", "", ""},
		{again, "a", "", "", "say why"},
		{again, "a client agreed", "accept", "client agreed", ""},
		{again, "accept client agreed", "accept", "client agreed", ""},
		{again, "y", "", "", "no answer"},
		{number, "38,2 mA", "number", "38,2 mA", ""},
		{number, "OL", "number", "OL", ""},
		{number, "q", "stop", "", ""},
		{hazard, "", "skip", "", ""}, // Enter never powers it
		{hazard, "s", "skip", "", ""},
		{hazard, "q", "stop", "", ""},
		{hazard, "y", "allow", "y", ""}, // the engine knows that this is no name
		{hazard, "LED current: stern light", "allow", "LED current: stern light", ""},
		{reason, "", "", "", "say why"},
		{reason, "s", "skip", "", ""},
		{reason, "q", "stop", "", ""},
		{reason, "a spare one, to see it fail", "reason", "a spare one, to see it fail", ""},
		{supply, "s no", "", "", "no answer"}, // it can't be skipped
		{supply, "", "done", "", ""},
	} {
		a, why := answer(c.q, c.typed)
		if a.Choice != c.choice || a.Text != c.text || (c.asksAgain == "") != (why == "") ||
			!strings.Contains(why, c.asksAgain) {
			t.Errorf("%s %q: %+v, asks again %q; want %q %q %q", c.q.Kind, c.typed, a, why, c.choice, c.text,
				c.asksAgain)
		}
	}
}

// What may be typed stands on one line of a terminal.
func TestKeysFit(t *testing.T) {
	for _, k := range []capture.QuestionKind{capture.AskClip, capture.AskPress, capture.AskLook, capture.AskUnderstood,
		capture.AskTouched, capture.AskWiggle, capture.AskAgain, capture.AskNumber, capture.AskSupply, capture.AskPlug,
		capture.AskHazard, capture.AskReason} {
		for _, choices := range [][]string{{"done"}, {"done", "keep"}, {"done", "right", capture.Undo},
			{"done", "keep", capture.Undo}} {
			if s := keys(capture.Question{Kind: k, Choices: choices, Step: &capture.Step{}}); columns(s)+2 >= width ||
				!strings.Contains(s, "q: stop") {
				t.Errorf("%s: %q", k, s)
			}
		}
	}
}

func TestCutCountsNoColours(t *testing.T) {
	k := ink{on: outletOf(io.Discard)}
	for _, c := range []struct {
		s    string
		n    int
		want string
	}{
		{"abc", 3, "abc"}, {"abcd", 3, "abc"}, {"", 3, ""},
		{k.loud("abcd"), 3, k.loud("abc")},
		{k.loud("abc"), 3, k.loud("abc")},
		{"\x1b[1mabc", 8, "\x1b[1"}, // from outside: it will be written out, \u001b
	} {
		if got := cut(c.s, c.n); got != c.want {
			t.Errorf("cut(%q, %d) = %q, want %q", c.s, c.n, got, c.want)
		}
	}
}

func TestWrapped(t *testing.T) {
	got := wrappedTo(20, "> ", "  ", "one two three four five, and averyverylongwordthatnothingcanbreak")
	want := []string{"> one two three four", "  five, and", "  averyverylongwordthatnothingcanbreak"}
	if strings.Join(got, "|") != strings.Join(want, "|") {
		t.Errorf("%q", got)
	}
}

// A key that does nothing isn't offered.
func TestSkipIsOfferedWhereItCanBe(t *testing.T) {
	for _, skips := range []bool{true, false} {
		q := capture.Question{Kind: capture.AskClip, Choices: []string{"done", "stop"}}
		if skips {
			q.Choices = append(q.Choices, "skip")
		}
		if s := keys(q); strings.Contains(s, "skip") != skips {
			t.Errorf("skip %v: %q", skips, s)
		}
	}
}

// Whatever is typed: a look passes by one key and two words, nothing is taken
// for "nothing touched" but what says so, and Enter alone is neither.
func FuzzAnswer(f *testing.F) {
	for _, s := range []string{"", "a", "A", "all right", "y", "yes", "n", "nothing", "q", "u", "s reason", "r", "k",
		"a reason", "1, 2", "?", "\u00a0a"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, typed string) {
		typed = strings.TrimSpace(typed)
		for kind, choices := range map[capture.QuestionKind][]string{
			capture.AskLook:       {"right", "wrong", "skip", "stop", capture.Undo},
			capture.AskUnderstood: {"right", "wrong", "skip", "stop"},
			capture.AskTouched:    {"nothing", "touched", "stop"}, capture.AskClip: {"done", "skip", "stop"},
			capture.AskAgain:  {"redo", "next", "accept", "stop"},
			capture.AskWiggle: {"done", "skip", "stop"},
		} {
			a, why := answer(capture.Question{Kind: kind, Choices: choices}, typed)
			if (why == "") != (a.Choice != "") || why == "" && !slices.Contains(choices, a.Choice) {
				t.Fatalf("%s %q: %+v, %q", kind, typed, a, why)
			}
			lower := strings.ToLower(typed)
			switch {
			case a.Choice == "right" && lower != "a" && lower != "all right":
				t.Fatalf("%s: %q passes", kind, typed)
			case a.Choice == "nothing" && lower != "n" && lower != "nothing":
				t.Fatalf("%s: %q is nothing touched", kind, typed)
			case a.Choice == "accept" && strings.TrimSpace(a.Text) == "":
				t.Fatalf("%s: %q accepts without a reason", kind, typed)
			case stops(typed) && a.Choice != "stop":
				t.Fatalf("%s: %q doesn't stop", kind, typed)
			}
		}
	})
}

// What lies in other closures than those at hand is listed on a terminal once something else is
// asked for, with the numbers that it has.
func TestPlacesElsewhereAreListedOnDemand(t *testing.T) {
	q := capture.Question{Kind: capture.AskTouched, Choices: []string{"nothing", "touched", "stop"},
		Places: []capture.Place{{Name: "keel", Kind: "joint"}, {Name: "mast", Kind: "joint", Elsewhere: true}}}
	if got := placeList(q.Places); !slices.Equal(got, []string{"1 joint keel"}) ||
		!strings.Contains(keys(q), "else: something else") {
		t.Errorf("listed %q, keys %s", got, keys(q))
	}
	q.Places = hereAll(q.Places)
	if got := placeList(q.Places); !slices.Equal(got, []string{"1 joint keel", "2 joint mast"}) ||
		strings.Contains(keys(q), "else") {
		t.Errorf("then listed %q, keys %s", got, keys(q))
	}
}
