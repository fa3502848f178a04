package compare

import (
	"math"
	"strings"
	"testing"

	"sealworthy/compare/belief"
)

// TestWhatGroupsTellCantBeWeighed: groups that pass by themselves are left open where what they
// have in common can't be computed, and say why.
func TestWhatGroupsTellCantBeWeighed(t *testing.T) {
	y := newYard(t, strings.ReplaceAll(barge, "segments = 8", "segments = 2"))
	y.passed()
	if c, _ := y.verdicts(); c["hull"].Verdict != ReadyToClose {
		t.Fatal(c["hull"].Verdict, c["hull"].Reasons)
	}
	// Each group by itself is known by now: only what lies between them is computed anew.
	y.plan.Groups[1].Wire.Ohms.Nominal = math.NaN()
	c, gs := y.verdicts()
	if c["hull"].Verdict == ReadyToClose {
		t.Error(c["hull"].Verdict, c["hull"].Reasons)
	}
	for name, f := range gs {
		if f.Verdict != CantTell || !strings.Contains(f.Why, "can't all be weighed") || len(f.Settle) == 0 {
			t.Errorf("%s: %s %q %q", name, f.Verdict, f.Why, f.Settle)
		}
	}
}

// TestWhatOthersTellCantBeWeighed: of a group that passes by the plan alone the same.
func TestWhatOthersTellCantBeWeighed(t *testing.T) {
	y := newYard(t, strings.ReplaceAll(barge, "segments = 8", "segments = 2"))
	y.passed()
	_, gs := y.verdicts()
	f := gs["mid"]
	e := *f.evidence
	e.scene.LeadsOhm, e.others = -1, nil
	f.evidence = &e
	got := y.j.sharper(f, &belief.Others{})
	if got.Verdict != CantTell || got.Why == "" || got.evidence != nil || !got.unweighed {
		t.Errorf("%s %q", got.Verdict, got.Why)
	}
	// What was read at the stage before is another matter: the finding stands, with a note.
	loose := gs["mid"]
	e2 := *loose.evidence
	e2.scene.LeadsOhm = -1
	loose.evidence = &e2
	now := gs["mid"]
	y.j.asBuilt(&now, &loose, y.h)
	if now.Verdict != InBand || !strings.Contains(strings.Join(now.Notes, "; "), "isn't weighed with it") {
		t.Errorf("%s %q", now.Verdict, now.Notes)
	}
}
