package main

import (
	"context"
	"errors"
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare/load"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
	"sealworthy/instruments/wire"
)

// twoRigs puts up the gig's bench and another one beside it, whose meter is a
// stranger of the same kind: "stranger".
func twoRigs(t *testing.T) (b build, cfg *bench.Config, c clock.Clock, r *rig.Bench, open instruments.Opener) {
	t.Helper()
	b = gig(t)
	ctx, sim := context.Background(), clock.NewSimulated(sittingBegan)
	cfg, err := b.readBench()
	if err != nil {
		t.Fatal(err)
	}
	var rigs [2]*rig.Bench
	for i := range rigs {
		if rigs[i], err = putUp(ctx, sim, b.plan, cfg, nil, uint64(i+1), load.Options{}, true); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { sim.Outside(func() { rigs[i].Close() }) })
	}
	open = func(ctx context.Context, port string, l instruments.Line) (instruments.Port, error) {
		switch port {
		case "nobody":
			return nil, errors.New("no such port")
		case "stranger":
			return rigs[1].Opener()(ctx, rigs[1].Ports().Meter, l)
		}
		return rigs[0].Opener()(ctx, port, l)
	}
	return b, cfg, sim, rigs[0], open
}

// A meter of the same kind that isn't the one of this test is passed over, on
// the old port and on others; the right one is found behind it.
func TestReopenPassesStrangersOver(t *testing.T) {
	t.Parallel()
	b, cfg, c, r, open := twoRigs(t)
	p, ctx := r.Ports(), context.Background()
	taken, others := "", []string(nil) // a port that a stranger has now, and where to look
	w := session.World{Clock: c, Others: func() []string {
		return others
	}, Open: func(ctx context.Context, port string, l instruments.Line) (instruments.Port, error) {
		if port == taken {
			port = "stranger"
		}
		return open(ctx, port, l)
	}}
	over := bench.Overrides{SupplyPort: p.Supply, MeterPort: p.Meter}
	bs, err := session.OpenBench(ctx, w, b.plan, cfg, over, alone{})
	if err != nil {
		t.Fatal(err)
	}
	defer bs.Close()
	who := bs.Who()
	replug := func() (name string) {
		var err error
		c.(*clock.Simulated).Outside(func() { name, err = r.Replug(rig.Meter, true) })
		if err != nil {
			t.Fatal(err)
		}
		return name
	}
	elsewhere := replug()
	others = []string{"stranger", elsewhere}
	if _, err := bs.ReopenMeter(ctx); err != nil {
		t.Fatal(err)
	}
	if got := bs.Who(); got != who {
		t.Errorf("%q, want %q", got, who)
	}
	// Its new port counts as its own, and is not tried for another instrument.
	replug()
	others = []string{"stranger"}
	if _, err := bs.ReopenMeter(ctx); err == nil {
		t.Error("a stranger was taken for the meter of this test")
	}
	taken = elsewhere // a stranger took over the name of the port
	if _, err := bs.ReopenMeter(ctx); err == nil ||
		!strings.Contains(err.Error(), "another meter answers on "+elsewhere) {
		t.Errorf("a stranger on the old port: %v", err)
	}
}

// An instrument that says nothing is asked for and tried again, as often as the
// maker likes; where nobody is there, it ends the test.
func TestAsleepAtTheStart(t *testing.T) {
	t.Parallel()
	b, cfg, c, r, open := twoRigs(t)
	p, asleep, tried := r.Ports(), true, 0
	sleepy := func(ctx context.Context, port string, l instruments.Line) (instruments.Port, error) {
		if port == p.Meter && asleep {
			tried++
			line, _ := wire.Pair(c, port) // nobody at the other end
			return line, nil
		}
		return open(ctx, port, l)
	}
	w := session.World{Clock: c, Open: sleepy}
	over := bench.Overrides{SupplyPort: p.Supply, MeterPort: p.Meter}
	var asked []capture.Question
	f := awake{func(q capture.Question) capture.Answer {
		asked = append(asked, q)
		asleep = len(asked) < 2
		return capture.Answer{Choice: "done"}
	}}
	g := capture.NewGuard(c)
	bs, err := session.OpenAwake(context.Background(), w, b.plan, cfg, over, f, g)
	if err != nil {
		t.Fatal(err)
	}
	if err := bs.Close(); err != nil {
		t.Error(err)
	}
	if tried != 2 || len(asked) != 2 || asked[0].Kind != capture.AskPlug || !strings.Contains(asked[0].Text, p.Meter) {
		t.Errorf("tried %d times, asked %+v", tried, asked)
	}
	asleep = true
	f.answer = func(capture.Question) capture.Answer { return capture.Answer{Choice: "stop"} }
	if _, err := session.OpenAwake(context.Background(), w, b.plan, cfg, over, f, g); !errors.Is(err,
		instruments.ErrNoReply) {
		t.Errorf("stopped: %v", err)
	}
	tried = 0
	if _, err := session.OpenAwake(context.Background(), w, b.plan, cfg, over, alone{}, g); !errors.Is(err,
		instruments.ErrNoReply) || tried != 1 {
		t.Errorf("nobody there: %v, tried %d times", err, tried)
	}
}
