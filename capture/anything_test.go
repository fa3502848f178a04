package capture

import (
	"context"
	"errors"
	"os"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"sealworthy/instruments"

	"pgregory.net/rapid"
)

// Whatever fails, whenever, and whatever the maker answers: the output is off
// at the end, or the error says that it may not be, and so does the last event.
func TestWhateverHappensTheOutputIsOff(t *testing.T) {
	kinds := []error{instruments.ErrGarbled, instruments.ErrNoReply, instruments.ErrPortGone, instruments.ErrNotSet,
		errors.New("something else")}
	rapid.Check(t, func(rt *rapid.T) {
		b := newBench(t, nil)
		badAfter := time.Duration(rapid.IntRange(0, 5000).Draw(rt, "load goes bad after ms")) * time.Millisecond
		badBy := rapid.SampledFrom([]float64{0, 0.02, 3}).Draw(rt, "by A")
		b.load = func(v float64, _ []int, since time.Duration) float64 {
			if since > badAfter {
				return led(v, nil, since) + badBy
			}
			return led(v, nil, since)
		}
		fails := func(name string) func() error {
			at := rapid.IntRange(1, 120).Draw(rt, name+" fails at call")
			howLong := rapid.SampledFrom([]int{0, 0, 1, 2, 5, 1 << 30}).Draw(rt, name+" fails for calls")
			kind := rapid.IntRange(0, len(kinds)).Draw(rt, name+" fails with")
			var calls atomic.Int64
			return func() error {
				if n := int(calls.Add(1)); n < at || n >= at+howLong {
					return nil
				}
				if kind == len(kinds) {
					panic(name + " fell over")
				}
				return kinds[kind]
			}
		}
		mf, sf := fails("meter"), fails("supply")
		b.meterFails = func(int) error { return mf() }
		b.supplyFails = func(string) error { return sf() }
		bb := b.Bench()
		if rapid.Bool().Draw(rt, "relays") {
			bb = b.withRelays(map[string]int{"nav lights": 1, "mast": 2})
		}
		if rapid.Bool().Draw(rt, "reopens") {
			bb.ReopenMeter = func(context.Context) (instruments.Meter, error) { return &fakeMeter{b, "meter A"}, nil }
			bb.ReopenSupply = func(context.Context) (instruments.Supply, error) {
				return &fakeSupply{b, "supply A"},
					nil
			}
		}
		answers := rapid.SliceOfN(rapid.IntRange(0, 4), 30, 30).Draw(rt, "answers")
		f := &face{}
		var asked atomic.Int64
		f.answer = func(q Question) (Answer, error) {
			n := int(asked.Add(1)) - 1
			if n >= len(answers) || answers[n] == 4 {
				return Answer{Choice: "stop"}, nil
			}
			i := answers[n]
			return Answer{Choice: q.Choices[min(i, len(q.Choices)-1)], Text: "because"}, nil
		}
		r := &record{failAt: rapid.SampledFrom([]int{0, 0, 0, 3, 40}).Draw(rt, "disk full at")}
		ctx, cancel := context.WithCancel(context.Background())
		defer cancel()
		o := seeded()
		o.HoldWhenLost = rapid.Bool().Draw(rt, "hold")
		o.Guard = NewGuard(b.c)
		sig := make(chan os.Signal, 4)
		defer o.Guard.Watch(sig)()
		stopAt := rapid.IntRange(0, 300).Draw(rt, "signal at event")
		f.onShow = func(Event) {
			if stopAt > 0 && len(f.events) == stopAt {
				sig <- os.Interrupt
			}
		}
		look := lookStep("nav lights", "mast")
		wiggle := look
		wiggle.ID, wiggle.Kind, wiggle.For = "10", Wiggle, 3*time.Second
		added := ledStep("2", "mast")
		added.Way, added.On = Added, []string{"nav lights", "mast"}
		steps := []Step{ledStep("1", "nav lights"), added, boardStep("3", "fast", 1), look, wiggle}
		var face Face = f
		if rapid.Bool().Draw(rt, "unattended") {
			face = Unattended{OnEvent: f.Show}
		}
		recs, err := Run(ctx, bb, &guide{steps: steps}, face, r, o)
		last := f.events
		if b.outputOn() {
			if !errors.Is(err, ErrOffNotConfirmed) && !errors.Is(err, instruments.ErrPortGone) {
				rt.Errorf("the output is on and the error is %v; log %v", err, b.lines())
			}
			if len(last) > 0 && !last[len(last)-1].OutputOn {
				rt.Error("the output is on and the last event says that it's off")
			}
		}
		for _, x := range recs {
			if x.Outcome == "" || x.Ended.IsZero() {
				rt.Errorf("a record without an end: %+v", x.Step.ID)
			}
			if !slices.IsSortedFunc(x.Readings, func(a, c instruments.Reading) int { return a.At.Compare(c.At) }) {
				rt.Error("readings out of order")
			}
		}
	})
}
