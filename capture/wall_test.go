package capture

import (
	"context"
	"os"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// With the machine's clock the test reads on while the maker is asked. These
// run in a bubble of testing/synctest, whose time jumps when all wait.

// patient is a face that takes so long for some questions and heeds its ctx.
func patient(f *face, kind QuestionKind, after time.Duration, then func(q Question) Answer) Face {
	return &slow{f, kind, after, then}
}

type slow struct {
	*face
	kind  QuestionKind
	after time.Duration
	then  func(q Question) Answer
}

func (s *slow) Ask(ctx context.Context, q Question) (Answer, error) {
	a, err := s.face.Ask(ctx, q)
	if q.Kind != s.kind {
		return a, err
	}
	select {
	case <-time.After(s.after):
		if s.then != nil {
			return s.then(q), nil
		}
		return a, err
	case <-ctx.Done():
		return Answer{}, ctx.Err()
	}
}

func inWallTime(t *testing.T, load func(float64, []int, time.Duration) float64, f func(t *testing.T, b *bench)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t, load)
		b.c = clock.Wall{}
		f(t, b)
	})
}

func TestLookIsWatchedInWallTime(t *testing.T) {
	inWallTime(t, led, func(t *testing.T, b *bench) {
		f := &face{}
		s := lookStep("a")
		rec, _ := runOne(t, b, b.withRelays(map[string]int{"a": 1}), s, patient(f, AskLook, 30*time.Second, nil))
		if n := len(rec.Trace("meter", instruments.Current)); rec.Seen != AllRight || n < 50 {
			t.Errorf("seen %q, %d readings in the 30 s of the look", rec.Seen, n)
		}
	})
	over := func(v float64, _ []int, since time.Duration) float64 {
		if since > 10*time.Second {
			return 2
		}
		return led(v, nil, since)
	}
	inWallTime(t, over, func(t *testing.T, b *bench) {
		s := lookStep("a")
		rec, _ := runOne(t, b, b.withRelays(map[string]int{"a": 1}), s, patient(&face{answer: again("next")}, AskLook,
			time.Hour, nil))
		if rec.Outcome != Tripped || rec.Ended.Sub(rec.On) > 10*time.Second+700*time.Millisecond {
			t.Errorf("%s %s after %v", rec.Outcome, rec.Reason, rec.Ended.Sub(rec.On))
		}
	})
}

func TestWiggleEndsWithTheAnswer(t *testing.T) {
	inWallTime(t, led, func(t *testing.T, b *bench) {
		s := lookStep("a")
		s.Kind, s.For = Wiggle, time.Minute
		rec, _ := runOne(t, b, b.withRelays(map[string]int{"a": 1}), s,
			patient(&face{}, AskWiggle, 8*time.Second, nil))
		if d := rec.Ended.Sub(rec.Settled); rec.Outcome != Measured || d < 9*time.Second || d > 12*time.Second {
			t.Errorf("%s %s, lasted %v", rec.Outcome, rec.Reason, d)
		}
	})
}

// The cable is put back and nobody presses a key: the test goes on by itself.
func TestMeterComesBackWithoutAKey(t *testing.T) {
	for _, hold := range []bool{false, true} {
		inWallTime(t, led, func(t *testing.T, b *bench) {
			p := pull(b, 25)
			bb := b.Bench()
			bb.ReopenMeter = func(context.Context) (instruments.Meter, error) {
				if p.out.Load() {
					return nil, errGone
				}
				return &fakeMeter{b, "meter A"}, nil
			}
			o, r := seeded(), &record{}
			o.HoldWhenLost = hold
			f := &face{onShow: func(e Event) {
				if e.What == Paused {
					time.AfterFunc(20*time.Second, func() { p.out.Store(false) })
				}
			}}
			recs, err := Run(context.Background(), bb, &guide{steps: []Step{ledStep("1", "nav lights")}},
				patient(f, AskPlug, time.Hour, nil), r, o)
			if err != nil || recs[0].Outcome != Measured || recs[0].Ended.Sub(recs[0].Began) > time.Minute {
				t.Errorf("hold %v: %v, %v", hold, outcomes(recs), err)
			}
			b.mustOff()
		})
	}
}

// While the output is held its supply is watched.
func TestHeldOutputIsWatched(t *testing.T) {
	bad := &atomic.Bool{}
	load := func(v float64, _ []int, since time.Duration) float64 {
		if bad.Load() {
			return 3
		}
		return led(v, nil, since)
	}
	inWallTime(t, load, func(t *testing.T, b *bench) {
		pull(b, 25)
		bb := b.Bench()
		bb.ReopenMeter = func(context.Context) (instruments.Meter, error) { return nil, errGone }
		o := seeded()
		o.HoldWhenLost = true
		f := &face{answer: again("next"), onShow: func(e Event) {
			if e.What == Paused {
				time.AfterFunc(5*time.Second, func() { bad.Store(true) })
			}
		}}
		recs, err := Run(context.Background(), bb, &guide{steps: []Step{ledStep("1", "nav lights")}},
			patient(f, AskPlug, time.Hour, nil), &record{}, o)
		if err != nil || recs[0].Outcome != Tripped || recs[0].Ended.Sub(recs[0].Began) > 15*time.Second {
			t.Errorf("%v, %v", outcomes(recs), err)
		}
		b.mustOff()
	})
}

func TestSignalWhileTheMakerIsAsked(t *testing.T) {
	for _, kind := range []QuestionKind{AskClip, AskLook} {
		inWallTime(t, led, func(t *testing.T, b *bench) {
			sig := make(chan os.Signal, 2)
			o := seeded()
			o.Guard = NewGuard(b.c)
			stop := o.Guard.Watch(sig)
			time.AfterFunc(10*time.Second, func() { sig <- os.Interrupt })
			recs, err := Run(context.Background(), b.Bench(), &guide{steps: []Step{lookStep("a")}},
				patient(&face{}, kind, time.Hour, nil), &record{}, o)
			wantSignal(os.Interrupt)(t, recs, err)
			b.mustOff()
			stop()
		})
	}
}

// A panic of the face while the output is on and read.
func TestPanicWhileAskedInWallTime(t *testing.T) {
	inWallTime(t, led, func(t *testing.T, b *bench) {
		f := patient(&face{}, AskLook, 3*time.Second, func(Question) Answer { panic("the face fell over") })
		recs, err := Run(context.Background(), b.withRelays(map[string]int{"a": 1}),
			&guide{steps: []Step{lookStep("a")}}, f, &record{}, seeded())
		wantPanic(t, recs, err)
		b.mustOff()
	})
}
