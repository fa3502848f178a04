package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"sealworthy/cmd/sealworthy/page"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

const nextHelp = `sealworthy next BUILD [--group NAME] [--do]

Says of every group that isn't plainly good what to measure or look at next:
what is expected to tell most for its effort comes first.

With --do it measures: the best comes first, what it told is weighed in, and so
on until one cause stands above 0.9 or nothing more can be learned. The bench is
that of "measure" (bench.toml, or its flags); every reading is kept.

Where the plan itself may be wrong, the change to it stands beside the fault.
--change "PATH = VALUE" makes it: one value, and no other byte of the file.

Exit status: 0 settled, 4 something is left to measure or can't be told.`

func runNext(ctx context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "next", nextHelp)
	var m measureFlags
	m.declareBench(f)
	closure := f.String("closure", "", "only this `closure` and what closes inside it")
	group := f.String("group", "", "only this `group`")
	do := f.Bool("do", false, "measure what is best, until it is settled")
	asJSON := f.Bool("json", false, "print it as JSON")
	change := f.String("change", "", "make this `change` to the plan first, as PATH = VALUE")
	dir, err := parseBuild(f, args)
	if err != nil {
		return exitUsage, err
	}
	w := machine()
	return m.spoken(e, w, func(e env) (int, error) {
		n := nextRun{e: e, w: w, m: m, closure: *closure, group: *group, do: *do, asJSON: *asJSON || m.events}
		return n.run(ctx, dir, *change, args)
	})
}

// run changes the plan, measures and says what could come next: each where it's
// asked to. args are what the verb was called with.
func (n nextRun) run(ctx context.Context, dir, change string, args []string) (int, error) {
	var err error
	if n.b, err = openBuild(n.e, dir); err != nil {
		return exitFailure, err
	}
	if change != "" {
		if n.b, err = changePlan(n.e, n.b, change); err != nil {
			return exitFailure, err
		}
	}
	if n.group != "" && !isGroup(n.b.plan, n.group) {
		return exitFailure, unknownPlace(n.b.plan, n.group)
	}
	if n.do {
		file, err := n.measure(ctx)
		switch {
		case stopped(err):
			defer func() { fmt.Fprintf(n.e.stderr, "Stopped. To go on:\n%s\n", folded(resumeCommand("next", args))) }()
		case err != nil:
			return exitFailure, broken(err, file, "next", args)
		}
	}
	ds, err := n.doubts()
	if err != nil {
		return exitFailure, err
	}
	if n.asJSON {
		return n.exit(ds), n.e.found(whatIsInDoubt{ds})
	}
	sayDoubts(n.e.stdout, colour(n.e), ds)
	if err := n.sayWhatWaits(); err != nil {
		return exitFailure, err
	}
	return n.exit(ds), nil
}

// sayWhatWaits says that no doubt about a group is not yet ready to close.
func (n nextRun) sayWhatWaits() error {
	leads, err := n.b.leads()
	if err != nil {
		return err
	}
	said := n.e
	said.stderr = io.Discard // what is wrong with the record was said with the doubts
	cs, _, err := n.b.findings(said, n.closure, leads)
	if err != nil {
		return err
	}
	var waits []string
	for _, c := range cs {
		if c.Verdict != compare.ReadyToClose {
			waits = append(waits, c.Closure+": "+string(c.Verdict))
		}
	}
	if waits != nil {
		wrap(n.e.stdout, "\n", "", fmt.Sprintf("Not ready to close: %s. sealworthy compare %s says why.",
			strings.Join(waits, ", "), quoted(n.b.dir)))
	}
	return nil
}

// changePlan changes one value of a plan's file and reads it anew.
func changePlan(e env, b build, change string) (build, error) {
	path, value, err := fault.ParseEdit(change)
	if err != nil {
		return b, err
	}
	src, err := fault.Amend(b.src, path, value, plan.Options{Book: b.book})
	if err != nil {
		return b, err
	}
	is, err := b.correct(e, src, change)
	if err == nil || errors.Is(err, page.ErrNotNoted) {
		wrap(e.stderr, "note: ", "  ", fmt.Sprintf("%s changed: %s", b.file, change))
	}
	return is, err
}

// nextRun is one guided diagnosis.
type nextRun struct {
	e              env
	w              world
	b              build
	m              measureFlags
	closure, group string
	do, asJSON     bool
}

// doubts reads what is recorded and ranks what could come next.
func (n nextRun) doubts() ([]compare.Doubt, error) {
	leads, err := n.b.leads()
	if err != nil {
		return nil, err
	}
	j, err := n.b.judge(leads)
	if err != nil {
		return nil, err
	}
	f, err := n.b.history(n.e)
	if err != nil {
		return nil, err
	}
	return session.Diagnosis{Closure: n.closure, Group: n.group}.Doubts(f, j, "")
}

// measure does the best measurement of all groups, again and again. file is what the last
// was kept in.
func (n nextRun) measure(ctx context.Context) (file string, err error) {
	err = n.m.on(ctx, n.e, n.w, n.b, func(u *session.Session) error {
		file, err = u.Diagnose(ctx, session.Diagnosis{How: n.m.sitting(n.m.stage), Closure: n.closure, Group: n.group})
		return err
	})
	return file, err
}

func (n nextRun) exit(ds []compare.Doubt) int {
	for _, d := range ds {
		if !d.Settled {
			return exitNotReady
		}
	}
	return exitReady
}

// sayDoubts prints each group with what is likely and what comes next.
func sayDoubts(w io.Writer, k ink, ds []compare.Doubt) {
	if len(ds) == 0 {
		fmt.Fprintln(w, "Nothing is in doubt: every group that was measured is as it should be.")
		return
	}
	for i, d := range ds {
		if i > 0 {
			fmt.Fprintln(w)
		}
		fmt.Fprintf(w, "%s  %s\n", k.verdict(d.Verdict, string(d.Verdict)), k.loud(d.Group))
		if d.Settled {
			wrap(w, "  settled: ", "    ", d.Answer)
			continue
		}
		if d.Healthy >= 0.01 {
			wrap(w, "  ", "    ", fmt.Sprintf("nothing wrong: %s", words.Sureness(d.Healthy)))
		}
		for _, c := range d.Causes {
			text := c.Text
			if c.P > 0 {
				text = words.Sureness(c.P) + ": " + text
			}
			wrap(w, "  ", "    ", text)
			if c.Edit != "" {
				wrap(w, "    to change the plan: ", "      ", c.Edit)
			}
		}
		if len(d.Next) == 0 {
			fmt.Fprintln(w, "  nothing more can be learned from the bench: look at it, part by part")
		}
		for n, x := range d.Next {
			lead := "  then: "
			if n == 0 {
				lead = "  next: "
			}
			what := x.What
			if x.Bits > 0 {
				what += " (" + tells(x.Bits) + ")"
			}
			wrap(w, lead, "        ", what)
		}
	}
}

// tells is how much is to be expected of a measurement.
func tells(bits float64) string {
	switch {
	case bits >= 0.6:
		return "tells much"
	case bits >= 0.25:
		return "tells something"
	}
	return "tells little"
}
