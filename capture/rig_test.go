package capture_test

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
)

// model is an invented load: cabin lights of 1 kilohm and 2 V, a beacon board
// that blinks and has two paces, and what a test puts in as a fault.
type model struct {
	extra func(s rig.State) float64
}

func (m *model) Terminals() []string { return []string{"cabin", "beacon"} }

func (m *model) Current(s rig.State) float64 {
	a := 0.0
	if s.On[0] {
		a += max(0, (s.Volts-2)/500)
	}
	if s.On[1] && s.Volts > 3 {
		a += 0.002
		if s.Since%period(s) < period(s)*3/10 {
			a += 0.010
		}
	}
	if m.extra != nil && (s.On[0] || s.On[1]) {
		a += m.extra(s)
	}
	return a
}

func period(s rig.State) time.Duration {
	return 2 * time.Second >> min(s.Presses["beacon"], 1)
}

// bed is a bench of rig and drivers over memory ports in simulated time.
type bed struct {
	c *clock.Simulated
	r *rig.Bench
	b capture.Bench
	o capture.Options
}

func newBed(t *testing.T, m rig.Load) *bed { return newSeededBed(t, m, 3) }

func newSeededBed(t *testing.T, m rig.Load, seed uint64) *bed {
	t.Helper()
	return newBedBehind(t, m, seed, func(o instruments.Opener) instruments.Opener { return o })
}

// newBedBehind is a bed whose lines go through something.
func newBedBehind(t *testing.T, m rig.Load, seed uint64, behind func(instruments.Opener) instruments.Opener) *bed {
	t.Helper()
	ctx := context.Background()
	c := clock.NewSimulated(time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC))
	r, err := rig.New(ctx, c, m, rig.Options{Seed: seed, MemoryPorts: true, Buttons: []string{"beacon"}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Outside(func() { r.Close() }) })
	p := r.Ports()
	over := bench.Overrides{SupplyPort: p.Supply, MeterPort: p.Meter, RelaysPort: p.Relays}
	x, err := bench.Open(ctx, c, behind(r.Opener()), bench.Default(), over)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { x.Close() })
	bd := &bed{c: c, r: r, o: capture.Options{Stage: "loose", Rand: dice()}}
	bd.b = capture.Bench{Clock: c, Supply: x.Supply, Meter: x.Meter, Relays: x.Relays,
		Channels: map[string]int{"cabin": 1, "beacon": 2}, Buttons: map[string]int{"beacon": 3}}
	bd.b.ReopenMeter = func(ctx context.Context) (instruments.Meter, error) {
		y, err := bench.Open(ctx, c, r.Opener(), bench.Default(), bench.Overrides{MeterPort: r.Ports().Meter})
		if err != nil {
			return nil, err
		}
		return y.Meter, nil
	}
	return bd
}

func dice() *rand.Rand { return rand.New(rand.NewPCG(1, 2)) }

func (b *bed) mustOff(t *testing.T) {
	t.Helper()
	if b.r.Output().On {
		t.Error("the output was left on")
	}
}

func cabin() capture.Step {
	return capture.Step{ID: "1", Kind: capture.Power, Way: capture.Alone, Closure: "hull", Feed: "cabin",
		Groups: []string{"cabin"},
		On:     []string{"cabin"}, Volts: 12, Inrush: 100 * time.Millisecond,
		Ramp: []capture.RampPoint{{Volts: 1, LimitA: 0.006, MaxA: 0.004},
			{Volts: 3, LimitA: 0.01, ExpectA: 0.002, MaxA: 0.006},
			{Volts: 12, LimitA: 0.031, ExpectA: 0.020, MaxA: 0.026}},
		Settle: capture.Settle{Min: 400 * time.Millisecond, Max: 4 * time.Second, Window: 400 * time.Millisecond,
			Rel: 0.002, AbsA: 0.0001},
		For: 4 * time.Second, Spacing: 150 * time.Millisecond, Jitter: 0.3}
}

func beacon(id, pace string, presses int) capture.Step {
	s := cabin()
	s.ID, s.Feed, s.Board, s.Pace, s.Press, s.PressFromOn = id, "beacon", "beacon", pace, min(1, presses), presses
	s.On, s.Groups = []string{"beacon"}, []string{"port beacon"}
	s.Settle = capture.Settle{Min: time.Second, Max: time.Second, Window: 400 * time.Millisecond}
	s.For = 10 * time.Second
	return s
}

type list []capture.Step

func (l list) Next(done []capture.StepRecord) (capture.Step, bool) {
	for _, s := range l {
		if !slices.ContainsFunc(done, func(r capture.StepRecord) bool { return r.Step.ID == s.ID }) {
			return s, true
		}
	}
	return capture.Step{}, false
}
func (list) Recognise(capture.Step, float64, float64) (own capture.Fit, others []capture.Fit) {
	return own, nil
}
func (list) Judge(capture.StepRecord) []capture.Said      { return nil }
func (list) Remaining([]capture.StepRecord) time.Duration { return time.Minute }

type lines struct{ n uint64 }

func (r *lines) Append(instruments.Reading, capture.StepRef) error { r.n++; return nil }
func (r *lines) Mark(capture.Mark) error                           { r.n++; return nil }
func (r *lines) Sync() error                                       { return nil }
func (r *lines) Kept() uint64                                      { return r.n }

