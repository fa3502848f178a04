package capture

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"syscall"
	"testing"
	"time"

	"sealworthy/instruments"
)

// Every way out of a test leaves the supply's output off. SIGKILL is the one
// that no program can take: then the supply's own limit, set before the output
// goes on, is what protects (TestPowerStepInOrder).
func TestEveryExitSwitchesOff(t *testing.T) {
	gone := &instruments.PortError{Port: "COM7", Op: "read current", Err: instruments.ErrPortGone}
	// when the test is in the middle of its readings
	const middle = 15
	type bed struct {
		b      *bench
		bb     Bench
		f      *face
		r      *record
		g      *guide
		guard  *Guard
		ctx    context.Context
		cancel context.CancelFunc
		waits  bool // for the guard to notice
		sig    chan os.Signal
	}
	atMiddle := func(x *bed, do func()) {
		n := 0
		x.f.onShow = func(e Event) {
			if e.What == Sampling {
				if n++; n == middle {
					if !x.b.outputOn() {
						panic("the output should be on now")
					}
					do()
					for !x.guard.Stopping() && x.ctx.Err() == nil && x.waits {
						time.Sleep(time.Millisecond) // simulated time is faster than a signal
					}
				}
			}
		}
	}
	for _, c := range []struct {
		name  string
		setup func(t *testing.T, x *bed)
		check func(t *testing.T, recs []StepRecord, err error)
	}{
		{"end", func(*testing.T, *bed) {}, func(t *testing.T, recs []StepRecord, err error) {
			wantErr(t, err, nil)
		}},
		{"error of an instrument", func(t *testing.T, x *bed) {
			x.b.meterFails = func(n int) error {
				if n >= middle {
					return instruments.ErrGarbled
				}
				return nil
			}
			x.f.answer = again("next")
		}, func(t *testing.T, recs []StepRecord, err error) {
			wantErr(t, err, nil)
			wantOutcome(t, recs, Failed)
		}},
		{"trip", func(t *testing.T, x *bed) {
			x.b.load = func(float64, []int, time.Duration) float64 { return 3 }
			x.f.answer = again("next")
		}, func(t *testing.T, recs []StepRecord, err error) {
			wantErr(t, err, nil)
			wantOutcome(t, recs, Tripped)
		}},
		{"cancelled", func(t *testing.T, x *bed) {
			atMiddle(x, x.cancel)
		}, func(t *testing.T, recs []StepRecord, err error) {
			wantErr(t, err, context.Canceled)
			wantOutcome(t, recs, Interrupted)
		}},
		{"Ctrl-C", func(t *testing.T, x *bed) { atMiddle(x, func() { x.waits = true; x.sig <- os.Interrupt }) },
			wantSignal(os.Interrupt)},
		{"Ctrl-C twice", func(t *testing.T, x *bed) {
			atMiddle(x, func() { x.waits = true; x.sig <- os.Interrupt; x.sig <- os.Interrupt })
		}, wantSignal(os.Interrupt)},
		{"SIGTERM", func(t *testing.T, x *bed) { atMiddle(x, func() { x.waits = true; x.sig <- syscall.SIGTERM }) },
			wantSignal(syscall.SIGTERM)},
		{"SIGHUP", func(t *testing.T, x *bed) { atMiddle(x, func() { x.waits = true; x.sig <- syscall.SIGHUP }) },
			wantSignal(syscall.SIGHUP)},
		{"panic in a driver", func(t *testing.T, x *bed) {
			x.b.meterFails = func(n int) error {
				if n >= middle {
					panic("a driver's slice is too short")
				}
				return nil
			}
		}, wantPanic},
		{"panic in another goroutine", func(t *testing.T, x *bed) {
			atMiddle(x, func() { x.waits = true; x.guard.Go(func() { panic("descriptor 1024") }, nil) })
		}, wantPanic},
		{"panic of the face while it asks", func(t *testing.T, x *bed) {
			x.f.answer = func(q Question) (Answer, error) {
				if q.Kind == AskLook {
					panic("the face fell over")
				}
				return Answer{Choice: "done"}, nil
			}
			x.g.steps[0].Kind = Look
		}, wantPanic},
		{"panic of the face while it shows", func(t *testing.T, x *bed) {
			atMiddle(x, func() { panic("the face fell over") })
		}, wantPanic},
		{"face error", func(t *testing.T, x *bed) {
			x.g.steps[0].Kind = Look
			x.f.answer = func(q Question) (Answer, error) {
				if q.Kind == AskLook {
					return Answer{}, errors.New("the terminal is closed")
				}
				return Answer{Choice: "done"}, nil
			}
		}, func(t *testing.T, recs []StepRecord, err error) {
			if err == nil {
				t.Error("no error")
			}
			wantOutcome(t, recs, Interrupted)
		}},
		{"disk full", func(t *testing.T, x *bed) {
			x.r.failAt = middle
		}, func(t *testing.T, recs []StepRecord, err error) {
			wantErr(t, err, errDiskFull)
			wantOutcome(t, recs, Interrupted)
			if len(recs[0].Readings) == 0 {
				t.Error("what was read is not handed back")
			}
		}},
		{"lost meter", func(t *testing.T, x *bed) {
			x.b.meterFails = func(n int) error {
				if n >= middle {
					return gone
				}
				return nil
			}
			x.f.answer = again("stop")
		}, func(t *testing.T, recs []StepRecord, err error) { wantErr(t, err, ErrStopped) }},
		{"lost supply, back", func(t *testing.T, x *bed) {
			pulled := false
			x.b.supplyFails = func(op string) error {
				if pulled {
					return gone
				}
				return nil
			}
			x.bb.ReopenSupply = func(context.Context) (instruments.Supply, error) {
				pulled = false
				return &fakeSupply{x.b, "supply A"}, nil
			}
			atMiddle(x, func() { pulled = true })
			x.f.answer = again("stop")
		}, func(t *testing.T, recs []StepRecord, err error) { wantErr(t, err, nil); wantOutcome(t, recs, Measured) }},
		{"lost relays", func(t *testing.T, x *bed) {
			x.bb = x.b.withRelays(map[string]int{"nav lights": 1})
			// switched on top while it is on
			x.g.steps[0].Way, x.g.steps[0].On = Added, []string{"cabin", "nav lights"}
			x.bb.Channels["cabin"] = 2
			x.b.relaysFail = func() error {
				if x.b.outputOn() {
					return gone
				}
				return nil
			}
			x.f.answer = again("stop")
		}, func(t *testing.T, recs []StepRecord, err error) { wantErr(t, err, ErrStopped) }},
		{"panic of the guide", func(t *testing.T, x *bed) {
			x.g.recognise = func(float64, float64, float64) []string {
				if !x.b.outputOn() {
					t.Error("the output should be on now")
				}
				panic("no such group")
			}
		}, wantPanic},
		{"panic of the record", func(t *testing.T, x *bed) { x.r.panicAt = middle }, wantPanic},
		{"deadline", func(t *testing.T, x *bed) {
			x.cancel()
			x.ctx, x.cancel = context.WithTimeout(context.Background(), 50*time.Millisecond)
			x.waits = true
			atMiddle(x, func() {})
		}, func(t *testing.T, recs []StepRecord, err error) { wantErr(t, err, context.DeadlineExceeded) }},
		{"the record isn't on disk before the output goes on", func(t *testing.T, x *bed) {
			x.r.onSync = func(n int) error {
				if x.b.outputOn() {
					t.Error("synced with the output on already")
				}
				return errDiskFull
			}
		}, func(t *testing.T, recs []StepRecord, err error) {
			wantErr(t, err, errDiskFull)
			wantOutcome(t, recs, Interrupted)
			if !recs[0].On.IsZero() {
				t.Error("the output went on")
			}
		}},
		{"the end of the input at a look", func(t *testing.T, x *bed) {
			x.g.steps[0].Kind = Look
			x.f.answer = func(q Question) (Answer, error) {
				if q.Kind == AskLook {
					return Answer{Choice: "stop"}, io.EOF
				}
				return Answer{Choice: "done"}, nil
			}
		}, func(t *testing.T, recs []StepRecord, err error) {
			wantErr(t, err, io.EOF)
			wantOutcome(t, recs, Interrupted)
		}},
		// What a SIGKILL here would leave: the supply stands at the step's own limit
		// and voltage, and nothing of ours is needed to hold them.
		{"SIGKILL isn't covered; the limit is", func(t *testing.T, x *bed) {
			atMiddle(x, func() {
				x.b.mu.Lock()
				volts, limit := x.b.volts, x.b.limit
				x.b.mu.Unlock()
				s := x.g.steps[0]
				if volts != s.Volts || limit != s.LimitA() {
					t.Errorf("killed here it would stay at %v V and %v A, the step has %v V and %v A", volts, limit,
						s.Volts, s.LimitA())
				}
				x.cancel()
			})
		}, func(t *testing.T, recs []StepRecord, err error) { wantErr(t, err, context.Canceled) }},
		{"record refuses the end", func(t *testing.T, x *bed) {
			x.r.failAt = 3
		}, func(t *testing.T, recs []StepRecord, err error) {
			wantErr(t, err, errDiskFull)
		}},
		{"the maker stops", func(t *testing.T, x *bed) {
			x.f.answer = again("stop")
			x.b.load = short
		}, func(t *testing.T, recs []StepRecord, err error) {
			wantErr(t, err, ErrStopped)
			wantOutcome(t, recs, Tripped)
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t, led)
			x := &bed{b: b, bb: b.Bench(), f: &face{}, r: &record{}, guard: NewGuard(b.c),
				sig: make(chan os.Signal, 4)}
			x.g = &guide{steps: []Step{ledStep("1", "nav lights")}}
			x.ctx, x.cancel = context.WithCancel(context.Background())
			defer x.cancel()
			c.setup(t, x)
			o := seeded()
			o.Guard = x.guard
			stop := x.guard.Watch(x.sig)
			defer stop()
			recs, err := Run(x.ctx, x.bb, x.g, x.f, x.r, o)
			b.mustOff()
			if log := b.lines(); len(log) > 0 && log[len(log)-1] != "off" {
				t.Errorf("the last command was %q", log[len(log)-1])
			}
			c.check(t, recs, err)
		})
	}
}

