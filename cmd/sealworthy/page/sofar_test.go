package page

import (
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
)

// While a curve is measured its group's verdict stands on the page, with what it rests on; it's no row of what
// was found, and the verdict of the whole step takes its place and says where it's another one.
func TestTheVerdictSoFar(t *testing.T) {
	x := newSite(t, &fakeWork{name: "launch"})
	w := x.s.watch
	w.begun(Order{}, Overview{}, time.Now())
	step := capture.Step{Feed: "cabin", Kind: capture.Power, Sweep: make([]capture.SweepPoint, 14)}
	tell := func(e capture.Event) map[string]string {
		e.Step = &step
		w.Tell(session.Event{What: session.Shown, Test: &e})
		return x.s.write(w.state)
	}
	said := func(verdict, before string) []capture.Said {
		return []capture.Said{{Group: "cabin", Verdict: verdict, Good: verdict == "in band", Measured: "20.0 mA",
			Expected: "18 to 22 mA", Before: before}}
	}
	tell(capture.Event{What: capture.StepBegins})
	for _, e := range []capture.Event{{What: capture.SoFar, OutputOn: true, Said: said("in band", "")},
		{What: capture.RampStep, OutputOn: true, Sweeping: true}} {
		html := tell(e)
		for _, want := range []string{"<h2>So far</h2>", "cabin: <strong>in band</strong>", "20.0 mA",
			"So far. It counts once its curve"} {
			if !strings.Contains(html["last"], want) {
				t.Errorf("%s: no %q in %s", e.What, want, html["last"])
			}
		}
		if !strings.Contains(html["doing"], "Measuring its curve for returns") {
			t.Errorf("%s: %s", e.What, html["doing"])
		}
		if strings.Contains(html["rows"], "in band") || len(w.state.Rows) > 0 {
			t.Errorf("%s: it counts already: %s", e.What, html["rows"])
		}
	}
	if html := tell(capture.Event{What: capture.OutputOff}); strings.Contains(html["last"], "So far") {
		t.Errorf("the step is over: %s", html["last"])
	}
	html := tell(capture.Event{What: capture.StepEnds, Said: said("too low", "in band")})
	if strings.Contains(html["last"], "<h2>So far") ||
		!strings.Contains(html["last"], "cabin: <strong>too low</strong>") ||
		!strings.Contains(html["last"], "So far it was said to be in band: what was read since changed that.") ||
		!strings.Contains(html["rows"], "too low") {
		t.Errorf("in the end: %s\n%s", html["last"], html["rows"])
	}
	if html := tell(capture.Event{What: capture.StepEnds, Said: said("in band", "")}); strings.Contains(html["last"],
		"changed") {
		t.Errorf("nothing changed: %s", html["last"])
	}
}
