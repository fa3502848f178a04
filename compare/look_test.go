package compare

import "testing"

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
