package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
	"sealworthy/instruments"
	"sealworthy/testdata/brackwater"
)

const feltLeast = 1e-5 // ten counts of a range of 20 mA with 20,000 counts

// feelingOf makes the guide of a closure, boards first.
func feelingOf(t *testing.T, src []byte, closure string) (*Guide, []capture.Step) {
	t.Helper()
	p, problems := plan.Parse("plan.toml", src)
	if p == nil {
		t.Fatal(problems)
	}
	e := NewExpected(p)
	b, err := e.At(scene.Scene{LeadsOhm: 0.2})
	if err != nil {
		t.Fatal(err)
	}
	steps, err := Steps(p, b, StepOptions{Stage: Fitted, Closure: closure})
	if err != nil {
		t.Fatal(err)
	}
	j, err := NewJudge(e, rule.Default(), Leads{Ohm: 0.2})
	if err != nil {
		t.Fatal(err)
	}
	steps = UnfeltFirst(b, steps)
	return NewGuide(j, b, steps, true), steps
}

func made(lights string) []byte {
	return fmt.Appendf(nil, `build = "Gig"
[jack.main]
volts = 12.0
[closure.hull]
[[group]]
name = "bow"
closure = "hull"
lights = [ %s ]
`, lights)
}

// What sensing may never go above: 10 mA with the supply's own error, less where a part
// bears less; 3 V, but where the supply states a capacitance whose charge harms nothing,
// and then no more than the weakest part bears turned round.
func TestSensingStaysBelowWhatPartsBear(t *testing.T) {
	const (
		single = `{ part = "red 3 mm", ohms = 560 }`
		weak   = `{ part = "red 3 mm", max_mA = 8, ohms = 2200 }`
		frail  = `{ part = "red 3 mm", max_mA = 4, ohms = 4700 }`
		strip  = `{ part = "strip warm white 12 V", segments = 6 }`
	)
	for _, c := range []struct {
		name, lights string
		outputF      float64
		mostV, mostA float64 // 0: can't be sensed
		why          string
	}{
		{"an LED, nothing stated", single, 0, 3, 0.010, ""},
		{"an LED, 470 uF", single, 470e-6, 3, 0.010, ""},
		{"an LED, 1 uF", single, 1e-6, 4.5, 0.010, ""},
		{"a part that bears 8 mA", weak, 1e-6, 4.5, 0.008, ""},
		{"a part that bears 4 mA", frail, 0, 0, 0,
			"a part that a clip may be put on bears less than a supply's limit is off by"},
		{"a strip, nothing stated", strip, 0, 0, 0, "nothing that is left draws enough to be felt at 3.0 V"},
		{"a strip, 470 uF", strip, 470e-6, 0, 0, "nothing that is left draws enough to be felt at 3.0 V"},
		{"a strip, 0.5 uF", strip, 0.5e-6, 12, 0.010, ""},
		{"a strip beside an LED, 0.5 uF", strip + ", " + single, 0.5e-6, 4.5, 0.010, ""},
		{"nobody knows",
			`{ part = "red 3 mm", ohms = 560 }, { behaves = "flicker", low_mA = 5, mean_mA = 8, high_mA = 10 }`, 0, 0,
			0, "electronics"},
	} {
		t.Run(c.name, func(t *testing.T) {
			g, _ := feelingOf(t, made(c.lights), "hull")
			f := g.Feeling(nil, capture.FeltBy{LeastA: feltLeast, OutputF: c.outputF})
			if !strings.Contains(f.Why, c.why) || (c.why == "") != (f.Why == "") {
				t.Fatalf("why not: %q, want %q", f.Why, c.why)
			}
			if c.mostV == 0 {
				if len(f.Points) > 0 {
					t.Errorf("sensed at %v", f.Points)
				}
				return
			}
			for i, p := range f.Points {
				if p.Volts > c.mostV || p.LimitA+limitOffA > c.mostA+1e-9 || p.LimitA <= 0 ||
					i > 0 && p.Volts <= f.Points[i-1].Volts {
					t.Errorf("%v V, limit %v A, want at most %v V and %v A", p.Volts, p.LimitA, c.mostV, c.mostA)
				}
			}
			if n := len(f.Points); n < 2 || n > senseSteps+2 || f.Points[0].Volts != senseLowV ||
				f.Points[n-1].Volts < c.mostV-0.01 {
				t.Errorf("points %v", f.Points)
			}
		})
	}
}

