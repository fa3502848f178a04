package compare

import (
	"math"
	"slices"
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/compare/blink"
	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/scene"
)

// extra turns the reading made last into one at another voltage.
func (y *yard) extra(group string, volts, amps float64) *capture.StepRecord {
	r := y.measure(group, Fitted, amps)
	r.Step.ID += "/at"
	r.Step.Volts = volts
	r.Step.Ramp = []capture.RampPoint{{Volts: volts, LimitA: 0.2, MaxA: 0.2}}
	return r
}

// A reading at another voltage counts until the group is touched: measuring it
// once more at service voltage must not rid anybody of what it showed.
func TestReadingsAtOtherVoltagesCountUntilTheTouch(t *testing.T) {
	y := newYard(t, mixedPlan)
	y.measure("cabin", Fitted, y.expected("cabin", Fitted))
	b, err := y.exp.At(scene.Scene{Volts: scene.Is(6.5)})
	if err != nil {
		t.Fatal(err)
	}
	g, _ := b.GroupNamed("cabin")
	y.extra("cabin", 6.5, g.Lit.MeanA)
	_, groups := y.verdicts()
	if len(groups["cabin"].Also) != 1 {
		t.Fatalf("the reading at 6.5 V isn't weighed: %+v", groups["cabin"])
	}
	y.measure("cabin", Fitted, y.expected("cabin", Fitted))
	_, groups = y.verdicts()
	if n := len(groups["cabin"].Also); n != 1 {
		t.Errorf("after one more at service voltage: %+v", groups["cabin"].Also)
	}
	y.rework("cabin")
	y.measure("cabin", Fitted, y.expected("cabin", Fitted))
	_, groups = y.verdicts()
	if n := len(groups["cabin"].Also); n != 0 {
		t.Errorf("a reading from before it was touched still counts: %+v", groups["cabin"].Also)
	}
}

// What another voltage showed to be wrong isn't measured away at service voltage.
func TestAnotherVoltageIsNotMeasuredAway(t *testing.T) {
	y := newYard(t, mixedPlan)
	y.measure("cabin", Fitted, y.expected("cabin", Fitted))
	b, err := y.exp.At(scene.Scene{Volts: scene.Is(6.5)})
	if err != nil {
		t.Fatal(err)
	}
	g, _ := b.GroupNamed("cabin")
	y.extra("cabin", 6.5, 0.3*g.Lit.MeanA)
	_, groups := y.verdicts()
	if f := groups["cabin"]; f.Verdict != Low {
		t.Fatalf("a third of its draw at 6.5 V: %s, %q", f.Verdict, f.Notes)
	}
	y.measure("cabin", Fitted, y.expected("cabin", Fitted))
	_, groups = y.verdicts()
	if f := groups["cabin"]; f.Verdict == InBand {
		t.Errorf("once more at 12 V: %s, %q", f.Verdict, f.Notes)
	}
}

// A group that was stopped at volts where another one draws as much may be that one: the clip
// was there, or their wires are swapped.
func TestATripNamesTheFeedThatDrawsAsMuch(t *testing.T) {
	for _, c := range []struct {
		amps float64
		like bool
	}{{1.05, true}, {20, false}} {
		y := newYard(t, cutter)
		b, err := y.exp.At(scene.Scene{})
		if err != nil {
			t.Fatal(err)
		}
		lamp, err := b.Curve("chart lamp", 3)
		if err != nil || lamp[0].LowA > lamp[0].NominalA {
			t.Fatal(err, lamp)
		}
		r := y.measure("windows", Fitted, c.amps*lamp[0].NominalA)
		r.Outcome, r.TripVolts, r.Reason = capture.Tripped, 3, "too much current"
		_, groups := y.verdicts()
		f := groups["windows"]
		said := false
		for _, x := range f.Causes {
			said = said || strings.Contains(x.Text, `the clip was on "chart lamp"`)
		}
		if f.Verdict != High || said != c.like {
			t.Errorf("%.2f mA at 3 V: %s, %+v", f.MeasuredA*1e3, f.Verdict, f.Causes)
		}
	}
}

