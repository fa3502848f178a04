package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/returns"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/wire"
)

// world is where instruments are opened and time comes from: the machine's own
// ports and clock, or a simulated bench.
type world struct {
	clock    clock.Clock
	open     instruments.Opener
	terminal func(x any) bool // somebody can be asked on x
}

// machine is the world of a command that was typed.
func machine() world {
	c := clock.Wall{}
	return world{c, wire.Serial(c, nil, nil), isTerminal}
}

// atJack is what the verbs take that measure the whole model at its jack.
type atJack struct {
	world        world
	over         bench.Overrides
	unattended   bool
	resume, hold bool
	seed         uint64
	ambient      float64
	warm, trace  time.Duration
	asJSON       bool
}

func (a *atJack) declare(f *flag.FlagSet) {
	f.StringVar(&a.over.SupplyPort, "supply", "", "`port` of the supply")
	f.StringVar(&a.over.MeterPort, "meter", "", "`port` of the meter")
	f.StringVar(&a.over.RelaysPort, "relays", "", "`port` of a relay board that closes the jack (a simulated bench)")
	f.BoolVar(&a.unattended, "unattended", false, "ask nothing")
	f.BoolVar(&a.resume, "resume", false, "go on with the latest test of this stage")
	f.BoolVar(&a.hold, "hold", false, "when the meter is lost keep the output on at its limit, instead of off")
	f.Uint64Var(&a.seed, "seed", 0, "`number` that the spacing of readings is drawn by; 0: by the time")
	f.Float64Var(&a.ambient, "room", noRoom, "room temperature in `degC`; left out: unknown")
	f.DurationVar(&a.warm, "warm", returns.Warm, "how `long` the model is on before it is read")
	f.BoolVar(&a.asJSON, "json", false, "print the result as JSON")
}

// declareTrace adds how long a trace is, for the verbs that take one.
func (a *atJack) declareTrace(f *flag.FlagSet) {
	f.Func("trace", "how `long` each trace is, as 20s; left out: half a minute, or what the slowest blinker needs", func(s string) (err error) {
		a.trace, err = time.ParseDuration(s)
		return err
	})
}

// measures: a test is to be run.
func (a *atJack) measures() bool {
	return a.over.SupplyPort != "" || a.over.MeterPort != "" || a.unattended || a.resume
}

// leastTrace is how long a trace is at least: of a slow meter it holds a few
// readings then.
const leastTrace = 2 * time.Second

// somebody: a test that asks needs a terminal to ask on.
func (a *atJack) somebody(e env) error {
	if a.trace != 0 && a.trace < leastTrace {
		return withHint(&usageError{fmt.Sprintf("--trace takes %v or more", leastTrace)}, "leave it out for what the model needs")
	}
	if !a.unattended && !a.world.terminal(e.stdin) {
		return withHint(errors.New("nobody to ask: the input is no terminal"), "--unattended asks nothing; the clips must be on the model's plug then")
	}
	return nil
}

// open opens the bench that the build and the flags name, and says what to be
// careful with.
func (a *atJack) open(ctx context.Context, e env, b build, f *face, g *capture.Guard) (*benchSet, error) {
	cfg, err := b.readBench()
	if err != nil {
		return nil, err
	}
	if dir, err := configDir(e); err == nil {
		a.over.ProfileFolder = profileFolder(dir)
	}
	bs, err := openAwake(ctx, a.world.clock, a.world.open, b, cfg, a.over, f, g)
	if err != nil {
		return nil, err
	}
	for _, s := range cautions(b.plan) {
		f.wrapped("  caution: ", s)
	}
	return bs, nil
}

// measure runs a sitting of the whole model and returns its file.
func (a *atJack) measure(ctx context.Context, e env, b build, stage string, o compare.WholeOptions, say ...string) (string, error) {
	if err := a.somebody(e); err != nil {
		return "", err
	}
	guard := capture.NewGuard(a.world.clock)
	face := newFace(e, !a.unattended, guard.Go)
	defer watchSignals(e, guard)()
	bs, err := a.open(ctx, e, b, face, guard)
	if err != nil {
		return "", err
	}
	defer bs.Close()
	for _, s := range say {
		face.wrapped("  ", s)
	}
	return a.sitting(stage, o, guard, a.world.clock.Now()).run(ctx, e, b, bs, jackFace{face})
}

// sitting is the test of the whole model at a stage.
func (a *atJack) sitting(stage string, o compare.WholeOptions, guard *capture.Guard, now time.Time) sitting {
	o.Warm = a.warm
	if o.For == 0 {
		o.For = a.trace
	}
	s := sitting{stage: stage, seed: a.seed, resume: a.resume, hold: a.hold, guard: guard, whole: &o}
	if s.seed == 0 {
		s.seed = uint64(now.UnixNano())
	}
	if a.ambient > noRoom {
		s.ambient = &a.ambient
	}
	return s
}
