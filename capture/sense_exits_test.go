package capture

import (
	"context"
	"errors"
	"os"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"sealworthy/instruments"
)

// Where the output can't be switched off nothing says that it is, whatever else is
// gone as well.
func TestOffThatFailsWhileSensingIsSaid(t *testing.T) {
	gone := &instruments.PortError{Port: "COM7", Op: "read current", Err: instruments.ErrPortGone}
	for _, c := range []struct {
		name string
		off  error
		err  error
		says string // of the question; "": the test ends
	}{
		{"the supply is silent", instruments.ErrNoReply, ErrOffNotConfirmed, ""},
		{"the supply is gone, too", gone, ErrStopped,
			"Its output may still be on at its limit of 10.0 mA: switch it off by hand if you can."},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, x := feelBench(t)
			pulled := false
			b.meterFails = func(n int) error {
				if pulled = pulled || n == 12; pulled {
					return gone
				}
				return nil
			}
			b.supplyFails = func(string) error {
				if pulled {
					return c.off
				}
				return nil
			}
			x.ReopenMeter = func(context.Context) (instruments.Meter, error) { return nil, gone }
			f := newFeeler(t, b, map[string][]Answer{"plug": {{Choice: "stop"}}})
			f.onShow = func(e Event) {
				if b.outputOn() && (strings.Contains(e.Text, "output is off") || !e.OutputOn) {
					t.Errorf("%s %q says that the output is off", e.What, e.Text)
				}
			}
			_, err := Run(context.Background(), x, newFeelGuide("cabin"), f, &record{}, handsFree())
			wantErr(t, err, c.err)
			wantErr(t, err, ErrOffNotConfirmed)
			q := f.questions(AskPlug)
			if (len(q) > 0) != (c.says != "") || len(q) > 0 && !strings.Contains(q[0].Text, c.says) {
				t.Errorf("asked %+v, want %q", q, c.says)
			}
		})
	}
}

// Every way out of the program in the middle of sensing switches off.
func TestEveryExitOfSensingSwitchesOff(t *testing.T) {
	for _, c := range []struct {
		name string
		do   func(x *feelExit)
		want func(t *testing.T, err error)
	}{
		{"cancelled", func(x *feelExit) { x.cancel() },
			func(t *testing.T, err error) { wantErr(t, err, context.Canceled) }},
		{"Ctrl-C", func(x *feelExit) { x.sig <- os.Interrupt; x.wait() }, func(t *testing.T, err error) {
			var s *SignalError
			if !errors.As(err, &s) {
				t.Errorf("%v", err)
			}
		}},
		{"a panic elsewhere", func(x *feelExit) { x.guard.Go(func() { panic("descriptor 1024") }, nil); x.wait() },
			func(t *testing.T, err error) { wantPanic(t, nil, err) }},
		{"a panic of the face", func(*feelExit) { panic("the face fell over") },
			func(t *testing.T, err error) { wantPanic(t, nil, err) }},
		{"the maker stops", func(x *feelExit) { x.f.say <- Answer{Choice: "stop"}; time.Sleep(20 * time.Millisecond) },
			func(t *testing.T, err error) { wantErr(t, err, ErrStopped) }},
		{"a panic of the guide", func(x *feelExit) { x.g.why = "panic" },
			func(t *testing.T, err error) { wantPanic(t, nil, err) }},
		{"an error of the meter", func(x *feelExit) {
			x.b.meterFails = func(int) error { return instruments.ErrGarbled }
			x.f.by = map[string][]Answer{"clip": {{Choice: "stop"}}}
		}, func(t *testing.T, err error) { wantErr(t, err, ErrStopped) }},
		{"a supply that doesn't answer", func(x *feelExit) {
			x.b.supplyFails = func(op string) error {
				if op == "off" {
					return instruments.ErrNoReply
				}
				return nil
			}
			x.b.meterFails = func(int) error { return instruments.ErrGarbled }
		}, func(t *testing.T, err error) { wantErr(t, err, ErrOffNotConfirmed) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, bb := feelBench(t, handed{5 * s1, feeds["cabin"]})
			x := &feelExit{b: b, f: newFeeler(t, b, nil), g: newFeelGuide("cabin", "nav lights"), guard: NewGuard(b.c),
				sig: make(chan os.Signal, 4)}
			var ctx context.Context
			ctx, x.cancel = context.WithCancel(context.Background())
			defer x.cancel()
			n := 0
			x.f.onShow = func(e Event) {
				if e.What == SensingOn && e.Reading != nil {
					if n++; n == 9 {
						if !b.outputOn() {
							t.Error("it should be live now")
						}
						c.do(x)
					}
				}
			}
			o := handsFree()
			o.Guard = x.guard
			stop := x.guard.Watch(x.sig)
			defer stop()
			_, err := Run(ctx, bb, panicky{x.g}, x.f, &record{}, o)
			c.want(t, err)
			if errors.Is(err, ErrOffNotConfirmed) {
				return // that is said, and no program can do more
			}
			b.mustOff()
			if log := b.lines(); log[len(log)-1] != "off" || b.highest() > 3 {
				t.Errorf("the last command was %q, up to %v V", log[len(log)-1], b.highest())
			}
		})
	}
}

type feelExit struct {
	b      *bench
	f      *feeler
	g      *feelGuide
	guard  *Guard
	cancel func()
	sig    chan os.Signal
}

func (x *feelExit) wait() {
	for !x.guard.Stopping() {
		time.Sleep(time.Millisecond)
	}
}

// panicky is a guide that falls over when it is asked what a draw fits.
type panicky struct{ *feelGuide }

func (g panicky) TakenFor(done []StepRecord, felt []Felt) Taken {
	if g.why == "panic" {
		panic("no such group")
	}
	return g.feelGuide.TakenFor(done, felt)
}

// seenFeeler is a feeler that is seen until nobody looks any more.
type seenFeeler struct {
	*feeler
	gone atomic.Bool
}

func (f *seenFeeler) Watched() bool { return !f.gone.Load() }

// Nobody sees it: a clip isn't felt for either, within a second.
func TestSensingThatNobodySeesPauses(t *testing.T) {
	b, x := feelBench(t, handed{20 * s1, feeds["cabin"]})
	f := &seenFeeler{feeler: newFeeler(t, b, map[string][]Answer{"plug": {{Choice: "done"}}})}
	live := 0
	var went, off time.Time
	f.onShow = func(e Event) {
		switch {
		case e.What == SensingOn && e.Reading != nil:
			if live++; live == 5 {
				went = e.At
				f.gone.Store(true)
			}
		case e.What == OutputOff && off.IsZero() && f.gone.Load():
			off = e.At
		case e.What == Paused:
			f.gone.Store(false) // somebody is back
		}
	}
	recs, err := Run(context.Background(), x, newFeelGuide("cabin"), f, &record{}, handsFree())
	if err != nil || len(recs) != 1 || recs[0].Outcome != Measured {
		t.Errorf("%v, %v", outcomes(recs), err)
	}
	if len(f.questions(AskPlug)) != 1 || off.IsZero() || off.Sub(went) > time.Second {
		t.Errorf("asked %d times, off %v after nobody looked any more", len(f.questions(AskPlug)), off.Sub(went))
	}
	b.mustOff()
}