// What a supply's profile states of its limit counts in the place of what is taken for it,
// and what flows with that error is never more than what a part bears.
func TestSensingTakesTheStatedErrorOfTheLimit(t *testing.T) {
	const frail = `{ part = "red 3 mm", max_mA = 4, ohms = 4700 }`
	for _, c := range []struct {
		name         string
		off          instruments.Accuracy
		lights       string
		limit, bears float64 // limit 0: can't be sensed
	}{
		{"not stated", instruments.Accuracy{}, `{ part = "red 3 mm", ohms = 560 }`, 0.007, 0.010},
		{"0.2 % and 1 mA", instruments.Accuracy{OfReading: 0.002, Floor: 0.001}, `{ part = "red 3 mm", ohms = 560 }`,
			0.009 / 1.002, 0.010},
		{"a fine one, and a part that bears 4 mA", instruments.Accuracy{Floor: 0.0005}, frail, 0.0035, 0.004},
		{"10 % alone", instruments.Accuracy{OfReading: 0.1}, frail, 0.004 / 1.1, 0.004},
		{"a coarse one", instruments.Accuracy{Floor: 0.0051}, `{ part = "red 3 mm", ohms = 560 }`, 0, 0.010},
	} {
		t.Run(c.name, func(t *testing.T) {
			g, _ := feelingOf(t, made(c.lights), "hull")
			f := g.Feeling(nil, capture.FeltBy{LeastA: feltLeast, LimitOff: c.off})
			if c.limit == 0 {
				if len(f.Points) > 0 || !strings.Contains(f.Why, "off by") {
					t.Errorf("%v, %q", f.Points, f.Why)
				}
				return
			}
			for _, p := range f.Points {
				if math.Abs(p.LimitA-c.limit) > 1e-9 || p.LimitA+c.off.HalfWidth(p.LimitA) > c.bears+1e-9 {
					t.Errorf("limit %v A, want %v", p.LimitA, c.limit)
				}
			}
			if len(f.Points) == 0 {
				t.Errorf("not sensed: %q", f.Why)
			}
		})
	}
}

