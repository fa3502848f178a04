package page

import (
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
)

// Where the clips go is shown by each question for one, as the bench is wired, and by none that a
// picture doesn't fit.
func TestWhereTheClipsGo(t *testing.T) {
	feed := &capture.Step{Kind: capture.Power, Feed: "bow lamps"}
	whole := &capture.Step{Kind: capture.Whole, Feed: "main"}
	for _, c := range []struct {
		name  string
		kind  capture.QuestionKind
		step  *capture.Step
		bench *session.OnBench
		file  string
	}{
		{"by hands", capture.AskClip, feed, &session.OnBench{Meter: true}, "bench-series.svg"},
		{"felt for", capture.AskSense, feed, &session.OnBench{Meter: true}, "bench-series.svg"},
		{"no meter", capture.AskClip, feed, &session.OnBench{}, "bench-clips.svg"},
		{"whole", capture.AskClip, whole, &session.OnBench{Meter: true}, "bench-whole.svg"},
		{"whole, no meter", capture.AskClip, whole, &session.OnBench{}, ""},
		{"relays", capture.AskClip, feed, &session.OnBench{Meter: true, Relays: true}, ""},
		{"the bench's proof", capture.AskClip, nil, &session.OnBench{Meter: true}, ""},
		{"no bench yet", capture.AskClip, feed, nil, ""},
		{"a look", capture.AskLook, feed, &session.OnBench{Meter: true}, ""},
	} {
		got := clipsOf(session.Question{Question: capture.Question{Kind: c.kind, Step: c.step}}, c.bench)
		switch {
		case got == nil && c.file == "":
		case got == nil || got.File != c.file:
			t.Errorf("%s: %+v, want %q", c.name, got, c.file)
		case c.step == feed && (!strings.Contains(got.Says, `Of "bow lamps": `) ||
			strings.Contains(got.Says, "mA jack") != c.bench.Meter):
			t.Errorf("%s: %q", c.name, got.Says)
		}
	}
}
