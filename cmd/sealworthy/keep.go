package main

import (
	"context"

	"sealworthy/compare"
	"sealworthy/compare/returns"
)

func runKeep(ctx context.Context, e env, args []string) (int, error) {
	return keepIn(ctx, e, machine(), args)
}

func keepIn(ctx context.Context, e env, w world, args []string) (int, error) {
	f := newFlags(e, "keep", `sealworthy keep BUILD [--supply PORT --meter PORT]

Keeps the signature of a finished model, before it leaves: after ten minutes
warm the whole model is measured at its jack, a trace and a voltage sweep for
each pace. With the curves of the groups, kept at the power-on test, it is what
a return is compared with. Says what can't be told apart from the jack later.

Without ports, what was measured last is kept. Nothing is written over.
--resistor OHM reads a resistor in the model's place, too, by the same meter:
one that draws about half of what the model draws, and takes its watts. Put it
away with the model's papers. Read again at a return it tells what that meter
and this one differ by, so that less has to be put down to the model.

--adapter asks for the adapter that goes along, alone, idle and on a resistor:
at a return it's known then what it gave when it was new.`)
	a := atJack{world: w}
	a.declare(f)
	a.declareTrace(f)
	stage := f.String("stage", compare.Delivered, "the `stage`: closed or delivered")
	f.BoolVar(&a.adapter, "adapter", false, "ask for the adapter that goes along, too")
	resistor := f.Float64("resistor", 0, "read a resistor of `ohm` in the model's place, too")
	one := f.Bool("one-pace", false, "only the pace of power-on: the buttons can't be reached")
	dir, err := parseBuild(f, args)
	if err != nil {
		return exitUsage, err
	}
	if *stage != compare.Closed && *stage != compare.Delivered {
		return exitUsage, misuse("keep", "a signature is taken at stage closed or delivered, not %q", *stage)
	}
	switch {
	case *resistor < 0:
		return exitUsage, misuse("keep", "--resistor takes ohms above 0")
	case *resistor > 0 && (a.unattended || !a.measures()):
		return exitUsage, misuse("keep", "--resistor is put between the clips by somebody, while the model is measured")
	}
	return a.spoken(e, w, func(e env) (int, error) {
		return a.keep(ctx, e, dir, *stage, compare.WholeOptions{AllPaces: !*one, ResistorOhm: *resistor}, args)
	})
}

// keep measures, where it's asked to, and keeps the signature.
func (a *atJack) keep(ctx context.Context, e env, dir, stage string, o compare.WholeOptions, args []string) (int,
	error) {
	b, err := openBuild(e, dir)
	if err != nil {
		return exitFailure, err
	}
	if a.measures() {
		if file, err := a.measure(ctx, e, b, stage, o); err != nil {
			return exitFailure, broken(err, file, "keep", args)
		}
	}
	s, file, err := b.keep(e)
	if err != nil {
		return exitFailure, withHint(err, "sealworthy keep BUILD --supply PORT --meter PORT measures the whole model")
	}
	if a.asJSON || a.events {
		err = e.found(s)
	} else {
		sayKept(e.stdout, s, file)
	}
	if err != nil || !a.adapter || a.unattended {
		return exitReady, err
	}
	return a.along(ctx, e, b, s)
}

// along asks for the adapter that goes along, and says what it is good for.
func (a *atJack) along(ctx context.Context, e env, b build, sig *returns.Signature) (int, error) {
	cfg, err := a.config(e, b.dir)
	if err != nil {
		return exitFailure, err
	}
	s, leave := sitDown(e, a.world, true)
	defer leave()
	u, err := s.session(e, a.world, b, cfg)
	if err != nil {
		return exitFailure, err
	}
	ad, err := u.Along(ctx, sig)
	if err != nil || ad == nil {
		return exitReady, err
	}
	says := ad.Says(b.plan, sig)
	wrap(e.stdout, "adapter: ", "         ", says.Text)
	if says.Faulty {
		wrap(e.stdout, "", "", "Don't send it along.")
		return exitNotReady, nil
	}
	return exitReady, nil
}
