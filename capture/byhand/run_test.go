package byhand

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

type oneStep struct{ s capture.Step }

func (g oneStep) Next(done []capture.StepRecord) (capture.Step, bool) { return g.s, len(done) == 0 }
func (g oneStep) Recognise(capture.Step, float64, float64) (own capture.Fit, others []capture.Fit) {
	return own, nil
}
func (g oneStep) Judge(capture.StepRecord) []capture.Said      { return nil }
func (g oneStep) Remaining([]capture.StepRecord) time.Duration { return time.Minute }

type paper struct{ lines uint64 }

func (p *paper) Append(instruments.Reading, capture.StepRef) error { p.lines++; return nil }
func (p *paper) Mark(capture.Mark) error                           { p.lines++; return nil }
func (p *paper) Sync() error                                       { return nil }
func (p *paper) Kept() uint64                                      { return p.lines }

func navLights() capture.Step {
	return capture.Step{ID: "1", Kind: capture.Power, Way: capture.Alone, Feed: "nav lights",
		Groups: []string{"nav lights"},
		On:     []string{"nav lights"}, Volts: 12, For: 3 * time.Second, Spacing: 100 * time.Millisecond,
		Ramp: []capture.RampPoint{{Volts: 3, LimitA: 0.01, MaxA: 0.008}, {Volts: 12, LimitA: 0.045, ExpectA: 0.038,
			MaxA: 0.043}},
		Settle: capture.Settle{Min: 500 * time.Millisecond, Max: 3 * time.Second, Window: 200 * time.Millisecond,
			Rel: 0.01}}
}

// A whole step with no port at all: set, on, one number, off.
func TestStepWithoutAPort(t *testing.T) {
	c := sim()
	on := false
	var order []string
	f := &typist{}
	f.hook = func(q capture.Question) {
		switch {
		case strings.Contains(q.Text, "output ON"):
			on = true
		case strings.Contains(q.Text, "output OFF"):
			on = false
		case q.Kind == capture.AskNumber && !on:
			t.Error("asked for a number with the output off")
		case q.Kind == capture.AskClip && on:
			t.Error("asked to clip with the output on")
		}
		order = append(order, string(q.Kind))
	}
	face := &answering{typist: f, number: "38,1"}
	meter := &Meter{Face: face, Clock: c}
	b := capture.Bench{Clock: c, Supply: &Supply{Face: face, Meter: meter}, Meter: meter}
	recs, err := capture.Run(context.Background(), b, oneStep{navLights()}, face, &paper{}, capture.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if on {
		t.Error("the output was left on")
	}
	trace := recs[0].Trace("meter", instruments.Current)
	if len(trace) != 1 || recs[0].Outcome != capture.Measured {
		t.Fatalf("%s %s, %d readings, asked %v", recs[0].Outcome, recs[0].Reason, len(trace), order)
	}
	if v, _ := trace[0].Float(); math.Abs(v-0.0381) > 1e-12 {
		t.Errorf("read %v", v)
	}
	// Once the output was said to be off, a group costs four prompts.
	if got := strings.Join(order, " "); got != "supply clip supply number supply" {
		t.Errorf("asked for %s", got)
	}
}

// A long way up stays one prompt, which names every point with its limit.
func TestTheWayUpIsOnePrompt(t *testing.T) {
	c := sim()
	var order []string
	var way string
	f := &typist{}
	f.hook = func(q capture.Question) {
		order = append(order, string(q.Kind))
		if q.Kind == capture.AskNumber {
			way = q.Text
		}
	}
	face := &answering{typist: f, number: "95"}
	meter := &Meter{Face: face, Clock: c}
	s := navLights()
	s.Ramp = []capture.RampPoint{{Volts: 1.5, LimitA: 0.006, MaxA: 0.005}, {Volts: 7.5, LimitA: 0.034, ExpectA: 0.02,
		MaxA: 0.03},
		{Volts: 9.5, LimitA: 0.068, ExpectA: 0.05, MaxA: 0.06}, {Volts: 12, LimitA: 0.123, ExpectA: 0.095, MaxA: 0.12}}
	b := capture.Bench{Clock: c, Supply: &Supply{Face: face, Meter: meter}, Meter: meter}
	recs, err := capture.Run(context.Background(), b, oneStep{s}, face, &paper{}, capture.Options{})
	if err != nil || recs[0].Outcome != capture.Measured {
		t.Fatalf("%v %+v", err, recs)
	}
	if got := strings.Join(order, " "); got != "supply clip supply number supply" {
		t.Errorf("asked for %s", got)
	}
	const want = "7.5 V, limit 40 mA; 9.5 V, limit 70 mA; 12.0 V, limit 130 mA. If its limit lamp comes on, switch " +
		"it off and stop. What does"
	if !strings.Contains(way, want) {
		t.Errorf("asked %q", way)
	}
}

// A number above what a healthy feed may draw trips, by hand too.
func TestTooMuchByHandTrips(t *testing.T) {
	c := sim()
	face := &answering{typist: &typist{}, number: "120 mA"}
	b := capture.Bench{Clock: c, Supply: &Supply{Face: face}, Meter: &Meter{Face: face, Clock: c}}
	recs, err := capture.Run(context.Background(), b, oneStep{navLights()}, face, &paper{}, capture.Options{})
	if err != nil || recs[0].Outcome != capture.Tripped {
		t.Errorf("%+v, %v", recs, err)
	}
	last := face.asked[len(face.asked)-2] // then: next?
	if !strings.Contains(last.Text, "OFF") {
		t.Errorf("the last but one question was %q", last.Text)
	}
}

// Without an answer the test says that the output may be on.
func TestOffByHandNotConfirmed(t *testing.T) {
	c := sim()
	f := &typist{}
	n := 0
	f.hook = func(q capture.Question) {
		if q.Kind == capture.AskNumber {
			f.err = errors.New("the terminal is closed")
		}
		n++
	}
	b := capture.Bench{Clock: c, Supply: &Supply{Face: f}, Meter: &Meter{Face: f, Clock: c}}
	_, err := capture.Run(context.Background(), b, oneStep{navLights()}, f, &paper{}, capture.Options{})
	if !errors.Is(err, capture.ErrOffNotConfirmed) || !errors.Is(err, ErrNotConfirmed) {
		t.Errorf("error %v", err)
	}
}

// answering types one number and says done, or next, to all else.
type answering struct {
	*typist
	number string
}

func (a *answering) Ask(ctx context.Context, q capture.Question) (capture.Answer, error) {
	ans, err := a.typist.Ask(ctx, q)
	if q.Kind == capture.AskNumber {
		ans = capture.Answer{Text: a.number}
	}
	return ans, err
}
