package compare

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
	"sealworthy/testdata/brackwater"
)

func lightship(t *testing.T) (*plan.Plan, []capture.Step) {
	t.Helper()
	p, problems := plan.Parse("plan.toml", brackwater.Plan)
	if len(problems) > 0 {
		t.Fatal(problems[0])
	}
	b, err := NewExpected(p).At(scene.Scene{})
	if err != nil {
		t.Fatal(err)
	}
	steps, err := Steps(p, b, StepOptions{Stage: Fitted, Sweep: true, JackFuseAmps: 2,
		MeterWindow: 100 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	return p, steps
}

func sweepLasts(s capture.Step) time.Duration {
	without := s
	without.Sweep = nil
	return Lasts(s) - Lasts(without)
}

// A steady group takes 14 voltages and 15 s at most, a board three above its
// lowest, over whole cycles; nothing goes above service voltage, each voltage
// has its own limit, and it falls with the voltage.
func TestSweepsOfFeeds(t *testing.T) {
	p, steps := lightship(t)
	swept := 0
	for _, s := range steps {
		if s.Kind != capture.Power || len(s.Sweep) == 0 {
			continue
		}
		swept++
		board, onBoard := p.Board(s.Board)
		if want := sweepPoints; onBoard {
			want = boardPoints
			if len(s.Sweep) != want {
				t.Errorf("%s: %d voltages, want %d", s.ID, len(s.Sweep), want)
			}
		} else if len(s.Sweep) != want || sweepLasts(s) > 15*time.Second {
			t.Errorf("%s: %d voltages in %v", s.ID, len(s.Sweep), sweepLasts(s))
		}
		for i, x := range s.Sweep {
			if x.Volts > s.Volts || x.LimitA <= 0 || x.MaxA <= 0 || x.MaxA > x.LimitA {
				t.Errorf("%s: point %+v of a step at %g V", s.ID, x, s.Volts)
			}
			if i > 0 && (x.Volts >= s.Sweep[i-1].Volts || x.LimitA > s.Sweep[i-1].LimitA) {
				t.Errorf("%s: %+v after %+v", s.ID, x, s.Sweep[i-1])
			}
			if onBoard && x.Volts < board.LowVolts {
				t.Errorf("%s: %g V, the board works from %g V", s.ID, x.Volts, board.LowVolts)
			}
			if onBoard && x.For.Seconds() < 3*board.Paces[0].PeriodS {
				t.Errorf("%s: %v at a period of %g s", s.ID, x.For, board.Paces[0].PeriodS)
			}
		}
	}
	if swept != 13 {
		t.Errorf("%d feeds of 13 are swept", swept)
	}
}

// Twelve groups with their sweeps, clips moved by hand: 15 minutes at most.
func TestTwelveGroupsInAQuarterOfAnHour(t *testing.T) {
	src := "build = \"Dozen\"\n[jack.main]\nvolts = 12.0\n[closure.hull]\n"
	for i := range 12 {
		src += fmt.Sprintf("[[group]]\nname = \"group %d\"\nclosure = \"hull\"\njoint = \"main\"\nlights = [ { part "+
			"= \"strip warm white 12 V\", segments = 4 } ]\n", i+1)
	}
	p, problems := plan.Parse("plan.toml", []byte(src))
	if len(problems) > 0 {
		t.Fatal(problems[0])
	}
	e := NewExpected(p)
	b, err := e.At(scene.Scene{})
	if err != nil {
		t.Fatal(err)
	}
	steps, err := Steps(p, b, StepOptions{Stage: Fitted, Sweep: true, MeterWindow: 250 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	j, err := NewJudge(e, rule.Default(), Leads{})
	if err != nil {
		t.Fatal(err)
	}
	if d := NewGuide(j, b, steps, true).Remaining(nil); d > 15*time.Minute {
		t.Errorf("%v", d)
	}
}

// Hands take their time: by hand each feed is clipped on once to be measured, and once
// more to be looked at, unless one clip is on all of them since their wires were moved.
func TestHandsTakeTheirTime(t *testing.T) {
	src := "build = \"Gig\"\n[jack.main]\nvolts = 12.0\n[closure.hull]\n"
	for _, name := range []string{"bow", "stern", "cabin"} {
		src += "[[group]]\nname = \"" + name + " lamp\"\nclosure = \"hull\"\njoint = \"main\"\nlights = [ { part " +
			"= \"strip warm white 12 V\", segments = 4 } ]\n"
	}
	p, problems := plan.Parse("plan.toml", []byte(src))
	if len(problems) > 0 {
		t.Fatal(problems[0])
	}
	e := NewExpected(p)
	j, err := NewJudge(e, rule.Default(), Leads{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		stage  string
		loose  bool
		byHand bool
		moves  int // of a hand or an eye
	}{
		{Fitted, false, true, 3 + 1 + 1}, {Fitted, false, false, 1 + 1}, {Loose, true, true, 3 + 3},
		{Loose, true, false, 1},
	} {
		b, err := e.At(scene.Scene{Loose: c.loose})
		if err != nil {
			t.Fatal(err)
		}
		steps, err := Steps(p, b, StepOptions{Stage: c.stage})
		if err != nil {
			t.Fatal(err)
		}
		var runs time.Duration
		for _, s := range steps {
			runs += Lasts(s)
		}
		got := NewGuide(j, b, steps, c.byHand).Remaining(nil) - runs.Round(time.Second)
		if want := time.Duration(c.moves) * clipTime; (got - want).Abs() > time.Second {
			t.Errorf("%s, by hand %v: hands take %v, want %v", c.stage, c.byHand, got, want)
		}
	}
}

// The whole model is met with little current, and swept down at every pace.
func TestStepsOfTheWholeModel(t *testing.T) {
	p, _ := lightship(t)
	b, err := NewExpected(p).At(scene.Scene{})
	if err != nil {
		t.Fatal(err)
	}
	steps, err := WholeSteps(p, b, WholeOptions{Stage: Returned, Warm: 10 * time.Minute, AllPaces: true})
	if err != nil {
		t.Fatal(err)
	}
	if len(steps) != 3 {
		t.Fatalf("%d steps, want one for each pace of the lamp driver", len(steps))
	}
	s := steps[0]
	if s.Kind != capture.Whole || s.Settle.Min != 10*time.Minute || len(s.On) != 13 || len(s.Sweep) != 21 {
		t.Errorf("%s: kind %s, %v warm, %d feeds, %d voltages", s.ID, s.Kind, s.Settle.Min, len(s.On), len(s.Sweep))
	}
	if first := s.Ramp[0]; first.Volts >= 1 || first.LimitA > 0.02 {
		t.Errorf("it begins with %g V and %g A", first.Volts, first.LimitA)
	}
	if !strings.Contains(s.Ask, "5.5 x 2.1 mm, centre plus") {
		t.Errorf("what is asked doesn't name the plug: %s", s.Ask)
	}
	for _, x := range s.Sweep {
		if x.Volts > 12 || x.LimitA <= 0 {
			t.Errorf("point %+v", x)
		}
	}
	for _, again := range []bool{false, true} {
		with, err := WholeSteps(p, b, WholeOptions{Stage: Returned, ResistorOhm: 50, ResistorAgain: again})
		if err != nil {
			t.Fatal(err)
		}
		r := with[len(with)-1]
		if len(with) != 2 || r.Kind != capture.Resistor || r.Volts != s.Volts || r.Ramp[0].MaxA < r.Ramp[0].Volts/50 ||
			r.Ramp[len(r.Ramp)-1] != s.Ramp[len(s.Ramp)-1] ||
			len(r.Groups) > 0 || !strings.Contains(r.Ask, "50 ohm") || !strings.Contains(r.Ask, "2.9 W") ||
			strings.Contains(r.Ask, "the same resistor") != again {
			t.Errorf("of a resistor: %+v", r)
		}
	}
	if steps[1].Press != 1 || steps[2].Press != 2 || steps[1].Settle.Min >= time.Minute {
		t.Errorf("presses %d, %d; %v", steps[1].Press, steps[2].Press, steps[1].Settle.Min)
	}
}

func TestDwellTakesWholeCycles(t *testing.T) {
	for _, ps := range [][]float64{{1.6, 2.4}, {1, 0.7, 1.7}, {3}, {20}} {
		d := DwellS(ps)
		if d < 4 {
			t.Errorf("%v: %g s", ps, d)
		}
		if len(ps) == 1 {
			if x := d / ps[0]; math.Abs(x-math.Round(x)) > 0.02 {
				t.Errorf("%v: %g s is no whole number of cycles", ps, d)
			}
		}
	}
	if d := DwellS(nil); d > 4 {
		t.Errorf("nothing blinks, yet %g s", d)
	}
}
