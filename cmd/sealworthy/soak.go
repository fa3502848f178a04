package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare"
	"sealworthy/compare/returns"
	"sealworthy/compare/words"
	"sealworthy/instruments"
)

func runSoak(ctx context.Context, e env, args []string) (int, error) {
	return soakIn(ctx, e, machine(), args)
}

func soakIn(ctx context.Context, e env, w world, args []string) (int, error) {
	f := newFlags(e, "soak", `sealworthy soak BUILD --supply PORT --meter PORT [--for 4h]

Leaves the whole model on at its service voltage for hours and watches it: drops
of the draw (a contact that opens when it's warm) with their times, and drift.
Somebody has to be in the house: heat in a closed hull is what it looks for.
Without ports, what was recorded last is told again.

Exit status: 0 steady, 3 drops or drift, 1 failure, 2 usage.`)
	a := atJack{world: w}
	a.declare(f)
	hours := f.Duration("for", 4*time.Hour, "how `long`")
	stage := f.String("stage", compare.Closed, "the `stage`: closed, delivered or returned")
	dir, err := parseBuild(f, args)
	if err != nil {
		return exitUsage, err
	}
	if *hours < time.Minute || *hours > 7*24*time.Hour {
		return exitUsage, misuse("soak", "--for takes a minute to a week")
	}
	return a.spoken(e, w, func(e env) (int, error) { return a.soak(ctx, e, dir, *stage, *hours, args) })
}

// soak watches, where it's asked to, and tells what was recorded last.
func (a *atJack) soak(ctx context.Context, e env, dir, stage string, hours time.Duration, args []string) (int, error) {
	b, err := openBuild(e, dir)
	if err != nil {
		return exitFailure, err
	}
	if a.measures() {
		a.warm = 0
		if file, err := a.measure(ctx, e, b, stage, soakOptions(hours),
			"stay in the house, and feel the hull now and then: it may get warm, not hot"); err != nil {
			return exitFailure, broken(err, file, "soak", args)
		}
	}
	found, ts, err := b.soaked(e)
	if err != nil {
		return exitFailure, err
	}
	status := exitReady
	if found.Changed || len(found.Drops) > 0 {
		status = exitKeepOpen
	}
	if a.asJSON || a.events {
		return status, e.found(whatIsSoaked{found, ts})
	}
	saySoaked(e.stdout, colour(e), found, ts, e.here())
	return status, nil
}

// soakOptions is one long trace, some two readings a second.
func soakOptions(d time.Duration) compare.WholeOptions {
	return compare.WholeOptions{For: d, NoSweep: true, Spacing: 500 * time.Millisecond}
}

// soaked reads what was recorded last.
func (b build) soaked(e env) (*returns.Soaked, []returns.Trend, error) {
	leads, err := b.leads()
	if err != nil {
		return nil, nil, err
	}
	f, err := b.history(e)
	if err != nil {
		return nil, nil, err
	}
	s, err := b.signature()
	if err != nil {
		s = nil // a soak before anything was kept: the trace alone speaks
	}
	w, err := returns.Soak(b.plan, s, f.Kept(), func(of capture.StepRecord, each func(instruments.Reading)) error {
		return record.Again(os.DirFS(b.dir), of, each)
	}, b.here)
	return w, returns.Trends(f.Kept(), returns.Leads{Ohm: leads.Ohm}), err
}

func saySoaked(w io.Writer, k ink, s *returns.Soaked, ts []returns.Trend, where *time.Location) {
	verdict := k.good("+ steady")
	if s.Changed || len(s.Drops) > 0 {
		verdict = k.bad("! not steady")
	}
	fmt.Fprintf(w, "%s: %s\n", k.loud(fmt.Sprintf("%.1f h on, stage %s", s.Hours, s.Stage)), verdict)
	wrap(w, "  ", "  ", fmt.Sprintf("%d readings, mean %.1f mA, drift %+.2f %% an hour, give or take %.2f", s.Readings,
		1e3*s.MeanA, 100*s.DriftPerH, 200*s.DriftU))
	const most = 12
	for i, d := range s.Drops {
		if i == most {
			wrap(w, "  intermittent: ", "    ", fmt.Sprintf("and %d more", len(s.Drops)-most))
			break
		}
		wrap(w, "  intermittent: ", "    ", d.Text)
	}
	wrap(w, "  note: ", "        ", fmt.Sprintf("a drop shorter than %.1f s may go unseen", s.ShortestS))
	if s.Unjudged > 0 {
		wrap(w, "  note: ", "        ", fmt.Sprintf("%d stretches of two minutes could not be judged: what blinks "+
			"in them isn't known well enough (keep a signature first)", s.Unjudged))
	}
	sayTrends(w, ts, where)
	if s.Simulated {
		fmt.Fprintln(w, "  The bench was simulated: no real model stands behind it.")
	}
}

// sayTrends prints what the whole model drew at its stages.
func sayTrends(w io.Writer, ts []returns.Trend, where *time.Location) {
	for i, t := range ts {
		line := fmt.Sprintf("%s %-10s %s", words.Day(t.At, where), t.Stage, words.Milliamps(t.MeanA, t.U))
		if i > 0 {
			line += fmt.Sprintf(", %+.1f %% against the first, give or take %.1f", 100*t.Rel, 200*t.RelU)
		}
		wrap(w, "  trend: ", "         ", line)
	}
}
