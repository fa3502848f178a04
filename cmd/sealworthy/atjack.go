package main

import (
	"context"
	"flag"
	"fmt"
	"time"

	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/returns"
	"sealworthy/instruments/bench"
)

// atJack is what the verbs take that measure the whole model at its jack.
type atJack struct {
	benchFlags
	world       world
	warm, trace time.Duration
	adapter     bool // of keep: the one that goes along is measured, too
	asJSON      bool
}

func (a *atJack) declare(f *flag.FlagSet) {
	a.alone = "--unattended asks nothing; the clips must be on the model's plug then"
	a.declarePorts(f)
	a.declareTest(f, "`port` of a relay board that closes the jack (a simulated bench)")
	f.DurationVar(&a.warm, "warm", returns.Warm, "how `long` the model is on before it is read")
	f.BoolVar(&a.asJSON, "json", false, "print the result as JSON")
}

// declareTrace adds how long a trace is, for the verbs that take one.
func (a *atJack) declareTrace(f *flag.FlagSet) {
	f.Func("trace", "how `long` each trace is, as 20s; left out: half a minute, or what the slowest blinker needs",
		func(s string) (err error) {
			a.trace, err = time.ParseDuration(s)
			return err
		})
}

// leastTrace is how long a trace is at least: of a slow meter it holds a few
// readings then.
const leastTrace = 2 * time.Second

// config is the bench, once it's known that the test can be.
func (a *atJack) config(e env, dir string) (*bench.Config, error) {
	if a.trace != 0 && a.trace < leastTrace {
		return nil, withHint(&usageError{fmt.Sprintf("--trace takes %v or more", leastTrace)},
			"leave it out for what the model needs")
	}
	return a.benchFlags.config(e, a.world, dir)
}

// measure runs a sitting of the whole model and returns its file.
func (a *atJack) measure(ctx context.Context, e env, b build, stage string, o compare.WholeOptions,
	say ...string) (string, error) {
	cfg, err := a.config(e, b.dir)
	if err != nil {
		return "", err
	}
	s, leave := sitDown(e, a.world, !a.unattended)
	defer leave()
	u, err := s.use(ctx, e, a.world, b, cfg, a.over)
	if err != nil {
		return "", err
	}
	defer u.Bench.Close()
	for _, x := range say {
		s.desk.Tell(session.Event{What: session.Cautioned, Text: x})
	}
	return u.Run(ctx, a.sitting(stage, o))
}

// sitting is the test of the whole model at a stage.
func (a *atJack) sitting(stage string, o compare.WholeOptions) session.Sitting {
	o.Warm = a.warm
	if o.For == 0 {
		o.For = a.trace
	}
	s := a.benchFlags.sitting(stage)
	s.Whole = &o
	return s
}
