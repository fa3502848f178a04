package main

import (
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
)

// A terminal writes the verdict while the curve is measured, with what it rests on, and the verdict of
// the whole step after it; where that is another one it says so.
func TestTheTerminalSaysTheVerdictSoFar(t *testing.T) {
	said := func(verdict, before string) []capture.Said {
		return []capture.Said{{Group: "cabin windows", Verdict: verdict, Good: verdict == "in band",
			Measured: "20.0 mA",
			Expected: "18 to 22 mA", Before: before}}
	}
	for _, c := range []struct{ verdict, before string }{{"in band", ""}, {"too low", "in band"}} {
		f, x, _ := atTerminal(t, 24)
		e := powered(capture.SoFar, capture.Power, 0.020)
		e.Step.Sweep = make([]capture.SweepPoint, 14)
		e.Reading, e.Said = nil, said("in band", "")
		f.show(e)
		for _, w := range []string{"cabin windows", "20.0 mA  + in band",
			"So far. It counts once its curve for returns is measured, too.",
			"measuring its curve for returns", "OUTPUT ON"} {
			if !strings.Contains(x.String(), w) {
				t.Errorf("%q isn't on the screen:\n%s", w, x)
			}
		}
		e.What, e.OutputOn, e.Said = capture.StepEnds, false, said(c.verdict, c.before)
		f.show(e)
		f.show(capture.Event{What: capture.Ended})
		s := x.String()
		changed := strings.Contains(s, "So far it was said to be in band: what was read since changed that.")
		if strings.Count(s, c.verdict) < 1 || strings.Contains(s, "OUTPUT ON") || changed != (c.before != "") {
			t.Errorf("in the end %s, before %q:\n%s", c.verdict, c.before, s)
		}
	}
}

// A group that is kept as a baseline has its verdict shown as soon as one that isn't, long before its curve
// is read, and it's the verdict of the whole step, too.
func TestPaceOfTheVerdictSoFar(t *testing.T) {
	t.Parallel()
	for _, x := range paceOf(t, true, 100*time.Millisecond, paced...) {
		t.Log(x)
		if x.open != (x.told == 0) || x.told > 4*time.Second {
			t.Errorf("%s: told after %v, want 4 s at most; undecided: %v", x.feed, x.told, x.open)
		}
		if x.changed != "" {
			t.Errorf("%s: the whole step is %s", x.feed, x.changed)
		}
	}
}
