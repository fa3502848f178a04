package compare

import (
	"slices"
	"strings"
	"testing"

	"sealworthy/compare/words"
)

// Whatever words say that all is lit count as a look that found all right.
func TestAllLitInAnyWordsIsLookedAt(t *testing.T) {
	for _, said := range []string{"all right", "windows: all lit; galley: 0 of 6 dark",
		"windows: all right; galley: none dark"} {
		y := newYard(t, cutter)
		y.healthy(Fitted)
		y.look("hull", said)
		closures, groups := y.verdicts()
		if !groups["windows"].Looked || !groups["galley"].Looked {
			t.Errorf("%q: windows looked at %v, galley %v: %q", said, groups["windows"].Looked,
				groups["galley"].Looked, closures["hull"].Reasons)
		}
	}
	y := newYard(t, cutter)
	y.healthy(Fitted)
	y.look("hull", "windows: 1 of 4 dark")
	if closures, groups := y.verdicts(); groups["windows"].Looked || closures["hull"].Verdict != KeepOpen {
		t.Errorf("a dark light: %v, %s", groups["windows"].Looked, closures["hull"].Verdict)
	}
}

// Where a light was seen dark nothing is left to be settled by another reading, least by a look: it's to be mended.
func TestWhatWasSeenDarkIsNotToBeSettled(t *testing.T) {
	for _, x := range []struct {
		said string
		left bool // something is left to be settled
	}{{"galley: 1 of 6 dark", false}, {"galley: dim", true}, {"galley: one is blue", true}} {
		y := newYard(t, cutter)
		y.healthy(Fitted)
		if _, groups := y.verdicts(); groups["galley"].Verdict != CantTell ||
			!slices.Contains(groups["galley"].Settle, words.LookAtIt) {
			t.Fatalf("before the look: %+v", groups["galley"])
		}
		y.look("hull", x.said)
		_, groups := y.verdicts()
		for _, s := range groups["galley"].Settle {
			if !x.left || strings.HasPrefix(s, "look ") {
				t.Errorf("%s: to settle it: %s", x.said, s)
			}
		}
	}
}

// All right says nothing of one that was never there, or one too many: where that is what is left
// of the doubt, the lights are to be counted, and a count that is as planned settles it.
func TestACountSettlesWhatAllRightLeavesOpen(t *testing.T) {
	const src = `
build = "Cutter"
[jack.main]
volts = 12.0
[closure.hull]
[joint.keel]
from = "main"
closure = "hull"
wire = { mm = 0.3, length_mm = 100 }
[[group]]
name = "galley"
closure = "hull"
joint = "keel"
wire = { mm = 0.2, length_mm = 100 }
lights = [ { part = "smd warm white 12 V", count = 3 } ]
`
	for _, x := range []struct {
		said    string
		verdict Verdict
		ready   bool
		ask     bool
	}{
		{"all right", CantTell, false, true},
		{"galley: all right, 3 lit", InBand, true, false},
		{"galley: all right, 4 lit", CantTell, false, false},
		{"galley: 3 lit", CantTell, false, false}, // says nothing of colour and place
	} {
		y := newYard(t, src)
		y.j.PlanSource = []byte(src)
		y.measure("galley", Fitted, 1.4*y.expected("galley", Fitted))
		y.look("hull", x.said)
		y.nothing()
		closures, groups := y.verdicts()
		f := groups["galley"]
		asked := slices.Contains(f.Settle, words.CountLit("galley"))
		if ready := closures["hull"].Verdict == ReadyToClose; f.Verdict != x.verdict || ready != x.ready ||
			asked != x.ask {
			t.Errorf("%q: %s with %.3f, %s, asked to count %v: %q", x.said, f.Verdict, f.PHealthy,
				closures["hull"].Verdict, asked, f.Settle)
		}
	}
}