// So it may be where nothing that's usual explains what it draws.
func TestWhatNothingExplainsNamesTheFeedThatDrawsAsMuch(t *testing.T) {
	for _, of := range []string{"galley", ""} {
		y := newYard(t, cutter)
		amps := 0.1
		if of != "" {
			amps = y.expected(of, Fitted)
		}
		y.measure("chart lamp", Fitted, amps)
		_, groups := y.verdicts()
		f := groups["chart lamp"]
		named := slices.ContainsFunc(f.Causes, func(c Cause) bool { return strings.Contains(c.Text, `"galley"`) })
		if f.Verdict != High || len(f.Causes) == 0 || f.Causes[0].Name != string(fault.Unknown) || named != (of != "") {
			t.Errorf("%.1f mA: %s, %+v", 1e3*amps, f.Verdict, f.Causes)
		}
		doubts, err := y.j.Next(y.h, "cabin", "")
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range doubts {
			if d.Group == "chart lamp" && len(d.Causes) != len(f.Causes) {
				t.Errorf("%.1f mA: next has %+v", 1e3*amps, d.Causes)
			}
		}
	}
}

// Too much current at another voltage is a finding, not a reading that failed.
func TestATripAtAnotherVoltageIsAFinding(t *testing.T) {
	y := newYard(t, cutter)
	y.healthy(Fitted)
	r := y.extra("windows", 6, 0.3)
	r.Outcome, r.TripVolts, r.Reason = capture.Tripped, 3, "too much current"
	_, groups := y.verdicts()
	if f := groups["windows"]; f.Verdict != High {
		t.Errorf("after a trip at 3 V: %s, %v", f.Verdict, f.Notes)
	}
	for _, s := range NewGuide(y.j, nil, nil, true).Judge(*r) {
		if s.Good || s.Verdict == "read" {
			t.Errorf("a trip is said as %+v", s)
		}
	}
}

// Parts that were looked at on the table may be pinched when they are fitted: that look is
// none of theirs. Together with what they drew then it tells of a long group that draws the
// same now, but neither without that nor of one that draws less.
func TestALookAtLoosePartsIsNoneOfFittedOnes(t *testing.T) {
	loose := func(read bool) *yard {
		y := newYard(t, cutter)
		if read {
			y.healthy(Loose)
		}
		y.look("hull", look.Right)
		y.h.Steps[len(y.h.Steps)-1].Stage = Loose
		return y
	}
	_, groups := loose(true).verdicts()
	if !groups["windows"].Looked {
		t.Error("a look at loose parts doesn't count for them")
	}
	for _, c := range []struct {
		name string
		read bool    // loose
		of   float64 // the expected draw of the galley, fitted
		pass bool
	}{
		{"not read loose", false, 1, false},
		{"the same as loose", true, 1, true},
		{"less than loose", true, 0.94, false},
	} {
		y := loose(c.read)
		y.healthy(Fitted)
		if c.of != 1 {
			y.measure("galley", Fitted, c.of*y.expected("galley", Fitted))
		}
		closures, groups := y.verdicts()
		for _, name := range []string{"windows", "galley"} {
			if f := groups[name]; f.Looked || name == "galley" && (f.Verdict == InBand) != c.pass {
				t.Errorf("%s: %s, fitted: %s, looked at %v", c.name, name, f.Verdict, f.Looked)
			}
		}
		if closures["hull"].Verdict == ReadyToClose {
			t.Errorf("%s: ready to close without a look", c.name)
		}
	}
}

// tender has a second jack of 5 V. Invented.
const tender = `
build = "Tender"
[jack.main]
volts = 12.0
[jack.aft]
volts = 5.0
[closure.hull]
[closure.cabin]
inside = "hull"
[[group]]
name = "masthead"
closure = "hull"
joint = "main"
lights = [ { part = "red 3 mm", ohms = 680 } ]
[[group]]
name = "port"
closure = "cabin"
joint = "aft"
lights = [ { part = "red 3 mm", ohms = 330 } ]
[[group]]
name = "starboard"
closure = "cabin"
joint = "aft"
lights = [ { part = "red 3 mm", ohms = 330 } ]
`

// Groups that are joined at a jack of fewer volts than the first are measured at
// their service voltage.
func TestJoinedAtTheSecondJack(t *testing.T) {
	y := newYard(t, tender)
	both := y.expected("port", Fitted) + y.expected("starboard", Fitted)
	for _, c := range []struct {
		drawsA float64
		want   Verdict
	}{{both, InBand}, {both / 2, Low}, {2 * both, High}} {
		y := newYard(t, tender)
		r := y.measure("port", Fitted, c.drawsA)
		r.Step.Way, r.Step.Feed, r.Step.Volts = capture.Joined, "cabin", 5
		r.Step.Groups, r.Step.On = []string{"port", "starboard"}, []string{"port", "starboard"}
		_, groups := y.verdicts()
		for _, name := range []string{"port", "starboard"} {
			if f, ok := groups[name]; !ok || f.Verdict != c.want || math.Abs(f.ExpectedA/both-1) > 0.02 {
				t.Errorf("%s at %.1f mA: %q, expected %.1f mA, not %s of %.1f mA", name, c.drawsA*1e3, f.Verdict,
					f.ExpectedA*1e3, c.want, both*1e3)
			}
		}
	}
}

