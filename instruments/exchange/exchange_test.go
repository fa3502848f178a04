package exchange_test

import (
	"bytes"
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/exchange"
	"sealworthy/instruments/exchange/transcript"
	"sealworthy/instruments/wire"
)

// lines frames replies that end with a line feed.
func lines(got []byte) (int, []byte, error) {
	i := bytes.IndexByte(got, '\n')
	if i < 0 {
		return 0, nil, nil
	}
	return i + 1, got[:i], nil
}

var bg = context.Background()

func simulated() *clock.Simulated {
	return clock.NewSimulated(time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC))
}

// busy is a line over memory; the test is the instrument.
func busy(t *testing.T, o exchange.Options) (*clock.Simulated, *exchange.Line, *wire.Memory) {
	t.Helper()
	c := simulated()
	mine, theirs := wire.Pair(c, "memory")
	t.Cleanup(func() { _ = mine.Close() })
	l := exchange.New(mine, c, "memory", o)
	if _, err := l.Ask(bg, "meet", []byte("?"), lines, false); !errors.Is(err, instruments.ErrNoReply) {
		t.Fatal(err)
	}
	return c, l, theirs
}

// sent reads what has come at the instrument.
func sent(c *clock.Simulated, p *wire.Memory) string {
	all := ""
	for {
		var b [500]byte
		n, err := p.ReadUntil(bg, b[:], c.Now())
		if err != nil {
			return all
		}
		all += string(b[:n])
	}
}

func TestUrgentGoesBeforeAllThatWait(t *testing.T) {
	c, l, far := busy(t, exchange.Options{Timeout: 100 * time.Millisecond})
	sent(c, far)
	var order []string
	done := make(chan struct{}, 5)
	ask := func(name string, after time.Duration, f func()) {
		c.Go(func() {
			_ = c.Wait(bg, nil, c.Now().Add(after))
			f()
			order = append(order, name) // one party at a time
			done <- struct{}{}
		})
	}
	for i, name := range []string{"a", "b", "c"} {
		ask(name, time.Duration(i)*time.Millisecond, func() {
			_ = l.Tell(bg, name, []byte(name), false)
			_,
				_ = l.Ask(bg, name, []byte(name), lines, false)
		})
	}
	ctx, cancel := context.WithCancel(bg)
	cancel()
	began := c.Now()
	var took time.Duration
	ask("off", 5*time.Millisecond, func() {
		if err := l.Tell(ctx, "off", []byte("OFF"), true); err != nil {
			t.Error(err)
		}
		took = c.Now().Sub(began)
	})
	c.Outside(func() {
		for range 4 {
			<-done
		}
	})
	if slices.Index(order, "off") != 0 || took > 105*time.Millisecond {
		t.Errorf("order %v, off after %v", order, took)
	}
	if s := sent(c, far); !strings.Contains(s, "OFF") {
		t.Errorf("sent %q", s)
	}
}

// stuck is a port whose reads hang beyond their deadline, as no port should.
type stuck struct {
	transcript.Playback
	c     clock.Clock
	wrote []string
}

func (s *stuck) Write(_ context.Context, p []byte) error {
	s.wrote = append(s.wrote, string(p))
	return nil
}

func (s *stuck) ReadUntil(ctx context.Context, _ []byte, _ time.Time) (int, error) {
	return 0, s.c.Wait(ctx, nil, s.c.Now().Add(time.Hour))
}

func TestUrgentDoesNotWaitForAPortThatHangs(t *testing.T) {
	c := simulated()
	p := &stuck{c: c}
	l := exchange.New(p, c, "stuck", exchange.Options{Timeout: 300 * time.Millisecond})
	ctx, cancel := context.WithCancel(bg)
	c.Go(func() { _, _ = l.Ask(ctx, "read", []byte("READ?"), lines, false) })
	_ = c.Wait(bg, nil, c.Now().Add(10*time.Millisecond))
	began := c.Now()
	if err := l.Tell(bg, "off", []byte("OFF"), true); err != nil {
		t.Fatal(err)
	}
	if took := c.Now().Sub(began); took > 350*time.Millisecond || !slices.Contains(p.wrote, "OFF") {
		t.Errorf("took %v, sent %q", took, p.wrote)
	}
	cancel()
}

func TestLateReplyIsNotTheNextAnswer(t *testing.T) {
	for name, sync := range map[string]*exchange.Sync{
		"by silence": nil,
		"by a question": {Message: []byte("WHO\n"), Split: lines,
			Mine: func(r []byte) bool { return string(r) == "me" }},
	} {
		t.Run(name, func(t *testing.T) {
			c, l, far := busy(t, exchange.Options{Timeout: 300 * time.Millisecond, Quiet: 50 * time.Millisecond})
			l.SetSync(sync)
			c.Go(func() { // the instrument: the first answer comes late
				for {
					var b [100]byte
					n, err := far.ReadUntil(bg, b[:], time.Time{})
					if err != nil {
						return
					}
					for _, m := range strings.SplitAfter(string(b[:n]), "\n") {
						switch m {
						case "A\n":
							_ = c.Wait(bg, nil, c.Now().Add(320*time.Millisecond))
							_ = far.Write(bg, []byte("a\n"))
						case "B\n":
							_ = far.Write(bg, []byte("b\n"))
						case "WHO\n":
							_ = far.Write(bg, []byte("me\n"))
						}
					}
				}
			})
			if _, err := l.Ask(bg, "a", []byte("A\n"), lines, false); !errors.Is(err, instruments.ErrNoReply) {
				t.Fatal(err)
			}
			if !l.OutOfStep() {
				t.Error("in step after a timeout")
			}
			r, err := l.Ask(bg, "b", []byte("B\n"), lines, false)
			if err != nil || string(r.Bytes) != "b" {
				t.Errorf("%q, %v", r.Bytes, err)
			}
		})
	}
}

