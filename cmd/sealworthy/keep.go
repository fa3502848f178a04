package main

import (
	"context"

	"sealworthy/compare"
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

Without ports, what was measured last is kept. Nothing is written over.`)
	a := atJack{world: w}
	a.declare(f)
	a.declareTrace(f)
	stage := f.String("stage", compare.Delivered, "closed or delivered")
	one := f.Bool("one-pace", false, "only the pace of power-on: the buttons can't be reached")
	dir, err := parseBuild(f, args)
	if err != nil {
		return exitUsage, err
	}
	if *stage != compare.Closed && *stage != compare.Delivered {
		return exitUsage, misuse("keep", "a signature is taken at stage closed or delivered, not %q", *stage)
	}
	return a.spoken(e, w, func(e env) (int, error) {
		return a.keep(ctx, e, dir, *stage, compare.WholeOptions{AllPaces: !*one}, args)
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
			return exitFailure, broken(err, file, append([]string{"keep"}, args...))
		}
	}
	s, file, err := b.keep(e)
	if err != nil {
		return exitFailure, withHint(err, "sealworthy keep BUILD --supply PORT --meter PORT measures the whole model")
	}
	if a.asJSON || a.events {
		return exitReady, e.found(s)
	}
	sayKept(e.stdout, s, file)
	return exitReady, nil
}