// A draw of nothing isn't made up for by a look.
func TestALookDoesNotPassWhatDrawsNothing(t *testing.T) {
	y := newYard(t, `
build = "Skiff"
[jack.main]
volts = 12.0
[closure.hull]
[part."odd lamp"]
like = "smd warm white 12 V"
tolerance = 0.9
[[group]]
name = "lamp"
closure = "hull"
lights = [ { part = "odd lamp", count = 1 } ]
`)
	y.measure("lamp", Fitted, 0)
	y.look("hull", look.Right)
	_, groups := y.verdicts()
	if f := groups["lamp"]; f.Verdict == InBand {
		t.Errorf("it draws nothing: %s, %v", f.Verdict, f.Notes)
	} else {
		t.Log(f.Verdict, f.ExpectedA, f.ExpectedU)
	}
}

// Words that name no group, beside some that do, are of any of them.
func TestStrayWordsOfALookPassNothing(t *testing.T) {
	groups := []string{"windows", "galley"}
	if got := look.Of("windows: flickers; galey: dark", "galley", groups); got == look.Right {
		t.Errorf("galley was called right by a slip in its name")
	}
}

// What a board draws itself is none of its lights, in the probabilities neither.
func TestTheBoardsOwnDrawIsNoneOfItsLights(t *testing.T) {
	y := newYard(t, `
build = "Hoy"
[jack.main]
volts = 12.0
[closure.hull]
[board.driver]
part = "steady driver"
closure = "hull"
standing_mA = 20
tolerance = 0.02
[[group]]
name = "lamps"
closure = "hull"
board = "driver"
output = 1
lights = [ { part = "smd warm white 12 V", count = 2 } ]
`)
	b, err := y.exp.At(scene.Scene{})
	if err != nil {
		t.Fatal(err)
	}
	lv := b.Levels("driver")
	r := y.measure("lamps", Fitted, lv[len(lv)-1].Draw.MeanA)
	r.Step.Feed, r.Step.Board, r.Step.Pace, r.Step.ID = "driver", "driver", "steady", "hull/driver/steady"
	_, groups := y.verdicts()
	f := groups["lamps"]
	if f.Verdict != InBand || f.PHealthy < 0.5 {
		t.Errorf("as planned: %s, healthy %.4f", f.Verdict, f.PHealthy)
	}
}

// Two groups on one output of a joined whole make one step together: with one of
// them dark neither is in band.
func TestJoinedGroupsOfOneOutput(t *testing.T) {
	y := newYard(t, `
build = "Yawl"
[jack.main]
volts = 12.0
[closure.hull]
[board.blinker]
part = "single blinker"
closure = "hull"
[[group]]
name = "port"
closure = "hull"
board = "blinker"
output = 1
lights = [ { part = "red 3 mm", ohms = 1000, ohms_tolerance = 0.01 } ]
[[group]]
name = "starboard"
closure = "hull"
board = "blinker"
output = 1
lights = [ { part = "red 3 mm", ohms = 1000, ohms_tolerance = 0.01 } ]
`)
	b, err := y.exp.At(scene.Scene{})
	if err != nil {
		t.Fatal(err)
	}
	s := step{j: y.j, b: b, r: capture.StepRecord{Step: capture.Step{Way: capture.Joined,
		Groups: []string{"port", "starboard"}, Volts: 12}}, plain: true}
	both := []Finding{{Group: "port", Board: "blinker", Output: 1}, {Group: "starboard", Board: "blinker", Output: 1}}
	cs, at := s.clocks(both)
	if len(cs) != 1 || len(at[0]) != 1 || len(at[0][0]) != 2 {
		t.Fatalf("clocks: %+v %v", cs, at)
	}
	built := cs[0].Outputs[0].Amps
	for _, x := range []struct {
		stepA float64
		good  bool
	}{{built, true}, {0.52 * built, false}} {
		want := s.together(both, at[0][0])
		for i := range both {
			f := both[i]
			s.joinedBlinker(&f, want, blink.Beat{PeriodS: 1}, blink.Blinking{State: blink.Running, StepA: x.stepA,
				StepU: 1e-5})
			if (f.Verdict == InBand) != x.good {
				t.Errorf("%s by a step of %.2f mA of %.2f: %s, expected %.2f ±%.2f", f.Group, x.stepA*1e3, built*1e3,
					f.Verdict, f.ExpectedA*1e3, f.ExpectedU*1e3)
			}
		}
	}
}
