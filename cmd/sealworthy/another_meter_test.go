package main

import (
	"bytes"
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/byhand"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/cmd/sealworthy/wording"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
)

// swapper is a maker who changes the meter: he answers what is asked for it as told, and
// goes on with all else.
type swapper struct {
	answers  []string
	asked    []capture.Question
	changes  []session.NewMeter
	answered func(n int) // before the n-th of them
	fuseA    *float64    // what he says of its fuse; nil: that he doesn't know
	stops    bool        // at the first other question
	spoil    func() byte // the bits that are bad in the next name of a meter that comes
}

func (f *swapper) Tell(e session.Event) {
	if e.What == session.Remetered {
		f.changes = append(f.changes, *e.Meter)
	}
}

func (f *swapper) Show(capture.Event) {}

func (f *swapper) Ask(_ context.Context, q session.Question) (capture.Answer, error) {
	f.asked = append(f.asked, q.Question)
	switch q.Kind {
	case session.AskMeter:
	case session.AskFuse:
		if f.fuseA == nil {
			return capture.Answer{Choice: session.DontKnow}, nil
		}
		return capture.Answer{Choice: "number", Number: f.fuseA}, nil
	default:
		if f.stops {
			return capture.Answer{Choice: "stop"}, nil
		}
		return capture.Answer{Choice: q.Choices[0]}, nil
	}
	if f.answered != nil {
		f.answered(len(f.asked))
	}
	a := f.answers[0]
	f.answers = f.answers[1:]
	return capture.Answer{Choice: a}, nil
}

// swapping is a session of the gig's on one of two rigs, with f before it. others are the
// ports where another meter may be.
func swapping(t *testing.T, f *swapper, others *[]string, change func(*bench.Config, *bench.Overrides)) (
	*session.Session, context.Context) {
	t.Helper()
	b, cfg, c, r, open := twoRigs(t)
	own, over := *cfg, bench.Overrides{SupplyPort: r.Ports().Supply, MeterPort: r.Ports().Meter}
	change(&own, &over)
	d := session.NewDesk(false, instruments.Go, f)
	ctx := context.Background()
	w := session.World{Clock: c, Others: func() []string { return *others },
		Open: func(ctx context.Context, port string, l instruments.Line) (instruments.Port, error) {
			p, err := open(ctx, port, l)
			return &noisy{Port: p, spoil: f.spoil}, err
		}}
	bs, err := session.OpenBench(ctx, w, b.plan, &own, over, d)
	must(t, err)
	t.Cleanup(func() { _ = bs.Close() })
	u, err := useOf(b, bs, alone{})
	must(t, err)
	u.Desk = d
	return u, ctx
}

// takesAnother has another meter taken.
func takesAnother(t *testing.T, ctx context.Context, u *session.Session) {
	t.Helper()
	kept, err := u.AnotherMeter(ctx, session.Sitting{Stage: "fitted"}, true)
	if must(t, err); kept {
		t.Error("the old one is kept")
	}
}

// The meter that was given up isn't taken for another one: it's said that it is the same,
// and another one on another port is taken before it.
func TestTheOldMeterIsntAnother(t *testing.T) {
	t.Parallel()
	var others []string
	f := &swapper{answers: []string{"done", "done"}}
	f.answered = func(n int) {
		if n == 2 {
			others = []string{"nobody", "stranger"}
		}
	}
	u, ctx := swapping(t, f, &others, func(*bench.Config, *bench.Overrides) {})
	who := u.Bench.Who()
	takesAnother(t, ctx, u)
	if len(f.asked) != 3 || !strings.HasPrefix(f.asked[1].Text, "It's the same meter as before: ") ||
		!slices.Contains(f.asked[1].Choices, "stop") {
		t.Errorf("asked %+v", f.asked)
	}
	if len(f.changes) != 1 || f.changes[0].Is == f.changes[0].Was || u.Bench.Who() == who {
		t.Errorf("%+v, on the bench: %s", f.changes, u.Bench.Who())
	}
}

// The fuse that is known bounds the limit until a smaller one is: nobody stated that of the
// new meter, whether it is read by its maker or speaks by the usual profile (2 A).
func TestTheKnownFuseStays(t *testing.T) {
	t.Parallel()
	const fuseA = 0.4
	others := []string{"stranger"}
	f := &swapper{answers: []string{session.Typed, "done"}}
	u, ctx := swapping(t, f, &others, func(c *bench.Config, _ *bench.Overrides) { c.Meter.FuseAmps = fuseA })
	for range 2 {
		takesAnother(t, ctx, u)
		if u.Bench.MeterFuseAmps != fuseA {
			t.Errorf("the fuse is %g A, want %g", u.Bench.MeterFuseAmps, fuseA)
		}
		m := f.changes[len(f.changes)-1]
		if said := strings.Join(wording.Remetered(m), " "); m.FuseA != fuseA ||
			!strings.Contains(said, "limits stay below that of the meter before, 0.4 A.") {
			t.Errorf("%+v: %s", m, said)
		}
	}
	// What the maker says of it counts, larger or smaller.
	for _, a := range []float64{10, 0.2} {
		others, f.answers, f.fuseA = []string{"stranger"}, []string{session.Typed}, &a
		takesAnother(t, ctx, u)
		if m := f.changes[len(f.changes)-1]; u.Bench.MeterFuseAmps != a || m.FuseA != 0 {
			t.Errorf("the fuse is %g A: %+v", u.Bench.MeterFuseAmps, m)
		}
	}
	f.fuseA = nil
	// A smaller one counts: that of the usual profile is 2 A.
	others, f.answers = []string{"stranger"}, []string{"done"}
	u, ctx = swapping(t, f, &others, func(c *bench.Config, _ *bench.Overrides) { c.Meter.FuseAmps = 10 })
	takesAnother(t, ctx, u)
	if m := f.changes[len(f.changes)-1]; u.Bench.MeterFuseAmps != 2 || m.FuseA != 0 {
		t.Errorf("the fuse is %g A: %+v", u.Bench.MeterFuseAmps, m)
	}
}

