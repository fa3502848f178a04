package page

import (
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
)

// A soak is called one, and says of what, for how long in all, how much of that is left and what it waits for; a
// signature's long warm-up says that it is one.
func TestSoakSaysWhatItWaitsFor(t *testing.T) {
	x := newSite(t, &fakeWork{name: "Skiff"})
	whole := capture.Step{Feed: "main", Kind: capture.Whole, Volts: 12, For: 4 * time.Hour}
	warm := capture.Step{Feed: "main", Kind: capture.Whole, Volts: 12, For: 30 * time.Second,
		Settle: capture.Settle{Min: 10 * time.Minute}}
	for _, c := range []struct {
		verb       Verb
		step       capture.Step
		what       capture.EventKind
		head, does string
	}{
		{Soak, whole, capture.Sampling,
			"<h1>Soak</h1><p class=\"count\">of Skiff, the whole model, for 4 h; 3 h 48 min left",
			"It stays on for 4 h and is watched: each drop is noted. 3 h 48 min left"},
		{Soak, whole, capture.Settling, "<h1>Soak</h1>",
			"Waiting until the draw is steady: hands off. 3 h 48 min left"},
		{Keep, warm, capture.Settling, "<h1>the whole model</h1><p class=\"count\">step 1 of 1",
			"Warming up for 10 min, then it&#39;s read: hands off"},
		{Keep, warm, capture.Sampling, "<h1>the whole model</h1>", "Reading: hands off"},
	} {
		w := x.s.watch
		w.begun(Order{Verb: c.verb}, Overview{Build: Build{Name: "Skiff"}}, time.Now())
		w.Tell(session.Event{What: session.Opened, Bench: &session.OnBench{}})
		w.Tell(session.Event{What: session.Shown, Test: &capture.Event{What: c.what, Step: &c.step, OutputOn: true,
			SetVolts: 12, Remaining: 3*time.Hour + 48*time.Minute}})
		html := x.s.write(w.state)
		if !strings.Contains(html["group"], c.head) ||
			!strings.Contains(html["doing"], `<p class="do">`+c.does+`</p>`) {
			t.Errorf("%s, %s: %s\n%s", c.verb, c.what, html["group"], html["doing"])
		}
	}
	x.s.watch.begun(Order{Verb: Soak}, Overview{Build: Build{Name: "Skiff"}}, time.Now())
	x.s.watch.Tell(session.Event{What: session.Over})
	if html := x.s.write(x.s.watch.state); !strings.Contains(html["group"], "The soak is over.") {
		t.Error(html["group"])
	}
}
