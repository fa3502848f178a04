package capture

import (
	"context"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
)

func boardStep(id, pace string, pressFromOn int) Step {
	s := ledStep(id, "beacon")
	s.Board, s.Pace, s.Press, s.PressFromOn = "beacon", pace, min(1, pressFromOn), pressFromOn
	s.Ramp = []RampPoint{{2.5, 0.010, 0.001, 0.008}, {12, 0.05, 0.02, 0.04}}
	return s
}

func TestAddedReadsBaseAndSumInOneSitting(t *testing.T) {
	load := func(v float64, closed []int, _ time.Duration) float64 {
		a := 0.0
		if slices.Contains(closed, 1) {
			a += 0.020
		}
		if slices.Contains(closed, 2) {
			a += 0.005
		}
		if v < 12 {
			return 0.001
		}
		return a
	}
	b := newBench(t, load)
	s := ledStep("1", "mast")
	s.Way, s.On = Added, []string{"nav lights", "mast"}
	rec, r := runOne(t, b, b.withRelays(map[string]int{"nav lights": 1, "mast": 2}), s, Unattended{})
	if rec.Outcome != Measured {
		t.Fatalf("%s: %s", rec.Outcome, rec.Reason)
	}
	if n := count(b.lines(), "on"); n != 1 {
		t.Errorf("switched on %d times, want the output to stay on", n)
	}
	check := func(what string, rs []instruments.Reading, want float64) {
		n := 0
		for _, x := range rs {
			if v, _ := x.Float(); x.Instrument == "meter" {
				n++
				if v < want-1e-9 || v > want+1e-9 {
					t.Errorf("%s: %v A, want %v", what, v, want)
				}
			}
		}
		if n < 10 {
			t.Errorf("%s: %d readings", what, n)
		}
	}
	check("base", rec.Base, 0.020)
	check("sum", rec.Trace("meter", instruments.Current), 0.025)
	base := 0
	for _, ref := range r.refs {
		if ref.Base {
			base++
		}
	}
	if base != len(rec.Base) {
		t.Errorf("%d base readings in the record, %d in the step", base, len(rec.Base))
	}
}

// What is added without a ramp is looked at as soon as its inrush is over.
func TestAddedShortTrips(t *testing.T) {
	b := newBench(t, func(v float64, closed []int, since time.Duration) float64 {
		if slices.Contains(closed, 2) {
			return 5
		}
		return led(v, nil, since)
	})
	s := ledStep("1", "mast")
	s.Way, s.On = Added, []string{"nav lights", "mast"}
	rec, _ := runOne(t, b, b.withRelays(map[string]int{"nav lights": 1, "mast": 2}), s, Unattended{})
	if rec.Outcome != Tripped || len(rec.Base) == 0 {
		t.Errorf("%s, %d base readings", rec.Outcome, len(rec.Base))
	}
	var closed, off time.Time
	for i, l := range b.log {
		switch {
		case l == "close [1 2]":
			closed = b.times[i]
		case l == "off" && !closed.IsZero() && off.IsZero():
			off = b.times[i]
		}
	}
	if d := off.Sub(closed); d > 400*time.Millisecond {
		t.Errorf("off %v after the short was closed", d)
	}
}

func TestAddedByClipSwitchesOffInBetween(t *testing.T) {
	b := newBench(t, led)
	s := ledStep("1", "mast")
	s.Way, s.On = Added, []string{"nav lights", "mast"}
	f := &face{}
	f.answer = func(q Question) (Answer, error) {
		if b.outputOn() {
			t.Errorf("asked to move the clip with the output on: %s", q.Text)
		}
		return plainest(q), nil
	}
	rec, _ := runOne(t, b, b.Bench(), s, f)
	if rec.Outcome != Measured || count(b.lines(), "on") != 2 || len(f.questions(AskClip)) != 2 {
		t.Errorf("%s, on %d times, asked %d times", rec.Outcome, count(b.lines(), "on"), len(f.questions(AskClip)))
	}
}

func TestPressByRelay(t *testing.T) {
	b := newBench(t, led)
	b.button = 8
	bb := b.withRelays(map[string]int{"beacon": 1})
	bb.Buttons = map[string]int{"beacon": 8}
	steps := []Step{boardStep("1", "slow", 0), boardStep("2", "medium", 1), boardStep("3", "fast", 2)}
	recs, err := Run(context.Background(), bb, &guide{steps: steps}, Unattended{}, &record{}, seeded())
	if err != nil {
		t.Fatal(err)
	}
	b.mustOff()
	if b.presses != 3 || len(recs) != 3 {
		t.Errorf("%d presses, %v", b.presses, outcomes(recs))
	}
	if n := count(b.lines(), "on"); n != 3 {
		t.Errorf("the output went on %d times: presses count from power-on", n)
	}
	var down time.Time
	for i, l := range b.log {
		switch l {
		case "close [1 8]":
			down = b.times[i]
		case "close [1]":
			if !down.IsZero() {
				if d := b.times[i].Sub(down); d < 100*time.Millisecond {
					t.Errorf("the button was down for %v", d)
				}
				down = time.Time{}
			}
		}
	}
}