// A supply set by hand asks for each of its settings by itself once the meter isn't read by
// its maker any more: no question for a number comes that would tell them.
func TestAHandSetSupplyAsksByItself(t *testing.T) {
	t.Parallel()
	others := []string{"stranger"}
	f := &swapper{answers: []string{"done", session.Typed}}
	u, ctx := swapping(t, f, &others, func(c *bench.Config, o *bench.Overrides) {
		c.Supply, o.SupplyPort = bench.Supply{ByHand: true}, ""
		c.Meter, o.MeterPort = bench.Meter{Typed: true}, ""
	})
	hand := u.Bench.Supply.(*byhand.Supply)
	asksFor := func(volts float64) bool {
		t.Helper()
		must(t, hand.On(ctx))
		f.asked = nil
		must(t, hand.Set(ctx, volts, 0.045))
		asked := len(f.asked) > 0
		must(t, hand.Off(ctx))
		return asked
	}
	for _, want := range []bool{false, true, false} { // typed, real, typed
		if got := asksFor(12); got != want {
			t.Errorf("with %s a setting is asked for by itself: %v", u.Bench.Who(), got)
		}
		if len(f.answers) > 0 {
			takesAnother(t, ctx, u)
		}
	}
}

// noisy is a port on which the names of meters come with a bad bit.
type noisy struct {
	instruments.Port
	spoil  func() byte
	before []byte // the last ones
}

func (p *noisy) ReadUntil(ctx context.Context, b []byte, deadline time.Time) (int, error) {
	n, err := p.Port.ReadUntil(ctx, b, deadline)
	all := append(p.before, b[:n]...)
	if i := bytes.Index(all, []byte(",METER,SN")); i >= 0 && p.spoil != nil {
		all[i+len(",METER,S")] ^= p.spoil()
	}
	copy(b, all[len(p.before):])
	p.before = slices.Clone(all[max(0, len(all)-len(",METER,S")):])
	return n, err
}

// A bad bit in its name makes no other meter of the one that was given up: it's asked again,
// then it's said that it is the same one; and where no two answers agree, that it can't be told.
func TestAGarbledNameIsNoOtherMeter(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		bad  []byte // bits, by answer from the first on
		want string
	}{
		{[]byte{1}, "It's the same meter as before: "}, {[]byte{0, 1}, "It's the same meter as before: "},
		{[]byte{1, 2, 1}, "It's the same meter as before: "},
		{[]byte{1, 2, 4, 8, 1, 2, 4, 8, 1, 2, 4, 8}, "No meter answers: "},
	} {
		var others []string
		var bad []byte
		f := &swapper{answers: []string{"done", "stop"}}
		f.spoil = func() byte {
			if len(bad) == 0 {
				return 0
			}
			is := bad[0]
			bad = bad[1:]
			return is
		}
		u, ctx := swapping(t, f, &others, func(*bench.Config, *bench.Overrides) {})
		bad = c.bad
		if _, err := u.AnotherMeter(ctx, session.Sitting{Stage: "fitted"}, true); !errors.Is(err, capture.ErrStopped) {
			t.Fatal(err)
		}
		if len(f.changes) > 0 || len(f.asked) != 2 || !strings.HasPrefix(f.asked[1].Text, c.want) {
			t.Errorf("%v: changes %+v, asked %+v", c.bad, f.changes, f.asked)
		}
	}
}

// What was said of the fuse of a meter that isn't in bench.toml is kept with the test: gone on
// with another day, it counts, and isn't asked for again.
func TestAStatedFuseIsKept(t *testing.T) {
	t.Parallel()
	fuseA := 0.3
	others := []string{"stranger"}
	f := &swapper{answers: []string{session.Typed}, fuseA: &fuseA}
	typed := func(c *bench.Config, o *bench.Overrides) {
		c.Meter, o.MeterPort = bench.Meter{Typed: true, FuseAmps: 10}, ""
	}
	u, ctx := swapping(t, f, &others, func(c *bench.Config, _ *bench.Overrides) { c.Meter.FuseAmps = 10 })
	takesAnother(t, ctx, u)
	f.stops = true
	_, err := u.Run(ctx, session.Sitting{Stage: "fitted"})
	if !errors.Is(err, capture.ErrStopped) {
		t.Fatal(err)
	}
	dir := u.Record.Dir
	if s := lastSitting(t, dir); !s.Whole || s.BrokeOff != "stopped by the maker" {
		t.Errorf("a test that was stopped: %+v", s)
	}
	for _, c := range []struct {
		change func(*bench.Config, *bench.Overrides)
		resume bool
		want   float64
	}{{typed, true, fuseA}, {typed, false, 10}, {func(c *bench.Config, _ *bench.Overrides) { c.Meter.FuseAmps = 10 },
		true, 10}} {
		again := &swapper{stops: true}
		v, ctx := swapping(t, again, &others, c.change)
		v.Record.Dir = dir
		if _, err := v.Run(ctx, session.Sitting{Stage: "fitted", Resume: c.resume}); !errors.Is(err,
			capture.ErrStopped) {
			t.Fatal(err)
		}
		if v.Bench.MeterFuseAmps != c.want {
			t.Errorf("gone on with %v, by %s: the fuse is %g A, want %g", c.resume, v.Bench.Who(),
				v.Bench.MeterFuseAmps,
				c.want)
		}
	}
}