func short(v float64, _ []int, _ time.Duration) float64 { return v / 0.2 }

func again(choice string) func(Question) (Answer, error) {
	return func(q Question) (Answer, error) {
		switch q.Kind {
		case AskAgain, AskPlug:
			return Answer{Choice: choice}, nil
		}
		return plainest(q), nil
	}
}

func wantErr(t *testing.T, err, want error) {
	t.Helper()
	if !errors.Is(err, want) {
		t.Errorf("error %v, want %v", err, want)
	}
}

func wantOutcome(t *testing.T, recs []StepRecord, o Outcome) {
	t.Helper()
	if len(recs) == 0 || recs[len(recs)-1].Outcome != o {
		t.Errorf("records %d, want the last %s: %+v", len(recs), o, outcomes(recs))
	}
}

func outcomes(recs []StepRecord) (out []string) {
	for _, r := range recs {
		out = append(out, fmt.Sprintf("%s: %s (%s)", r.Step.ID, r.Outcome, r.Reason))
	}
	return out
}

func wantSignal(s os.Signal) func(*testing.T, []StepRecord, error) {
	return func(t *testing.T, recs []StepRecord, err error) {
		t.Helper()
		var se *SignalError
		if !errors.As(err, &se) || se.Signal != s {
			t.Errorf("error %v, want signal %v", err, s)
		}
		wantOutcome(t, recs, Interrupted)
	}
}

func wantPanic(t *testing.T, _ []StepRecord, err error) {
	t.Helper()
	var p *PanicError
	if !errors.As(err, &p) {
		t.Errorf("error %v, want a PanicError", err)
	}
}
