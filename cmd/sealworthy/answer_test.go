package main

import (
	"io"
	"strings"
	"testing"

	"sealworthy/capture"
)

func TestAnswer(t *testing.T) {
	clip := capture.Question{Kind: capture.AskClip, Choices: []string{"done", "skip", "stop"}}
	wrongClip := capture.Question{Kind: capture.AskClip, Choices: []string{"done", "keep", "skip", "stop"}}
	look := capture.Question{Kind: capture.AskLook, Choices: []string{"right", "wrong", "skip", "stop"}}
	again := capture.Question{Kind: capture.AskAgain, Choices: []string{"next", "redo", "accept", "stop"}}
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
		{look, "", "right", "", ""},
		{look, "s", "skip", "", ""},
		{look, "cabin windows: two dark", "wrong", "cabin windows: two dark", ""},
		{look, "starboard is dark", "wrong", "starboard is dark", ""},
		{again, "", "next", "", ""},
		{again, "r", "redo", "", ""},
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
		if a.Choice != c.choice || a.Text != c.text || (c.asksAgain == "") != (why == "") || !strings.Contains(why, c.asksAgain) {
			t.Errorf("%s %q: %+v, asks again %q; want %q %q %q", c.q.Kind, c.typed, a, why, c.choice, c.text, c.asksAgain)
		}
	}
}

// What may be typed stands on one line of a terminal.
func TestKeysFit(t *testing.T) {
	for _, k := range []capture.QuestionKind{capture.AskClip, capture.AskPress, capture.AskLook, capture.AskWiggle, capture.AskAgain, capture.AskNumber, capture.AskSupply, capture.AskPlug, capture.AskHazard, capture.AskReason} {
		for _, choices := range [][]string{{"done"}, {"done", "keep"}} {
			if s := keys(capture.Question{Kind: k, Choices: choices}); columns(s)+2 >= width || !strings.Contains(s, "q: stop") {
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