// Of Brackwater: boards come first and aren't felt for, then the lamps are, and what
// draws alike is told as both.
func TestFeelingOnBrackwater(t *testing.T) {
	g, steps := feelingOf(t, brackwater.Plan, "deckhouse")
	if steps[0].Board == "" {
		t.Errorf("the first step is %s, want a board", steps[0].ID)
	}
	if f := g.Feeling(nil, capture.FeltBy{LeastA: feltLeast}); !strings.Contains(f.Why, "\"beacon\" is a board") {
		t.Errorf("with a board left: %q", f.Why)
	}
	done := []capture.StepRecord{{Step: steps[0], Outcome: capture.Measured}}
	f := g.Feeling(done, capture.FeltBy{LeastA: feltLeast})
	if f.Why != "" || !slices.Equal(f.Felt, []string{"chart table", "galley lamps"}) || len(f.Left) != 3 {
		t.Fatalf("%q, felt %v, %d left", f.Why, f.Felt, len(f.Left))
	}
	top := f.Points[len(f.Points)-1].Volts
	names := func(felt ...capture.Felt) (out []string) {
		for _, s := range g.TakenFor(done, felt).Left {
			out = append(out, s.Feed)
		}
		return out
	}
	nothing := capture.Felt{Volts: senseLowV, HalfWidth: 1e-5}
	for _, c := range []struct {
		amps float64
		want []string
	}{
		{0.0014, []string{"chart table", "galley lamps"}}, // both draw so there
		{0.0028, []string{"galley lamps"}},
		{0.0060, nil},
	} {
		if got := names(nothing, capture.Felt{Volts: top, Amps: c.amps, HalfWidth: 1e-5}); !slices.Equal(got, c.want) {
			t.Errorf("%g A: %v, want %v", c.amps, got, c.want)
		}
	}
	// Where no LED conducts nothing fits.
	if got := names(capture.Felt{Volts: senseLowV, Amps: 0.002, HalfWidth: 1e-5}); got != nil {
		t.Errorf("a draw at %v V fits %v", senseLowV, got)
	}
	// What is measured is no other one.
	done = append(done, capture.StepRecord{Step: steps[slices.IndexFunc(steps, func(s capture.Step) bool {
		return s.Feed == "galley lamps"
	})], Outcome: capture.Measured})
	taken := g.TakenFor(done, []capture.Felt{nothing, {Volts: top, Amps: 0.0028, HalfWidth: 1e-5}})
	if len(taken.Left) != 0 || !slices.Equal(taken.Done, []string{"galley lamps"}) {
		t.Errorf("%+v", taken)
	}
}

// What a clip may be put on by mistake counts, not what is left to be measured: a feed
// that is skipped, left out of the list or measured in an earlier sitting may be turned
// round as well as any other.
func TestSensingMindsAllThatAClipMayBePutOn(t *testing.T) {
	const src = `build = "Gig"
[jack.main]
volts = 12.0
[closure.hull]
[closure.cabin]
[[group]]
name = "rail"
closure = "hull"
lights = [ { part = "strip warm white 12 V", segments = 6 } ]
[[group]]
name = "bow"
closure = "hull"
lights = [ { part = "red 3 mm", max_mA = 8, ohms = 2200 } ]
[board.beacon]
part = "single blinker"
closure = "hull"
[[group]]
name = "beacon light"
closure = "hull"
board = "beacon"
output = 1
lights = [ { part = "red 3 mm", ohms = 680 } ]
[board.lantern]
part = "single blinker"
closure = "cabin"
[[group]]
name = "lantern light"
closure = "cabin"
board = "lantern"
output = 1
lights = [ { part = "red 3 mm", ohms = 680 } ]
`
	became := func(feed string, o capture.Outcome, at capture.Order) capture.StepRecord {
		return capture.StepRecord{Step: capture.Step{Kind: capture.Power, Feed: feed}, Outcome: o, BeganAt: at}
	}
	earlier := capture.OrderAt(1, 7)
	beacon := became("beacon", capture.Measured, 0)
	for _, c := range []struct {
		name         string
		done         []capture.StepRecord
		mostV, mostA float64
		why          string
	}{
		{"all the rest measured", []capture.StepRecord{beacon, became("bow", capture.Measured, 0)}, 12, 0.010, ""},
		{"left out of the list", []capture.StepRecord{beacon}, 4.5, 0.008, ""},
		{"skipped", []capture.StepRecord{beacon, became("bow", capture.Skipped, 0)}, 4.5, 0.008, ""},
		{"tripped", []capture.StepRecord{beacon, became("bow", capture.Tripped, 0)}, 4.5, 0.008, ""},
		{"measured in an earlier sitting", []capture.StepRecord{beacon, became("bow", capture.Measured, earlier)}, 4.5,
			0.008, ""},
		{"a board that is left out", nil, 0, 0, "\"beacon\" is a board"},
		{"a board that is skipped", []capture.StepRecord{became("beacon", capture.Skipped, 0)}, 0, 0,
			"\"beacon\" is a board"},
		{"a board measured in an earlier sitting", []capture.StepRecord{became("beacon", capture.Measured, earlier)},
			0, 0, "\"beacon\" is a board"},
	} {
		t.Run(c.name, func(t *testing.T) {
			g, steps := feelingOf(t, []byte(src), "hull")
			g.steps = slices.DeleteFunc(steps, func(s capture.Step) bool { return s.Feed != "rail" })
			// A supply with so little capacitance may go as high as the parts bear.
			f := g.Feeling(c.done, capture.FeltBy{LeastA: feltLeast, OutputF: 0.1e-6})
			limit, volts, why := g.bearable(g.unmeasured(c.done), capture.FeltBy{OutputF: 0.1e-6})
			if !strings.Contains(why, c.why) || (c.why == "") != (why == "") {
				t.Fatalf("why not: %q, want %q", why, c.why)
			}
			if c.why == "" && (limit+limitOffA > c.mostA+1e-9 || limit+limitOffA < c.mostA-1e-9 || volts > c.mostV ||
				volts < c.mostV-0.01) {
				t.Errorf("%v A and %v V, want %v A and %v V", limit, volts, c.mostA, c.mostV)
			}
			if (len(f.Points) > 0) != (c.mostV == 12) { // below it a strip isn't felt
				t.Errorf("%q, sensed at %v", f.Why, f.Points)
			}
			for _, p := range f.Points {
				if p.Volts > c.mostV || p.LimitA+limitOffA > c.mostA+1e-9 {
					t.Errorf("sensed at %v V and %v A", p.Volts, p.LimitA)
				}
			}
		})
	}
}