func TestOnASimulatedBench(t *testing.T) {
	b := newBed(t, &model{})
	recs, err := capture.Run(context.Background(), b.b, list{cabin(), beacon("2", "slow", 0), beacon("3", "fast", 1)},
		capture.Unattended{}, &lines{}, b.o)
	if err != nil {
		t.Fatal(err)
	}
	b.mustOff(t)
	for _, r := range recs {
		if r.Outcome != capture.Measured || len(r.Warnings) > 0 || !r.Simulated {
			t.Errorf("%s: %s %s, warnings %q, simulated %v", r.Step.ID, r.Outcome, r.Reason, r.Warnings, r.Simulated)
		}
	}
	n := 0
	for _, x := range recs[0].Trace("meter", instruments.Current) {
		n++
		// 10 V over 500 ohm, leads, and burden; 1 % covers gain and set error
		if v, ok := x.Float(); !ok || math.Abs(v-0.020) > 0.0004 {
			t.Errorf("reading %v", v)
		}
	}
	if n < 15 {
		t.Errorf("%d readings in 4 s", n)
	}
	for i, want := range []int{5, 10} { // flashes in 10 s
		flashes, lit := 0, true
		for _, x := range recs[i+1].Trace("meter", instruments.Current) {
			v, _ := x.Float()
			if v > 0.009 && !lit {
				flashes++
			}
			lit = v > 0.006 && (lit || v > 0.009)
		}
		if flashes < want-1 || flashes > want+1 {
			t.Errorf("pace %s: %d flashes in 10 s, want %d", recs[i+1].Step.Pace, flashes, want)
		}
	}
}

func TestCableOutAndBackOnASimulatedBench(t *testing.T) {
	for _, other := range []bool{false, true} {
		b := newBed(t, &model{})
		n, asked := 0, false
		f := &hands{}
		f.show = func(e capture.Event) {
			if e.What == capture.Sampling {
				if n++; n == 25 {
					if err := b.r.Unplug(rig.Meter); err != nil {
						t.Error(err)
					}
				}
			}
		}
		f.ask = func(q capture.Question) (capture.Answer, error) {
			if q.Kind == capture.AskPlug {
				asked = true
				if b.r.Output().On {
					t.Error("paused with the output on")
				}
				if _, err := b.r.Replug(rig.Meter, other); err != nil {
					t.Error(err)
				}
			}
			return capture.Plainest(q), nil
		}
		recs, err := capture.Run(context.Background(), b.b, list{cabin()}, f, &lines{}, b.o)
		if err != nil {
			t.Fatal(err)
		}
		b.mustOff(t)
		if !asked || len(recs) != 1 || recs[0].Outcome != capture.Measured ||
			len(recs[0].Trace("meter", instruments.Current)) < 15 {
			t.Errorf("asked %v, %s %s", asked, recs[0].Outcome, recs[0].Reason)
		}
		if w := strings.Join(recs[0].Warnings, " "); !strings.Contains(w, "measured again") ||
			strings.Contains(w, "can't be told") {
			t.Errorf("warnings %q", w)
		}
	}
}

func TestSignalOnASimulatedBench(t *testing.T) {
	b := newBed(t, &model{})
	b.o.Guard = capture.NewGuard(b.c)
	sig := make(chan os.Signal, 2)
	defer b.o.Guard.Watch(sig)()
	n := 0
	f := capture.Unattended{OnEvent: func(e capture.Event) {
		if e.What == capture.Sampling {
			if n++; n == 20 {
				sig <- os.Interrupt
				for !b.o.Guard.Stopping() {
					time.Sleep(time.Millisecond)
				}
			}
		}
	}}
	recs, err := capture.Run(context.Background(), b.b, list{cabin()}, f, &lines{}, b.o)
	var se *capture.SignalError
	if !errors.As(err, &se) || len(recs) != 1 || recs[0].Outcome != capture.Interrupted || len(recs[0].Readings) == 0 {
		t.Errorf("%+v, %v", recs, err)
	}
	b.mustOff(t)
}

func TestProveOnASimulatedBench(t *testing.T) {
	for seed := range uint64(20) { // other gains and offsets, within their accuracy
		b := newSeededBed(t, clips{}, seed)
		p, err := capture.Prove(context.Background(), b.b, capture.Unattended{},
			capture.ProveOptions{Together: []int{1}, Resistor: []int{2}})
		if err != nil {
			t.Fatal(err)
		}
		b.mustOff(t)
		// 0.2 ohm, leads of 0.1 ohm, 1 ohm of burden at 200 mA
		if math.Abs(p.SeriesOhm-1.3) > p.SeriesHalfWidth || !p.Good() {
			t.Errorf("seed %d: series %v ± %v ohm, found %q", seed, p.SeriesOhm, p.SeriesHalfWidth, p.Warnings)
		}
	}
}

// clips are together behind the first terminal, on 1 kilohm behind the second.
type clips struct{}

func (clips) Terminals() []string { return []string{"together", "resistor"} }

func (clips) Current(s rig.State) float64 {
	switch {
	case s.On[0]:
		return s.Volts / 0.2
	case s.On[1]:
		return s.Volts / 1000
	}
	return 0
}

type hands struct {
	show func(capture.Event)
	ask  func(capture.Question) (capture.Answer, error)
}

func (h *hands) Show(e capture.Event) { h.show(e) }
func (h *hands) Ask(_ context.Context, q capture.Question) (capture.Answer, error) {
	return h.ask(q)
}
