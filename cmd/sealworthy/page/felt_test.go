package page

import (
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/instruments"
)

// While a clip is felt for, the largest words of a page are what is to be done just then: not to take a clip off that
// is off, to hold still, to keep hands off, to tap what isn't felt.
func TestWhatIsFeltIsSaidLarge(t *testing.T) {
	x := newSite(t, &fakeWork{name: "launch"})
	w := x.s.watch
	w.begun(Order{}, Overview{}, time.Now())
	step := capture.Step{Feed: "nav lights", Kind: capture.Power}
	ask := func(text string) {
		w.Tell(session.Event{What: session.Asked, Ask: &session.Question{Number: 1, Question: capture.Question{
			Kind: capture.AskSense, Text: text, Step: &step, Choices: []string{"done", "pick", "solder", "stop"},
			Places: []capture.Place{{Name: "nav lights"}, {Name: "cabin"}}}}})
	}
	do := func() string {
		_, s, _ := strings.Cut(x.s.write(w.state)["ask"], `<p class="do">`)
		s, _, _ = strings.Cut(s, "</p>")
		return s
	}
	shows := func(what capture.EventKind, text string) {
		w.Tell(session.Event{What: session.Shown, Test: &capture.Event{What: what, Text: text, Step: &step,
			OutputOn: what != capture.OutputOff, Sensing: true, SetVolts: 3}})
	}
	is := func(when, want string) {
		t.Helper()
		if got := do(); got != want {
			t.Errorf("%s: %q, want %q", when, got, want)
		}
	}
	amps, band := 0.019, session.Band{LowA: 0.018, HighA: 0.020}
	other := capture.Step{Feed: "cabin", Kind: capture.Power}
	for _, what := range []capture.EventKind{capture.StepBegins, capture.Sampling, capture.Sampling,
		capture.OutputOff} {
		e := capture.Event{What: what, Step: &other, OutputOn: what != capture.OutputOff,
			At: time.Unix(int64(len(w.state.Trace)), 0)}
		if what == capture.Sampling {
			e.Reading = &instruments.Reading{At: e.At, Unit: "A", Value: &amps, Status: instruments.OK}
		}
		w.Tell(session.Event{What: session.Shown, Test: &e, Band: &band})
	}
	if html := x.s.write(w.state); !strings.Contains(html["trace"], "<polyline") {
		t.Errorf("no trace of the step before: %q", html["trace"])
	}
	shows(capture.SensingOn, "")
	if html := x.s.write(w.state); strings.Contains(html["draw"], "expected") ||
		strings.Contains(html["trace"], "<polyline") {
		t.Errorf("what the step before draws is expected of a clip: %s %s", html["draw"], html["trace"])
	}
	const before, clip = "Take the clip off.", "Clip the plus lead to &#34;nav lights&#34;."
	ask(before + ` Next: clip the plus lead to "nav lights". Sensing: don't solder.`)
	is("asked", before)
	shows(capture.ClipOff, `Clip the plus lead to "nav lights". Sensing: don't solder.`)
	is("the clip is off", clip)
	shows(capture.SensingOn, "")
	shows(capture.NothingYet, "Nothing felt. Clip on? Then say so.")
	is("nothing is felt", "Nothing felt. Clip on? Tap its group.")
	if html := x.s.write(w.state); !strings.Contains(html["ask"], ">It&#39;s on nav lights</button>") ||
		!strings.Contains(html["ask"], ">cabin</button>") || !strings.Contains(html["log"], "Then say so") {
		t.Errorf("no group to tap, or nothing kept of it: %s\n%s", html["ask"], html["log"])
	}
	shows(capture.Contact, "")
	is("felt", "Felt something: hold still.")
	shows(capture.SensingOn, "")
	is("while it's found out what it is", "Felt something: hold still.")
	shows(capture.HandsOff, `I take it for "cabin". Hands off.`)
	shows(capture.SensingOn, "")
	is("found", "I take it for &#34;cabin&#34;. Hands off.")
	shows(capture.OutputOff, "")
	is("off before anything else was asked", clip)
	shows(capture.Contact, "")
	ask(before)
	is("asked anew", before)
}