// What is as found comes first, as boards do: once it was measured in this sitting, the
// others are felt for, and it isn't in their way.
func TestAsFoundComesFirst(t *testing.T) {
	src := append(made(`{ part = "red 3 mm", ohms = 560 }`),
		"[[group]]\nname = \"bought lamp\"\nclosure = \"hull\"\nlights = \"as found\"\n"...)
	g, steps := feelingOf(t, src, "hull")
	if steps[0].Feed != "bought lamp" {
		t.Fatalf("first comes %s", steps[0].Feed)
	}
	if f := g.Feeling(nil, capture.FeltBy{LeastA: feltLeast}); !strings.Contains(f.Why, `"bought lamp"`) {
		t.Errorf("nothing in the way: %q", f.Why)
	}
	var done []capture.StepRecord
	for _, s := range steps {
		if s.Feed == "bought lamp" {
			done = append(done, capture.StepRecord{Step: s, Outcome: capture.Measured})
		}
	}
	if f := g.Feeling(done, capture.FeltBy{LeastA: feltLeast}); f.Why != "" || !slices.Equal(f.Felt, []string{"bow"}) {
		t.Errorf("%q, felt %v", f.Why, f.Felt)
	}
}

// A board that closes under another part than its lights is measured with them: a clip may be put on it, and nobody
// knows what it bears.
func TestABoardOfAnotherPartIsMindedAsWell(t *testing.T) {
	src := append(made(`{ part = "red 3 mm", ohms = 560 }`), `[closure.cabin]
inside = "hull"
[board.morse]
part = "single blinker"
closure = "cabin"
[[group]]
name = "signal light"
closure = "hull"
board = "morse"
output = 1
lights = [ { part = "red 3 mm", ohms = 680 } ]
`...)
	g, steps := feelingOf(t, src, "hull")
	if f := g.Feeling(nil, capture.FeltBy{LeastA: feltLeast}); len(f.Points) != 0 ||
		!strings.Contains(f.Why, `"morse" is a board`) {
		t.Errorf("%q, felt for at %v", f.Why, f.Points)
	}
	done := []capture.StepRecord{{Step: steps[0], Outcome: capture.Measured}}
	if f := g.Feeling(done, capture.FeltBy{LeastA: feltLeast}); f.Why != "" || !slices.Equal(f.Felt, []string{"bow"}) {
		t.Errorf("once it's measured: %q, felt %v", f.Why, f.Felt)
	}
}