func TestPressByTheMaker(t *testing.T) {
	b := newBench(t, led)
	f := &face{}
	steps := []Step{boardStep("1", "slow", 0), boardStep("2", "fast", 1)}
	if _, err := Run(context.Background(), b.Bench(), &guide{steps: steps}, f, &record{}, seeded()); err != nil {
		t.Fatal(err)
	}
	b.mustOff()
	qs := f.questions(AskPress)
	if len(qs) != 1 || !strings.Contains(qs[0].Text, "\"fast\"") || !strings.Contains(qs[0].Text, "once") {
		t.Errorf("questions %+v", qs)
	}
	if n := len(f.questions(AskClip)); n != 1 {
		t.Errorf("asked %d times for the same clip", n)
	}
}

func TestPressesCount(t *testing.T) {
	for _, c := range []struct {
		name         string
		left         string // pace the board was left in
		pace         string
		press, onPwr int
		since        int // pressed since power-on
		want         int
	}{
		{"forgets", "slow", "fast", 1, 2, 0, 2},
		{"forgets, redone", "fast", "fast", 1, 2, 0, 2},
		{"forgets, output held and pressed already", "fast", "fast", 1, 2, 2, 0},
		{"keeps", "slow", "fast", 1, 0, 0, 1},
		{"keeps, redone", "fast", "fast", 1, 0, 0, 0},
		{"first pace", "", "slow", 0, 0, 0, 0},
	} {
		e := &engine{paceOf: map[string]string{"beacon": c.left}}
		e.out.presses = c.since
		s := Step{Board: "beacon", Pace: c.pace, Press: c.press, PressFromOn: c.onPwr}
		if got := e.presses(s); got != c.want {
			t.Errorf("%s: %d presses, want %d", c.name, got, c.want)
		}
	}
}

func TestWrongClip(t *testing.T) {
	recognise := func(v, a, h float64) []string {
		if a > 0.019 {
			return []string{"cabin windows"}
		}
		return []string{"nav lights"}
	}
	for choose, lag := range map[string]time.Duration{"done": 0, "keep": 0, "skip": 0, "done, answered late": time.Second} {
		b := newBench(t, led)
		b.lag = lag
		choose, _, _ = strings.Cut(choose, ",")
		onNav := false
		b.load = func(v float64, _ []int, since time.Duration) float64 {
			if onNav {
				return led(v, nil, since) / 2
			}
			return led(v, nil, since)
		}
		f := &face{}
		f.answer = func(q Question) (Answer, error) {
			if b.outputOn() {
				t.Error("asked with the output on")
			}
			if strings.Contains(q.Text, "wrong clip") {
				onNav = choose == "done"
				return Answer{Choice: choose, Text: "later"}, nil
			}
			return Answer{Choice: "done"}, nil
		}
		r := &record{}
		g := &guide{steps: []Step{ledStep("1", "nav lights")}, recognise: recognise}
		recs, err := Run(context.Background(), b.Bench(), g, f, r, seeded())
		if err != nil {
			t.Fatal(err)
		}
		b.mustOff()
		var asked []string
		for _, q := range f.questions(AskClip) {
			asked = append(asked, q.Text)
		}
		if len(asked) != 2 || !strings.Contains(asked[1], "draws 20.0 mA at 12.00 V, like \"cabin windows\" (18.0 to "+
			"22.0 mA) and not like \"nav lights\" (0.0 to 5.0 mA): wrong clip?") {
			t.Errorf("%s: asked %q", choose, asked)
		}
		want := map[string]string{"done": "begin on settled redone begin on settled end",
			"keep": "begin on settled redone begin on settled end",
			"skip": "begin on settled skipped end"}[choose]
		if r.kinds() != want {
			t.Errorf("%s: marks %q, want %q", choose, r.kinds(), want)
		}
		if choose == "done" {
			if v, _ := recs[0].Trace("meter", instruments.Current)[0].Float(); v > 0.011 {
				t.Errorf("measured the wrong clip: %v A", v)
			}
		}
	}
}

// A relay can't be clipped wrongly, so nobody is asked.
func TestUnattendedByRelaysAlone(t *testing.T) {
	b := newBench(t, led)
	look := ledStep("3", "hull")
	look.Kind, look.On = Look, []string{"nav lights"}
	wiggle := look
	wiggle.ID, wiggle.Kind = "4", Wiggle
	steps := []Step{ledStep("1", "nav lights"), ledStep("2", "no relay"), look, wiggle}
	var events []Event
	recs, err := Run(context.Background(), b.withRelays(map[string]int{"nav lights": 1}),
		&guide{steps: steps, judge: func(StepRecord) []Said { return []Said{{Group: "x", Verdict: "low"}} }},
		Unattended{OnEvent: func(e Event) { events = append(events, e) }}, &record{}, seeded())
	if err != nil {
		t.Fatal(err)
	}
	b.mustOff()
	var got []string
	for _, r := range recs {
		got = append(got, string(r.Outcome)+" "+r.Reason)
	}
	want := []string{"measured ", "skipped unattended", "skipped unattended", "skipped unattended"}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	if len(events) == 0 {
		t.Error("nothing shown")
	}
}
