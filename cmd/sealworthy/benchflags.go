package main

import (
	"context"
	"errors"
	"flag"

	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare/words"
	"sealworthy/instruments/bench"
)

// noRoom stands for a temperature that was not given.
const noRoom = -273

// benchFlags are what the verbs that measure take of the bench.
type benchFlags struct {
	over                     bench.Overrides
	supplyByHand, typedMeter bool
	unattended, hold, resume bool
	events                   bool
	prove                    bool // the bench, with another instrument before it's gone on with
	seed                     uint64
	room                     float64
	// alone says how a test goes without anybody there, in a hint.
	alone string
}

// declarePorts declares where the instruments are, of which each verb takes two.
func (x *benchFlags) declarePorts(f *flag.FlagSet) {
	x.prove = true
	f.StringVar(&x.over.SupplyPort, "supply", "", "`port` of the supply")
	f.StringVar(&x.over.MeterPort, "meter", "", "`port` of the meter")
}

// declareHands declares that hands and eyes are the instruments.
func (x *benchFlags) declareHands(f *flag.FlagSet) {
	f.BoolVar(&x.supplyByHand, "supply-by-hand", false, "you set the supply; it can't be switched off from here")
	f.BoolVar(&x.typedMeter, "typed-meter", false, "you type what the meter shows")
}

// declareTest declares how a test runs.
func (x *benchFlags) declareTest(f *flag.FlagSet, relays string) {
	f.StringVar(&x.over.RelaysPort, "relays", "", relays)
	f.BoolVar(&x.unattended, "unattended", false, "ask nothing: relays switch, looks are left out")
	f.BoolVar(&x.events, "events", false, eventsUsage)
	f.BoolVar(&x.resume, "resume", false, "go on with the latest test of this stage")
	f.BoolVar(&x.hold, "hold", false, "when the meter is lost keep the output on at its limit, instead of off")
	f.Uint64Var(&x.seed, "seed", 0, "`number` that the spacing of readings is drawn by; 0: by the time")
	f.Float64Var(&x.room, "room", noRoom, "room temperature in `degC`; left out: unknown")
}

// measures: a test is to be run.
func (x *benchFlags) measures() bool {
	return x.over.SupplyPort != "" || x.over.MeterPort != "" || x.supplyByHand || x.unattended || x.resume
}

// spoken does what a verb does: with a terminal, or with a stream of lines where
// that is wanted.
func (x *benchFlags) spoken(e env, w world, do func(env) (int, error)) (int, error) {
	if !x.events {
		return do(e)
	}
	return streamed(e, w, !x.unattended, do)
}

// sitting is a test at a stage, as the flags say.
func (x *benchFlags) sitting(stage string) session.Sitting {
	s := session.Sitting{Stage: stage, Seed: x.seed, Resume: x.resume, Hold: x.hold,
		Reprove: x.prove && !x.unattended && !x.supplyByHand}
	if x.room > noRoom {
		s.RoomC = &x.room
	}
	return s
}

// config is the bench of a build with what the flags say of it on top, once it's
// known that somebody is there who is needed.
func (x *benchFlags) config(e env, w world, dir string) (*bench.Config, error) {
	if !x.unattended && e.at == nil && !w.terminal(e.stdin) {
		return nil, withHint(errors.New("nobody to ask: the input is no terminal"), x.alone)
	}
	own, err := session.ReadBench(dir)
	if err != nil {
		return nil, err
	}
	cfg, err := benchOf(e, dir, x.over)
	if err != nil {
		return nil, err
	}
	x.sayMakers(e, own, cfg)
	if x.supplyByHand {
		cfg.Supply = bench.Supply{ByHand: true}
	}
	if x.typedMeter {
		cfg.Meter = bench.Meter{Typed: true}
	}
	if x.unattended && (cfg.Supply.ByHand || cfg.Meter.Typed) {
		return nil, withHint(errors.New("an instrument read or set by hand needs somebody"), "leave --unattended out")
	}
	if dir, err := configDir(e); err == nil {
		x.over.ProfileFolder = profileFolder(dir)
	}
	return cfg, nil
}

// sayMakers says which instruments are the maker's, where the build names none.
func (x *benchFlags) sayMakers(e env, own, cfg *bench.Config) {
	var which []string
	if own.Supply != cfg.Supply && !x.supplyByHand {
		which = append(which, "supply")
	}
	if own.Meter != cfg.Meter && !x.typedMeter {
		which = append(which, "meter")
	}
	if own.Relays != cfg.Relays {
		which = append(which, "relays")
	}
	if config, err := configDir(e); err == nil && which != nil {
		wrap(e.stderr, "note: ", "  ", "as written down in "+makersBenchFile(config)+": "+words.List(which))
	}
}

// benchOf is the bench of a build. What its own bench.toml doesn't name stands on
// the maker's, as sealworthy bench has written it down; a port that was given on the
// command line is another instrument than that one.
func benchOf(e env, dir string, over bench.Overrides) (*bench.Config, error) {
	cfg, err := session.ReadBench(dir)
	if err != nil {
		return nil, err
	}
	config, err := configDir(e)
	if err != nil {
		return cfg, nil // no home: there is only the build's
	}
	makers, err := session.ReadBench(config)
	if err != nil {
		return nil, err
	}
	for _, x := range []struct {
		given, has string
		forget     func()
	}{
		{over.SupplyPort, makers.Supply.Port, func() { makers.Supply = bench.Supply{} }},
		{over.MeterPort, makers.Meter.Port, func() { makers.Meter = bench.Meter{} }},
		{over.RelaysPort, makers.Relays.Port, func() { makers.Relays = bench.Relays{} }},
	} {
		if x.given != "" && x.given != x.has {
			x.forget()
		}
	}
	return cfg.Over(makers), nil
}

// on opens the bench of a build, does something on it and closes it.
func (x *benchFlags) on(ctx context.Context, e env, w world, b build, do func(*session.Session) error) (err error) {
	cfg, err := x.config(e, w, b.dir)
	if err != nil {
		return err
	}
	s, leave := sitDown(e, w, !x.unattended)
	defer leave()
	u, err := s.use(ctx, e, w, b, cfg, x.over)
	if err != nil {
		return err
	}
	defer u.Bench.Close()
	return do(u)
}
