package capture

import (
	"context"
	"errors"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"sealworthy/instruments"
)

var errGone = &instruments.PortError{Port: "COM7", Op: "read current", Err: instruments.ErrPortGone}

// pulled is a meter whose cable is out from its n-th reading on until it is put
// back.
type pulled struct {
	b    *bench
	out  atomic.Bool
	once bool
}

func pull(b *bench, n int) *pulled {
	p := &pulled{b: b}
	b.meterFails = func(i int) error {
		if i == n && !p.once {
			p.once = true
			p.out.Store(true)
		}
		if p.out.Load() {
			return errGone
		}
		return nil
	}
	return p
}

func TestMeterUnpluggedAndBack(t *testing.T) {
	for _, hold := range []bool{false, true} {
		b := newBench(t, led)
		p := pull(b, 25) // in the trace
		f := &face{}
		bb := b.Bench()
		bb.ReopenMeter = func(context.Context) (instruments.Meter, error) {
			if p.out.Load() {
				return nil, errGone
			}
			return &fakeMeter{b, "meter A"}, nil
		}
		f.answer = func(q Question) (Answer, error) {
			if q.Kind == AskPlug {
				if on := b.outputOn(); on != hold {
					t.Errorf("hold %v: the output is on: %v", hold, on)
				}
				p.out.Store(false)
			}
			return plainest(q), nil
		}
		o, r := seeded(), &record{}
		o.HoldWhenLost = hold
		recs, err := Run(context.Background(), bb, &guide{steps: []Step{ledStep("1", "nav lights")}}, f, r, o)
		if err != nil {
			t.Fatal(err)
		}
		b.mustOff()
		if len(recs) != 1 || recs[0].Outcome != Measured {
			t.Fatalf("hold %v: %v", hold, outcomes(recs))
		}
		if len(f.kinds(Paused)) != 1 || len(f.questions(AskPlug)) != 1 {
			t.Errorf("paused %d times, asked %d times", len(f.kinds(Paused)), len(f.questions(AskPlug)))
		}
		if got := strings.Count(r.kinds(), "begin"); got != 2 || !strings.Contains(r.kinds(), "redone begin") {
			t.Errorf("marks %q", r.kinds())
		}
		if n := count(b.lines(), "on"); (n == 1) != hold {
			t.Errorf("hold %v: switched on %d times", hold, n)
		}
		trace := recs[0].Trace("meter", instruments.Current)
		if len(trace) < 15 {
			t.Errorf("%d readings: the step was not measured again from its begin", len(trace))
		}
		for i := 1; i < len(recs[0].Readings); i++ {
			if x, y := recs[0].Readings[i-1], recs[0].Readings[i]; x.Instrument == y.Instrument &&
				x.Quantity == y.Quantity && !y.At.After(x.At) {
				t.Error("a reading is doubled")
			}
		}
		if recs[0].Readings[0].At.Before(recs[0].Began) {
			t.Error("readings of the broken attempt are left in the step")
		}
	}
}

func TestSilentMeterAsksWhetherItIsOff(t *testing.T) {
	b := newBench(t, led)
	off := false
	b.meterFails = func(n int) error {
		if n == 20 {
			off = true
		}
		if off {
			return instruments.ErrNoReply
		}
		return nil
	}
	f := &face{answer: func(q Question) (Answer, error) {
		if q.Kind == AskPlug {
			if !strings.Contains(q.Text, "switched itself off") {
				t.Errorf("asks %q", q.Text)
			}
			off = false
		}
		return plainest(q), nil
	}}
	if rec, _ := runOne(t, b, b.Bench(), ledStep("1", "nav lights"), f); rec.Outcome != Measured {
		t.Errorf("%s: %s", rec.Outcome, rec.Reason)
	}
}

func TestUnattendedWaitsForThePort(t *testing.T) {
	for _, back := range []time.Duration{5 * time.Second, time.Hour} {
		b := newBench(t, led)
		p := pull(b, 25)
		var goneAt time.Time
		bb := b.withRelays(map[string]int{"nav lights": 1})
		bb.ReopenMeter = func(context.Context) (instruments.Meter, error) {
			if goneAt.IsZero() {
				goneAt = b.c.Now()
			}
			if b.c.Now().Sub(goneAt) < back {
				return nil, errGone
			}
			p.out.Store(false)
			return &fakeMeter{b, "meter A"}, nil
		}
		recs, err := Run(context.Background(), bb, &guide{steps: []Step{ledStep("1", "nav lights")}}, Unattended{},
			&record{}, seeded())
		b.mustOff()
		if back < time.Minute {
			if err != nil || recs[0].Outcome != Measured {
				t.Errorf("%v, %v", outcomes(recs), err)
			}
			continue
		}
		if !errors.Is(err, instruments.ErrPortGone) || len(recs) != 1 || recs[0].Outcome != Interrupted {
			t.Errorf("%v, %v", outcomes(recs), err)
		}
	}
}

