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
	"sealworthy/instruments/profile"
	"sealworthy/instruments/rig"
	"sealworthy/instruments/wire"
)

// twoRigs puts up the gig's bench and another one beside it, whose meter is a
// stranger of the same kind, "stranger", as its supply is, "strange supply".
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
		case "strange supply":
			return rigs[1].Opener()(ctx, rigs[1].Ports().Supply, l)
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

// A supply of the same make with another serial number, live on somebody's bench, has the
// name of the port now: it isn't taken for the one of this test, and isn't set or switched;
// the right one is found again on another port, and is the only one that is switched off.
func TestReopenLeavesAStrangersSupplyAlone(t *testing.T) {
	t.Parallel()
	b, cfg, c, r, open := twoRigs(t)
	p, ctx := r.Ports(), context.Background()
	onTheirs := func(do func(instruments.Supply) error) {
		t.Helper()
		x, err := bench.Connect(ctx, c, open, "strange supply", builtInProfile(t, "scpi supply"))
		if err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(do(x.Supply), x.Port.Close()); err != nil {
			t.Error(err)
		}
	}
	onTheirs(func(s instruments.Supply) error { return errors.Join(s.Set(ctx, 5, 0.5), s.On(ctx)) })
	isTheirs := func() {
		t.Helper()
		onTheirs(func(s instruments.Supply) error {
			volts, amps, err := s.(instruments.SettingsTeller).Settings(ctx)
			on, oerr := s.(instruments.OutputTeller).OutputIs(ctx)
			if volts != 5 || amps != 0.5 || !on {
				t.Errorf("the stranger's is at %v V and %v A, on: %v", volts, amps, on)
			}
			return errors.Join(err, oerr)
		})
	}
	taken, others := "", []string(nil)
	w := session.World{Clock: c, Others: func() []string { return others },
		Open: func(ctx context.Context, port string, l instruments.Line) (instruments.Port, error) {
			if port == taken {
				port = "strange supply"
			}
			return open(ctx, port, l)
		}}
	bs, err := session.OpenBench(ctx, w, b.plan, cfg, bench.Overrides{SupplyPort: p.Supply, MeterPort: p.Meter},
		alone{})
	if err != nil {
		t.Fatal(err)
	}
	defer bs.Close()
	who := bs.Who()
	var elsewhere string
	c.(*clock.Simulated).Outside(func() { elsewhere, err = r.Replug(rig.Supply, true) })
	if err != nil {
		t.Fatal(err)
	}
	taken = p.Supply
	var stranger *capture.StrangerError
	if _, err := bs.ReopenSupply(ctx); !errors.As(err, &stranger) || stranger.Port != p.Supply ||
		!strings.Contains(err.Error(), "another supply answers on "+p.Supply) {
		t.Errorf("a stranger on the old port: %v", err)
	}
	isTheirs()
	others = []string{"strange supply", elsewhere}
	s, err := bs.ReopenSupply(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if got := bs.Who(); got != who {
		t.Errorf("%q, want %q", got, who)
	}
	if err := s.Off(ctx); err != nil {
		t.Error(err)
	}
	isTheirs()
	m, err := bs.ReopenMeter(ctx)
	if err != nil {
		t.Fatal(err)
	}
	// What is tested next on this bench finds the ones that are open.
	if bs.Supply != s || bs.Meter != m {
		t.Errorf("the bench keeps what was lost: supply %v, meter %v", bs.Supply != s, bs.Meter != m)
	}
	if _, err := bs.Supply.Limiting(ctx); err != nil {
		t.Error(err)
	}
}

func builtInProfile(t *testing.T, name string) *profile.Profile {
	t.Helper()
	p, err := profile.Load(name, "")
	if err != nil {
		t.Fatal(err)
	}
	return p
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
