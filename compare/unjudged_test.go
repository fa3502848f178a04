package compare

import (
	"slices"
	"strings"
	"testing"

	"sealworthy/capture"
)

// A step that can't be judged, for no bench has such leads, leaves its own group open, and
// that alone: the others are judged, all is on the record, and a look doesn't pass it. What
// is measured again counts.
func TestAStepThatCantBeJudged(t *testing.T) {
	y := newYard(t, cutter)
	y.measure("windows", Fitted, y.expected("windows", Fitted)).Step.Leads = &capture.Leads{Ohm: -1}
	before := y.h
	y.measure("chart lamp", Fitted, y.expected("chart lamp", Fitted))
	g := NewGuide(y.j, nil, nil, true).After(before)
	of := func(verdicts []capture.Said, group string) string {
		i := slices.IndexFunc(verdicts, func(s capture.Said) bool { return s.Group == group })
		if i < 0 {
			return "nothing"
		}
		return verdicts[i].Verdict + ": " + strings.Join(verdicts[i].Causes, " ")
	}
	if said := of(g.Judge(y.h.Steps[1]), "chart lamp"); !strings.HasPrefix(said, string(InBand)) {
		t.Errorf("behind a step that can't be judged: %s", said)
	}
	if n := len(g.heard.h.Steps); n != 2 {
		t.Errorf("%d steps were heard, want 2", n)
	}
	bad := *y.measure("galley", Fitted, y.expected("galley", Fitted))
	bad.Step.Leads = &capture.Leads{Ohm: -1}
	y.h.Steps[2] = bad
	if said := of(g.Judge(bad), "galley"); !strings.HasPrefix(said, string(CantTell)) ||
		!strings.Contains(said, "leads_ohm") {
		t.Errorf("of what can't be judged: %s", said)
	}
	if n := len(g.heard.h.Steps); n != 3 {
		t.Errorf("%d steps were heard, want 3", n)
	}
	y.look("hull", "all right")
	y.look("cabin", "all right")
	closures, fs := y.verdicts()
	if fs["windows"].Verdict != CantTell || fs["galley"].Verdict != CantTell || fs["chart lamp"].Verdict != InBand ||
		closures["hull"].Verdict == ReadyToClose {
		t.Errorf("windows %s, galley %s, chart lamp %s, hull %s", fs["windows"].Verdict, fs["galley"].Verdict,
			fs["chart lamp"].Verdict, closures["hull"].Verdict)
	}
	again := *y.measure("galley", Fitted, y.expected("galley", Fitted))
	if said := of(g.Judge(again), "galley"); strings.Contains(said, "leads_ohm") {
		t.Errorf("measured again: %s", said)
	}
}
