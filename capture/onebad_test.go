package capture_test

import (
	"context"
	"errors"
	"math"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// flipper turns one bit of all that the instruments send, or loses one byte.
type flipper struct {
	mu    sync.Mutex
	armed bool
	n     int // bytes since it was armed
	at    int // the byte to spoil; -1: none
	bit   int
	lose  bool
}

func (f *flipper) behind(open instruments.Opener) instruments.Opener {
	return func(ctx context.Context, name string, l instruments.Line) (instruments.Port, error) {
		p, err := open(ctx, name, l)
		if err != nil {
			return nil, err
		}
		return &flipped{p, f}, nil
	}
}

type flipped struct {
	instruments.Port
	f *flipper
}

func (p *flipped) ReadUntil(ctx context.Context, b []byte, deadline time.Time) (int, error) {
	n, err := p.Port.ReadUntil(ctx, b, deadline)
	if n = p.f.spoil(b[:n]); n == 0 && err == nil {
		return p.Port.ReadUntil(ctx, b, deadline) // a port never returns nothing
	}
	return n, err
}

// spoil does it to what came and tells how much is left.
func (f *flipper) spoil(b []byte) int {
	f.mu.Lock()
	defer f.mu.Unlock()
	n := len(b)
	if !f.armed {
		return n
	}
	i := f.at - f.n
	f.n += n
	switch {
	case i < 0 || i >= n:
	case f.lose:
		copy(b[i:], b[i+1:])
		return n - 1
	default:
		b[i] ^= 1 << f.bit
	}
	return n
}

// shortCabin is a step with few readings, so that many runs of it can be made.
func shortCabin(id string) capture.Step {
	s := cabin()
	s.ID, s.For, s.Spacing = id, 4*time.Second, 0
	return s
}

// oneFlip runs two steps with one bit of one byte turned, and tells how many
// bytes the instruments sent.
func oneFlip(t *testing.T, at, bit int, lose bool) (bytes int, first capture.StepRecord) {
	t.Helper()
	f := &flipper{at: at, bit: bit, lose: lose}
	b := newBedBehind(t, &model{}, 3, f.behind)
	f.armed = true
	recs, err := capture.Run(context.Background(), b.b, list{shortCabin("1"), shortCabin("2")}, capture.Unattended{},
		&lines{}, b.o)
	b.mustOff(t)
	if err != nil || len(recs) != 2 {
		t.Fatalf("bit %d of byte %d: the test ended with %d steps, %v", bit, at, len(recs), err)
	}
	for _, r := range recs {
		switch r.Outcome {
		case capture.Failed:
			if !strings.HasPrefix(r.Reason, "not measured: ") {
				t.Errorf("bit %d of byte %d: %s", bit, at, r.Reason)
			}
		case capture.Measured:
			sum, n := 0.0, 0
			for _, x := range r.Trace("meter", instruments.Current) {
				if v, ok := x.Float(); ok {
					sum, n = sum+v, n+1
				}
			}
			if mean := sum / float64(n); n < 8 || math.Abs(mean-0.0200) > 0.0006 {
				t.Errorf("bit %d of byte %d: %d readings, mean %.4f A; %q", bit, at, n, mean, r.Warnings)
			}
		default:
			t.Errorf("bit %d of byte %d: %s, %s", bit, at, r.Outcome, r.Reason)
		}
	}
	return f.n, recs[0]
}

// One bit turned, or one byte lost, in one reply, wherever it falls in a step,
// stops nothing and passes nothing: the step is measured as if it weren't there, or says that it
// wasn't measured, and the test goes on.
func TestOneBadReplyAnywhere(t *testing.T) {
	total, clean := oneFlip(t, -1, 0, false)
	if clean.Outcome != capture.Measured || total < 500 {
		t.Fatalf("%d bytes, %s %s", total, clean.Outcome, clean.Reason)
	}
	every, bits := 8, 1
	if os.Getenv("SEALWORTHY_LONG") != "" {
		every, bits = 1, 8
	}
	runs, failed := 0, 0
	for at := 0; at < total; at += every {
		for i := range bits + 1 {
			_, first := oneFlip(t, at, (at/every+i)%8, i == bits)
			if runs++; first.Outcome == capture.Failed {
				failed++
			}
		}
	}
	t.Logf("%d runs over %d bytes; %d steps say that they weren't measured", runs, total, failed)
	if failed*50 > runs {
		t.Errorf("%d of %d steps were not measured for one bad reply", failed, runs)
	}
}

// One bad answer to "constant current?" is no trip, one bad reading above all
// that is allowed isn't either; two are.
func TestOneBadStateIsNoTrip(t *testing.T) {
	for _, c := range []struct {
		name  string
		wrong []int // questions for constant current that are answered wrongly, by number
		want  capture.Outcome
	}{
		{"none", nil, capture.Measured},
		{"one", []int{7}, capture.Measured},
		{"one far later", []int{20}, capture.Measured},
		{"two in a row", []int{7, 8}, capture.Tripped},
	} {
		b := newBed(t, &model{})
		l := &liar{Supply: b.b.Supply, wrong: map[int]bool{}}
		for _, n := range c.wrong {
			l.wrong[n] = true
		}
		b.b.Supply = l
		recs, err := capture.Run(context.Background(), b.b, list{shortCabin("1")}, capture.Unattended{}, &lines{}, b.o)
		if err != nil || recs[0].Outcome != c.want {
			t.Errorf("%s: %s %s, %v", c.name, recs[0].Outcome, recs[0].Reason, err)
		}
		b.mustOff(t)
	}
}

// liar answers some questions wrongly.
type liar struct {
	instruments.Supply
	wrong map[int]bool
	n     int
}

func (l *liar) Limiting(ctx context.Context) (bool, error) {
	on, err := l.Supply.Limiting(ctx)
	l.n++
	return on != l.wrong[l.n], err
}

// A setting that isn't confirmed is never sent again: the step isn't measured,
// says so, and the next one is.
func TestSettingIsNeverRepeated(t *testing.T) {
	b := newBed(t, &model{})
	u := &unsure{Supply: b.b.Supply, at: 3}
	b.b.Supply = u
	recs, err := capture.Run(context.Background(), b.b, list{shortCabin("1"), shortCabin("2")}, capture.Unattended{},
		&lines{}, b.o)
	if err != nil || recs[0].Outcome != capture.Failed ||
		!strings.HasPrefix(recs[0].Reason, "not measured: supply: ") || recs[1].Outcome != capture.Measured {
		t.Errorf("%s %s, %v", recs[0].Outcome, recs[0].Reason, err)
	}
	if u.repeated {
		t.Error("the setting was sent again")
	}
	b.mustOff(t)
}

// unsure doesn't confirm one setting.
type unsure struct {
	instruments.Supply
	at, n    int
	last     [2]float64
	failed   bool
	repeated bool
}

func (u *unsure) Set(ctx context.Context, volts, limit float64) error {
	u.n++
	u.repeated = u.repeated || u.failed && u.last == [2]float64{volts, limit}
	u.failed = u.n == u.at
	u.last = [2]float64{volts, limit}
	if err := u.Supply.Set(ctx, volts, limit); err != nil {
		return err
	}
	if u.failed {
		return errors.Join(instruments.ErrNotSet)
	}
	return nil
}