func TestEndlessBytesEndAtTheDeadline(t *testing.T) {
	c, l, far := busy(t, exchange.Options{Timeout: 300 * time.Millisecond, Longest: 1 << 16})
	stop := false
	c.Go(func() {
		for !stop && far.Write(bg, []byte("1")) == nil {
			_ = c.Wait(bg, nil, c.Now().Add(time.Millisecond))
		}
	})
	for range 3 {
		began := c.Now()
		_, err := l.Ask(bg, "read", []byte("?"), lines, false)
		if took := c.Now().Sub(began); !errors.Is(err, instruments.ErrGarbled) || took > 610*time.Millisecond {
			t.Errorf("%v after %v", err, took)
		}
	}
	stop = true
}

func TestWhatWasNotAskedForIsNoAnswer(t *testing.T) {
	c, l, far := busy(t, exchange.Options{})
	c.Go(func() {
		for {
			var b [100]byte
			if _, err := far.ReadUntil(bg, b[:], time.Time{}); err != nil {
				return
			}
			_ = c.Wait(bg, nil, c.Now().Add(time.Millisecond))
			_ = far.Write(bg, []byte("fresh\n"))
		}
	})
	_ = c.Wait(bg, nil, c.Now().Add(10*time.Millisecond)) // it answers the meeting
	for range 2 {
		if r, err := l.Ask(bg, "a", []byte("A"), lines, false); err != nil || string(r.Bytes) != "fresh" {
			t.Fatalf("%q, %v", r.Bytes, err)
		}
	}
	_ = far.Write(bg, []byte("stale\n"))
	if r, err := l.Ask(bg, "a", []byte("A"), lines, false); !errors.Is(err, instruments.ErrGarbled) {
		t.Errorf("%q, %v", r.Bytes, err)
	}
	if r, err := l.Ask(bg, "a", []byte("A"), lines, false); err != nil || string(r.Bytes) != "fresh" {
		t.Errorf("%q, %v", r.Bytes, err)
	}
}

func TestPortGoneStaysGone(t *testing.T) {
	_, l, far := busy(t, exchange.Options{})
	if err := far.Close(); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		_, err := l.Ask(bg, "a", []byte("A"), lines, false)
		var pe *instruments.PortError
		if !errors.Is(err, instruments.ErrPortGone) || !errors.As(err, &pe) || pe.Port != "memory" || pe.Hint == "" {
			t.Errorf("%v", err)
		}
	}
}

func TestTimesOfAReply(t *testing.T) {
	line := instruments.Line{Baud: 9600, DataBits: 8, StopBits: 1}
	c, l, far := busy(t, exchange.Options{Line: line})
	sent(c, far) // before anybody could take it for the question
	c.Go(func() {
		var b [100]byte
		if _, err := far.ReadUntil(bg, b[:], time.Time{}); err != nil {
			return
		}
		for range 2 { // the answer, and once more to nobody: ten bytes in two batches
			_ = c.Wait(bg, nil, c.Now().Add(100*time.Millisecond+5*line.CharTime()))
			_ = far.Write(bg, []byte("12345"))
			_ = c.Wait(bg, nil, c.Now().Add(5*line.CharTime()))
			_ = far.Write(bg, []byte("6789\n"))
		}
	})
	r, err := l.Ask(bg, "read", []byte("?"), lines, false)
	if err != nil {
		t.Fatal(err)
	}
	if d := r.Start.Sub(r.Sent); d < 99*time.Millisecond || d > 101*time.Millisecond {
		t.Errorf("the reply began %v after the question, sent 100 ms after it", d)
	}
	if d := r.End.Sub(r.Start); d < 9*line.CharTime() || d > 11*line.CharTime() {
		t.Errorf("the reply took %v", d)
	}
}

// A late reply with the fresh one right behind it: which is which can't be told,
// whether both come at once or the second within the gap.
func TestMoreBehindAReply(t *testing.T) {
	for name, x := range map[string]struct{ gap, behind time.Duration }{
		"at once": {0, 0}, "within the gap": {20 * time.Millisecond, 15 * time.Millisecond},
	} {
		t.Run(name, func(t *testing.T) {
			c, l, far := busy(t, exchange.Options{Gap: x.gap})
			c.Go(func() {
				for n := 0; ; n++ {
					var b [100]byte
					if _, err := far.ReadUntil(bg, b[:], time.Time{}); err != nil {
						return
					}
					_ = c.Wait(bg, nil, c.Now().Add(time.Millisecond))
					if n == 1 {
						_ = far.Write(bg, []byte("stale\n"))
						if x.behind > 0 {
							_ = c.Wait(bg, nil, c.Now().Add(x.behind))
						}
					}
					_ = far.Write(bg, []byte("fresh\n"))
				}
			})
			_ = c.Wait(bg, nil, c.Now().Add(10*time.Millisecond)) // it answers the meeting
			if r, err := l.Ask(bg, "a", []byte("A"), lines, false); !errors.Is(err, instruments.ErrGarbled) {
				t.Errorf("%q, %v", r.Bytes, err)
			}
			began := c.Now()
			r, err := l.Ask(bg, "a", []byte("A"), lines, false)
			if err != nil || string(r.Bytes) != "fresh" {
				t.Errorf("then %q, %v", r.Bytes, err)
			}
			// The gap was waited for with the reply: the next question goes at once.
			r2, err := l.Ask(bg, "a", []byte("A"), lines, false)
			if err != nil || r2.Sent.Sub(r.End) > x.gap || r2.End.Sub(began) > time.Second {
				t.Errorf("the next was sent %v after the reply, %v", r2.Sent.Sub(r.End), err)
			}
		})
	}
}
