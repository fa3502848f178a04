package main

import (
	"bytes"
	"context"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
)

// What comes before a question, within 0.3 s of it, or as a key that is held
// down, is no answer, and that is said once. What stops counts whenever it came.
func TestHearsWhatWasTypedAfterTheQuestion(t *testing.T) {
	shown := time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)
	type line struct {
		at   time.Duration // after the question
		text string
	}
	for _, c := range []struct {
		name  string
		lines []line
		want  string // choice of the look
		said  int
	}{
		{"after it", []line{{300 * time.Millisecond, "a"}}, "right", 0},
		{"before it", []line{{-time.Minute, "a"}, {time.Second, "cabin: one dark"}}, "wrong", 1},
		{"at once", []line{{0, "a"}, {299 * time.Millisecond, "a"}, {time.Second, "s"}}, "skip", 1},
		{"three Enters while it was read", []line{{-3 * time.Second, ""}, {-2 * time.Second, ""}, {-time.Second, ""},
			{2 * time.Second, "a"}}, "right", 1},
		{"a key held down", []line{{200 * time.Millisecond, "a"}, {400 * time.Millisecond, "a"},
			{600 * time.Millisecond, "a"}, {900 * time.Millisecond, "s"}}, "skip", 1},
		{"stop before it", []line{{-time.Minute, "q"}}, "stop", 0},
		{"stop at once", []line{{100 * time.Millisecond, "a"}, {200 * time.Millisecond, "stop"}}, "stop", 1},
		{"undo before it", []line{{-time.Second, "u"}, {time.Second, "a"}}, "right", 1},
	} {
		var out bytes.Buffer
		keys := newKeyboard(time.Now)
		for _, l := range c.lines {
			keys.lines = append(keys.lines, typedLine{l.text, shown.Add(l.at)})
		}
		keys.wake()
		f := &face{keys: keys, now: func() time.Time { return shown }, settle: tooSoon,
			screen: screen{w: outletOf(&out), size: func() (int, int) { return 80, 24 }}}
		a, err := f.Ask(context.Background(), session.Question{Question: capture.Question{Kind: capture.AskLook,
			Text: "Look.", Choices: []string{"right", "wrong", "skip", "stop", capture.Undo}}})
		if err != nil || a.Choice != c.want {
			t.Errorf("%s: %+v, %v, want %s", c.name, a, err, c.want)
		}
		if n := strings.Count(out.String(), typedAhead); n != c.said {
			t.Errorf("%s: said %d times, want %d:\n%s", c.name, n, c.said, out.String())
		}
	}
}

// What was typed for later than one question is put back, and is too early there.
func TestLinesBehindAnAnswerAreTooEarlyForTheNext(t *testing.T) {
	now := time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)
	var out bytes.Buffer
	keys := newKeyboard(func() time.Time { return now })
	f := &face{keys: keys, now: keys.now, settle: tooSoon,
		screen: screen{w: outletOf(&out), size: func() (int, int) { return 80, 24 }}}
	q := capture.Question{Kind: capture.AskClip, Text: "Clip.", Choices: []string{"done", "skip", "stop"}}
	now = now.Add(time.Second)
	keys.lines = []typedLine{{"", now}, {"", now.Add(time.Second)}, {"", now.Add(2 * time.Second)}}
	keys.wake()
	now = now.Add(-time.Second)
	if a, err := f.Ask(context.Background(), session.Question{Question: q}); err != nil || a.Choice != "done" {
		t.Fatalf("%+v, %v", a, err)
	}
	now = now.Add(5 * time.Second)
	ctx, cancel := context.WithCancel(context.Background())
	keys.now = func() time.Time { cancel(); return now } // the next thing that is typed ends it
	go keys.enter("s later")
	if a, err := f.Ask(ctx, session.Question{Question: q}); err == nil {
		t.Errorf("%+v was taken for an answer", a)
	}
}
