package main

import (
	"context"
	"errors"
	"flag"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/signature"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/wire"
)

// atJack is what the verbs take that measure the whole model at its jack.
type atJack struct {
	over         bench.Overrides
	unattended   bool
	resume, hold bool
	seed         uint64
	ambient      float64
	warm         time.Duration
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
	f.DurationVar(&a.warm, "warm", signature.Warm, "how `long` the model is on before it is read")
	f.BoolVar(&a.asJSON, "json", false, "print the result as JSON")
}

// measures: a test is to be run.
func (a *atJack) measures() bool {
	return a.over.SupplyPort != "" || a.over.MeterPort != "" || a.unattended || a.resume
}

// measure runs a sitting of the whole model and returns its file.
func (a *atJack) measure(ctx context.Context, e env, b build, stage string, o compare.WholeOptions, say []string) (string, error) {
	if !a.unattended && !isTerminal(e.stdin) {
		return "", withHint(errors.New("nobody to ask: the input is no terminal"), "--unattended asks nothing; the clips must be on the model's plug then")
	}
	cfg, err := b.readBench()
	if err != nil {
		return "", err
	}
	if dir, err := configDir(e); err == nil {
		a.over.ProfileFolder = profileFolder(dir)
	}
	c := clock.Wall{}
	face := newFace(e, !a.unattended)
	guard := capture.NewGuard(c)
	defer watchSignals(e, guard)()
	bs, err := openBench(ctx, c, wire.Serial(c, nil, nil), b, cfg, a.over, face)
	if err != nil {
		return "", err
	}
	defer bs.Close()
	for _, s := range cautions(b.plan) {
		face.wrapped("  caution: ", s)
	}
	for _, s := range say {
		face.wrapped("  ", s)
	}
	return a.sitting(stage, o, guard, c.Now()).run(ctx, e, b, bs, face)
}

// sitting is the test of the whole model at a stage.
func (a *atJack) sitting(stage string, o compare.WholeOptions, guard *capture.Guard, now time.Time) sitting {
	o.Warm = a.warm
	s := sitting{stage: stage, seed: a.seed, resume: a.resume, hold: a.hold, guard: guard, whole: &o}
	if s.seed == 0 {
		s.seed = uint64(now.UnixNano())
	}
	if a.ambient > noRoom {
		s.ambient = &a.ambient
	}
	return s
}
