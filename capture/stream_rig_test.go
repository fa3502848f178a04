package capture_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/rig"
	"sealworthy/instruments/stream"
	"sealworthy/instruments/wire"
)

// handheld is a meter in the bench's plus lead that sends a line of text for
// each reading. Its keys are in the maker's hands.
type handheld struct {
	coarse atomic.Bool // on its range of 600 mA
	asleep atomic.Bool
	sent   atomic.Int32
	m      *stream.Meter
}

func newHandheld(t *testing.T, c clock.Clock, r *rig.Bench) *handheld {
	t.Helper()
	p, err := profile.Load("text meter", "")
	if err != nil {
		t.Fatal(err)
	}
	mine, theirs := wire.Pair(c, "handheld")
	h := &handheld{}
	if h.m, err = stream.New(mine, "handheld", c, p); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { mine.Close() })
	c.Go(func() {
		ctx := context.Background()
		for next := c.Now(); ; next = next.Add(400 * time.Millisecond) {
			if c.Wait(ctx, nil, next) != nil {
				return
			}
			if h.asleep.Load() {
				continue
			}
			form := "DC  %+.2f mA\r\n"
			if h.coarse.Load() {
				form = "DC  %+.1f mA\r\n"
			}
			if theirs.Write(ctx, fmt.Appendf(nil, form, r.Output().Amps*1000)) != nil {
				return
			}
			h.sent.Add(1)
		}
	})
	return h
}

// A meter that only sends: the maker is asked for its range key, once for a
// range, and, when it says nothing, whether it has switched itself off.
func TestMeterThatSendsByItself(t *testing.T) {
	for _, obeys := range []bool{true, false} {
		t.Run(fmt.Sprintf("key pressed %v", obeys), func(t *testing.T) {
			b := newBed(t, &model{})
			h := newHandheld(t, b.c, b.r)
			b.b.Meter, b.b.ReopenMeter = h.m, nil
			h.coarse.Store(true)
			h.asleep.Store(true) // from before the test
			var asked []string
			n := 0
			f := &hands{show: func(e capture.Event) {
				if e.What == capture.Sampling && e.Reading != nil && e.Reading.Instrument == "meter" {
					if n++; n == 5 {
						h.asleep.Store(true)
					}
				}
			}}
			f.ask = func(q capture.Question) (capture.Answer, error) {
				asked = append(asked, q.Text)
				switch {
				case b.r.Output().On && q.Kind != capture.AskPress:
					t.Errorf("asked with the output on: %s", q.Text)
				case strings.Contains(q.Text, "range key") && obeys:
					h.coarse.Store(false)
				case q.Kind == capture.AskPlug:
					h.asleep.Store(false)
				}
				return capture.Plainest(q), nil
			}
			s := cabin()
			s.Settle.Window, s.Settle.Max = time.Second, 10*time.Second
			s.For = 6 * time.Second
			two := s
			two.ID = "2"
			recs, err := capture.Run(context.Background(), b.b, list{s, two}, f, &lines{}, b.o)
			if err != nil {
				t.Fatal(err)
			}
			b.mustOff(t)
			keys, off := 0, 0
			for _, q := range asked {
				if strings.Contains(q, "range 60 mA") {
					keys++
				}
				if strings.Contains(q, "switched itself off") {
					off++
				}
			}
			if off != 2 {
				t.Errorf("asked %d times whether it is off, want at the start and in mid-test: %q", off, asked)
			}
			if want := map[bool]int{true: 1, false: 2}[obeys]; keys != want {
				t.Errorf("asked for the key %d times, want %d: %q", keys, want, asked)
			}
			for _, r := range recs {
				if r.Outcome != capture.Measured {
					t.Errorf("%s %s", r.Outcome, r.Reason)
				}
				wrong := slices.ContainsFunc(r.Warnings,
					func(w string) bool { return strings.Contains(w, "not on 60 mA") })
				if wrong == obeys {
					t.Errorf("warnings %q", r.Warnings)
				}
				for _, x := range r.Trace("meter", instruments.Current) {
					if want := map[bool]string{true: "60 mA", false: "600 mA"}[obeys]; x.Range != want {
						t.Errorf("range %q", x.Range)
					}
				}
			}
		})
	}
}

// Unattended nobody can press a key: the test goes on and says so.
func TestMeterThatSendsByItselfUnattended(t *testing.T) {
	b := newBed(t, &model{})
	b.b.Meter = newHandheld(t, b.c, b.r).m
	recs, err := capture.Run(context.Background(), b.b, list{cabin()}, capture.Unattended{}, &lines{}, b.o)
	if err != nil || recs[0].Outcome != capture.Measured {
		t.Fatalf("%+v, %v", recs, err)
	}
	if w := strings.Join(recs[0].Warnings, " "); !strings.Contains(w, "range could not be fixed") {
		t.Errorf("warnings %q", recs[0].Warnings)
	}
}
