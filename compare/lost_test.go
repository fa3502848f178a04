package compare

import (
	"slices"
	"strings"
	"testing"

	"sealworthy/capture/record"
	"sealworthy/compare/look"
)

// lighterWithout is the lighter whose plan lost a group.
func lighterWithout(group string) string {
	parts := strings.Split(lighter, "[[group]]")
	return strings.Join(slices.DeleteFunc(parts,
		func(s string) bool { return strings.Contains(s, "name = \""+group+"\"\n") }), "[[group]]")
}

// A group that is taken out of the plan doesn't take what was wrong with it along.
func TestLostGroups(t *testing.T) {
	y := newYard(t, lighter)
	y.passed()
	y.h.Reworks = append(y.h.Reworks, Rework{What: "fore", Groups: []string{"fore"}, Order: y.order()})
	y.measure("fore", Fitted, 0.66*y.expected("fore", Fitted))
	y.look("house", look.Right)
	y.nothing()
	without := newYard(t, lighterWithout("fore"))
	without.h, without.line = y.h, y.line
	y = without
	found, _ := y.verdicts()
	house := found["house"]
	if house.Verdict != NotSettled || !strings.Contains(strings.Join(house.Reasons, "\n"),
		`fore was measured, and the plan doesn't have it any more`) {
		t.Errorf("house, its low group forgotten: %s, %q", house.Verdict, house.Reasons)
	}
	y.h.Reworks = append(y.h.Reworks, Rework{What: "fore", Groups: []string{"fore"}, Order: y.order()})
	found, _ = y.verdicts()
	if house := found["house"]; house.Verdict != ReadyToClose {
		t.Errorf("house, once it was told: %s, %q", house.Verdict, house.Reasons)
	}
}

// A group elsewhere that is fed through a closure and was seen to be wrong holds it.
func TestSeenWrongElsewhere(t *testing.T) {
	y := newYard(t, lighter)
	y.passed()
	y.look("house", "fore: 1 of 3 dark")
	y.nothing()
	found, _ := y.verdicts()
	hull := found["hull"]
	if hull.Verdict != NotSettled ||
		!strings.Contains(strings.Join(hull.Reasons, "\n"), "fore (in house) runs through keel: seen: 1 of 3 dark") {
		t.Errorf("hull: %s, %q", hull.Verdict, hull.Reasons)
	}
}

// What is said of one group in two ways isn't all right, whichever comes last; and
// a name may have a colon in it.

// A closure of which the plan says nothing isn't ready by silence; one that holds
// others rests on theirs.
func TestAClosureOfNothing(t *testing.T) {
	y := newYard(t, strings.Replace(lighter, "[closure.bow]",
		"[closure.bow]\n[closure.funnel]\n[closure.ship]\n[closure.dinghy]\ninside = \"ship\"", 1)+
		"[[group]]\nname = \"oar\"\nclosure = \"dinghy\"\njoint = \"main\"\nlights = [ { part = \"lighter lamp\", "+
		"count = 2 } ]\n")
	y.passed()
	found, _ := y.verdicts()
	if c := found["funnel"]; c.Verdict != NotSettled ||
		!strings.Contains(c.Reasons[0],
			`all of it: see that it is in, no test tells of it; then sealworthy measure BUILD --tick "all of it" `+
				`--closure "funnel"`) {
		t.Errorf("funnel: %s, %q", c.Verdict, c.Reasons)
	}
	y.ticks("funnel", AllOfIt)
	if ticked, _ := y.verdicts(); ticked["funnel"].Verdict != ReadyToClose {
		t.Errorf("funnel, ticked: %s, %q", ticked["funnel"].Verdict, ticked["funnel"].Reasons)
	}
	if c := found["ship"]; c.Verdict != ReadyToClose || c.Reasons[0] != "all that closes inside it is ready" {
		t.Errorf("ship: %s, %q", c.Verdict, c.Reasons)
	}
}

// A folder that was copied for a sister ship has the readings of the first one;
// the maker says that it's the same model under a new name.
func TestReadingsUnderAnotherName(t *testing.T) {
	y := newYard(t, lighter)
	y.passed()
	y.h.Sittings = []record.SittingState{{Number: 1, Name: "Lighter"}}
	if found, _ := y.verdicts(); found["hull"].Verdict != ReadyToClose {
		t.Errorf("its own: %s, %q", found["hull"].Verdict, found["hull"].Reasons)
	}
	y.plan.Build = "Barge"
	if found, _ := y.verdicts(); found["hull"].Verdict != NotSettled ||
		!strings.Contains(found["hull"].Reasons[0], `what was measured is of "Lighter", and the plan is of "Barge"`) {
		t.Errorf("another's: %s, %q", found["hull"].Verdict, found["hull"].Reasons)
	}
	y.h.Sittings = append(y.h.Sittings, record.SittingState{Number: 2, Name: "Barge"})
	if found, _ := y.verdicts(); found["hull"].Verdict != ReadyToClose {
		t.Errorf("said to be the same: %s, %q", found["hull"].Verdict, found["hull"].Reasons)
	}
}

// A group that was read at the voltage that the plan had then says so, once the plan
// has a higher one.
func TestReadBelowServiceVoltage(t *testing.T) {
	y := newYard(t, strings.Replace(lighter, "volts = 12.0\nvolts_range = [11.9, 12.1]",
		"volts = 12.6\nvolts_range = [12.5, 12.7]", 1))
	y.passed()
	found, groups := y.verdicts()
	if f := groups["fore"]; f.Verdict != NotMeasured || len(f.Notes) != 1 ||
		f.Notes[0] != "measured at 12.00 V, its service voltage is 12.60 V" {
		t.Errorf("fore: %s, %q", f.Verdict, f.Notes)
	}
	if found["house"].Verdict != NotSettled {
		t.Errorf("house: %s", found["house"].Verdict)
	}
}