// A supply whose port is gone for good can't be switched off: that is said.
func TestSupplyGoneForGoodIsSaid(t *testing.T) {
	b := newBench(t, led)
	n := 0
	b.supplyFails = func(op string) error {
		if op == "limiting" {
			n++
		}
		if n > 15 {
			return errGone
		}
		return nil
	}
	f := &face{answer: again("stop")}
	_, err := Run(context.Background(), b.Bench(), &guide{steps: []Step{ledStep("1", "nav lights")}}, f, &record{},
		seeded())
	if !errors.Is(err, ErrOffNotConfirmed) || !errors.Is(err, ErrStopped) {
		t.Errorf("error %v", err)
	}
	last := f.events[len(f.events)-1]
	if !last.OutputOn || !last.Unsure {
		t.Error("the last event says what the output does, which nobody knows")
	}
	paused := f.kinds(Paused)
	if len(paused) == 0 || !paused[0].Unsure {
		t.Errorf("while its cable is out: %+v", paused)
	}
	found := false
	for _, e := range f.kinds(Warning) {
		found = found || strings.Contains(e.Text, "by hand")
	}
	if !found {
		t.Error("nobody was told to switch off by hand")
	}
}

// From the supply's loss on nobody knows what its output does, until it confirms that it's off.
func TestNotKnownUntilTheSupplyIsBack(t *testing.T) {
	b := newBench(t, led)
	var n atomic.Int32
	var gone atomic.Bool
	b.supplyFails = func(op string) error {
		if op == "limiting" && n.Add(1) == 16 {
			gone.Store(true)
		}
		if gone.Load() {
			return errGone
		}
		return nil
	}
	f := &face{answer: func(q Question) (Answer, error) {
		if q.Kind == AskPlug {
			gone.Store(false)
		}
		return plainest(q), nil
	}}
	if rec, _ := runOne(t, b, b.Bench(), ledStep("1", "nav lights"), f); rec.Outcome != Measured {
		t.Errorf("%s: %s", rec.Outcome, rec.Reason)
	}
	unsure := 0
	for i, e := range f.events {
		if e.Unsure {
			unsure++
		} else if i > 0 && f.events[i-1].Unsure && e.What != OutputOff {
			t.Errorf("%q ends the doubt", e.What)
		}
	}
	if unsure < 2 || f.events[len(f.events)-1].Unsure { // the warning, and the pause
		t.Errorf("%d events in doubt, the last one %v", unsure, f.events[len(f.events)-1].Unsure)
	}
}

func TestSleepPauses(t *testing.T) {
	for _, jump := range []time.Duration{time.Hour, -time.Hour, time.Second} {
		b := newBench(t, led)
		f, o, r := &face{}, seeded(), &record{}
		slept := time.Duration(0)
		o.Wall = func() time.Time { return b.c.Now().Add(slept) }
		n := 0
		f.onShow = func(e Event) {
			if e.What == Sampling {
				if n++; n == 10 {
					slept = jump
				}
			}
		}
		f.answer = func(q Question) (Answer, error) {
			if q.Kind == AskPlug && b.outputOn() {
				t.Error("asked with the output on")
			}
			return plainest(q), nil
		}
		recs, err := Run(context.Background(), b.Bench(), &guide{steps: []Step{ledStep("1", "nav lights")}}, f, r, o)
		if err != nil {
			t.Fatal(err)
		}
		b.mustOff()
		want := 1
		if jump == time.Second { // the clock was set a little: nothing happens
			want = 0
		}
		if len(f.kinds(Paused)) != want || strings.Count(r.kinds(), "redone") != want || recs[0].Outcome != Measured {
			t.Errorf("jump %v: paused %d times, marks %q, %v", jump, len(f.kinds(Paused)), r.kinds(), outcomes(recs))
		}
	}
}

func count(all []string, one string) (n int) {
	for _, x := range all {
		if x == one {
			n++
		}
	}
	return n
}
