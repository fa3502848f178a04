package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"slices"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
	"sealworthy/compare/wiring"
)

const measureHelp = `sealworthy measure BUILD [--closure NAME] [--stage loose|fitted|closed|...]

The power-on test: powers each feed of a closure in turn, reads it, and says at
once whether it is as it should be. It asks with one line each; Enter gives the
first answer, but a look passes only with a. What is typed before a question, or
within 0.3 s of it, doesn't count; ? explains, u takes the last answer back, q
stops.
The output is off at every question that needs your hands, and on every way out.
But clips are felt for, in any order, while it's live with a few mA at 3 V: the
screen says SENSING then, which isn't off; o switches off, to solder. Where that
isn't safe, or nothing would be felt, it says why and asks for each clip.
meter, at a question, takes another one from now on: its fuse is asked for, the
bench is proved with it, and what the old one settled stands.
Killed (SIGKILL, SIGABRT), broken down in its runtime or without power, the
program can't switch off: the supply's limit, set for each step, holds then.

Ports come from BUILD/bench.toml or from the flags. Without --closure every
closure is tested, inner ones first. q or Ctrl-C ends it safely;
--resume goes on.

Each feed is measured alone. Where a clip can't be taken off any more, --added
measures each steady group on top of those that are on; where the wires are
joined for good, --joined measures the closure as one.

Parts that were measured and looked at loose settle more when they're fitted:
what they draw is known then, and one light that goes dark since shows even
where the plan alone would leave it open. What was dark loose stays in doubt.

What was touched or decided since is told without a test, too:
  --redo GROUP, --skip FEED, --rework PLACE, --accept GROUP, --allow CHECK,
  --tick ITEM, --seen TEXT, --touched nothing (or PLACE)
Nothing is ready to close before you said, last of all, what was touched.

What may burn by the plan isn't powered, unless its check is allowed by name;
nothing goes above what bench.toml says under [never_above].

Exit status: 0 ready to close, every closure asked for; 3 keep open; 4 look
first, not settled or closed by choice; 1 failure, 2 usage.`

// names is a flag that may be given several times.
type names []string

func (n *names) String() string     { return strings.Join(*n, ", ") }
func (n *names) Set(s string) error { *n = append(*n, s); return nil }

// measureFlags is what the verb takes.
type measureFlags struct {
	benchFlags
	beside                      *session.Beside // what is told goes into the sitting that it reaches
	closure, stage              string
	added, joined               bool
	asJSON, noSweep, oneVoltage bool
	handsFree, handsSaid        bool
	only, redo, skip            names
	rework, accept, allow, tick names
	touched                     names
	seen, reason                string
}

func (m *measureFlags) declare(f *flag.FlagSet) {
	m.declareBench(f)
	f.StringVar(&m.closure, "closure", "", "the `closure` to test; else all of them")
	f.BoolVar(&m.added, "added", false, "measure each steady group on top of those that are on")
	f.BoolVar(&m.joined, "joined", false, "the wires are joined for good: measure the closure as one")
	f.BoolVar(&m.prove, "prove", true, "prove the bench first: clips open, clips together, a known resistor (about "+
		"30 s);\n--prove=false leaves it out")
	f.BoolVar(&m.noSweep, "no-sweep", false,
		"at stage fitted: leave out the voltage sweep that a return is later compared with")
	f.BoolVar(&m.oneVoltage, "one-voltage", false,
		"leave out the second voltage at which a group of several kinds of branches is read")
	f.BoolVar(&m.handsFree, "hands-free", true, "feel for what you clip on, in any order, by a little current, "+
		"where that is safe;\n=false asks for each clip. With --events only where it's given")
	f.BoolVar(&m.asJSON, "json", false, "print the findings as JSON")
	f.Var(&m.only, "only", "only this `feed` (a group or a board); may be given again")
	f.Var(&m.redo, "redo", "measure this `group` anew; may be given again")
	f.Var(&m.skip, "skip", "leave this `feed` out, with --reason; may be given again")
	f.Var(&m.rework, "rework", "this `place` (joint, board or group) was touched: what lies behind it counts as not "+
		"measured")
	f.Var(&m.touched, "touched", "what you touched since it was measured and looked at: \"nothing\", or a `place` "+
		"as with --rework; it\nis recorded after all else that is told")
	f.Var(&m.accept, "accept", "close over this `group` as it is, with --reason")
	f.Var(&m.tick, "tick", "you saw that this `item` is in --closure: for what no test tells of; may be given again")
	f.Var(&m.allow, "allow", "take this `check` of the plan as it is, with --reason: what may burn by it is powered")
	f.StringVar(&m.seen, "seen", "", "the `text` of what you saw when it was lit: of --closure \"all right\", or of "+
		"groups\n\"GROUP: 2 of 12 dark; GROUP: all right\", counted \"GROUP: all right, 12 lit\", read on the\n"+
		"pieces \"GROUP: all right, 470 ohm read\"; each must have been lit since it was touched")
	f.StringVar(&m.reason, "reason", "", "the `text` that says why, for --skip, --accept, --allow and --rework")
}

// declareBench declares what a verb that measures feeds takes of the bench.
func (m *measureFlags) declareBench(f *flag.FlagSet) {
	m.alone = "--unattended asks nothing; it needs relays to switch the groups"
	f.StringVar(&m.stage, "stage", compare.Fitted, "the `stage`: loose, fitted, closed, delivered or returned")
	m.declarePorts(f)
	m.declareHands(f)
	m.declareTest(f, "`port` of the relay board")
}

func runMeasure(ctx context.Context, e env, args []string) (int, error) {
	return measureIn(ctx, e, machine(), args)
}

func measureIn(ctx context.Context, e env, w world, args []string) (int, error) {
	f := newFlags(e, "measure", measureHelp)
	var m measureFlags
	m.declare(f)
	dir, err := parseBuild(f, args)
	if err != nil {
		return exitUsage, err
	}
	if (len(m.skip) > 0 || len(m.accept) > 0 || len(m.allow) > 0) && strings.TrimSpace(m.reason) == "" {
		return exitUsage, misuse("measure", "--skip, --accept and --allow need a reason: --reason TEXT")
	}
	if m.joined && (m.added || len(m.only) > 0) {
		return exitUsage, misuse("measure", "--joined measures a closure as one: leave out --added and --only")
	}
	f.Visit(func(x *flag.Flag) { m.handsSaid = m.handsSaid || x.Name == "hands-free" })
	return m.spoken(e, w, func(e env) (int, error) { return m.run(ctx, e, w, dir, args) })
}

// feels: clips are felt for, where the bench can. By hand it can't, and a program may
// not know those questions: there it is done only where it's asked for.
func (m measureFlags) feels() bool {
	return m.handsFree && (m.handsSaid || !m.events && !m.supplyByHand && !m.typedMeter)
}

// run tells, tests and reports.
func (m *measureFlags) run(ctx context.Context, e env, w world, dir string, args []string) (int, error) {
	b, err := openBuild(e, dir)
	if err != nil {
		return exitFailure, err
	}
	if m.tells() {
		if err := m.tell(e, b); err != nil {
			return exitFailure, err
		}
		if !m.tests() {
			return m.report(e, b, "")
		}
	}
	file, err := m.test(ctx, e, w, b)
	switch {
	case stopped(err) && file != "":
		defer func() { fmt.Fprintf(e.stderr, "Stopped. To go on:\n%s\n", folded(resumeCommand("measure", args))) }()
	case err != nil:
		return exitFailure, broken(err, file, "measure", args)
	}
	return m.report(e, b, file)
}

// way is how the feeds get their current; empty: each alone.
func (m measureFlags) way() capture.Way {
	switch {
	case m.added:
		return capture.Added
	case m.joined:
		return capture.Joined
	}
	return ""
}

// tells: something is to be recorded without a test.
func (m measureFlags) tells() bool {
	return len(m.rework) > 0 || len(m.accept) > 0 || len(m.allow) > 0 || len(m.tick) > 0 || len(m.skip) > 0 ||
		len(m.touched) > 0 || m.seen != ""
}

// tests: a test is to be run, too.
func (m measureFlags) tests() bool { return m.measures() || len(m.redo) > 0 }

// test opens the bench and runs the sitting.
func (m measureFlags) test(ctx context.Context, e env, w world, b build) (file string, err error) {
	if err := m.check(b.plan); err != nil {
		return "", err
	}
	err = m.on(ctx, e, w, b, func(u *session.Session) error {
		s := m.sitting(m.stage)
		s.Closure, s.Feeds, s.Way, s.Redo = m.closure, m.only, m.way(), m.redo
		s.HandsFree = m.feels()
		s.Sweep, s.OneVoltage = m.stage == compare.Fitted && !m.noSweep, m.oneVoltage
		s.Prove = m.proves()
		file, err = u.Run(ctx, s)
		return err
	})
	return file, err
}

// check looks at names before anything else is asked for: a closure, a feed or
// a group that isn't there is the first thing to know.
func (m measureFlags) check(p *plan.Plan) error {
	bud, err := compare.NewExpected(p).At(scene.Scene{Loose: m.stage == compare.Loose})
	if err != nil {
		return err
	}
	var feeds []string
	for _, t := range wiring.Terminals(p) {
		feeds = append(feeds, t.Name)
	}
	for _, x := range m.only {
		if !slices.Contains(feeds, x) {
			return withHint(fmt.Errorf("the plan has no feed %q", x), "its feeds are: "+strings.Join(feeds, ", "))
		}
	}
	if _, err := compare.Steps(p, bud, compare.StepOptions{Stage: m.stage, Closure: m.closure, Feeds: m.only,
		Way: m.way()}); err != nil {
		return err
	}
	for _, x := range m.redo {
		if !isGroup(p, x) && p.BoardAt(x) < 0 {
			return unknownPlace(p, x)
		}
	}
	return nil
}

// proves: a new test with somebody there begins with the bench; what is gone on with
// doesn't, but with another instrument than before; what needs no port doesn't.
func (m measureFlags) proves() bool {
	return m.prove && !m.unattended && !m.supplyByHand && !m.typedMeter && !m.resume &&
		len(m.redo) == 0 && len(m.only) == 0
}

// report prints the findings after a test.
func (m measureFlags) report(e env, b build, file string) (int, error) {
	leads, err := b.leads()
	if err != nil {
		return exitFailure, err
	}
	cs, _, err := b.findings(e, m.closure, leads)
	if err != nil {
		return exitFailure, err
	}
	if m.asJSON || m.events {
		return exitOf(cs), e.found(whatIsMeasured{Closures: cs})
	}
	if file != "" {
		fmt.Fprintln(e.stdout) // what was said during the test stands above
	}
	sayFindings(e.stdout, colour(e), cs, nil, false)
	if file != "" {
		fmt.Fprintf(e.stdout, "\nkept in %s\nsheet:  sealworthy sheet %s\n", file, quoted(b.dir))
	}
	return exitOf(cs), nil
}

// tell writes marks into the latest sitting of the stage, or begins one.
func (m measureFlags) tell(e env, b build) error {
	marks, err := reworkMarks(b, m.rework, m.reason)
	if err != nil {
		return err
	}
	for _, x := range m.accept {
		if !isGroup(b.plan, x) {
			return unknownPlace(b.plan, x)
		}
		if b.passes(e, x) {
			return fmt.Errorf("nothing to accept: %q passes", x)
		}
		marks = append(marks, capture.Mark{Kind: capture.MarkAccepted, Feed: x, Groups: []string{x}, Reason: m.reason})
	}
	for _, x := range m.skip {
		ms, err := skipMarks(b.plan, m.stage, x, m.reason)
		if err != nil {
			return err
		}
		marks = append(marks, ms...)
	}
	if len(m.tick) > 0 {
		ms, err := tickMarks(b.plan, m.closure, m.tick)
		if err != nil {
			return err
		}
		marks = append(marks, ms...)
	}
	if len(m.allow) > 0 {
		ms, err := allowMarks(b, m.stage, m.allow, m.reason)
		if err != nil {
			return err
		}
		marks = append(marks, ms...)
	}
	if m.seen != "" {
		seen, err := toldLook(b.plan, m.closure, m.seen)
		if err != nil {
			return err
		}
		f, err := record.ReadDir(b.dir)
		if err != nil {
			return err
		}
		if err := wereLit(b, f, m.stage, seen, marks); err != nil {
			return err
		}
		if judges, known := session.JudgesColours(f); known && !judges && coloursAside(seen) {
			wrap(e.stderr, "note: ", "  ", "colours don't count as judged: it was said before that whoever looks can't "+
				"judge them. Somebody who can is asked in a test: sealworthy measure BUILD --resume")
		}
		ms := lookMarks(b.plan, seen)
		marks = append(marks, ms...)
	}
	last, err := touchedMarks(b, m.touched, m.reason)
	if err != nil {
		return err
	}
	marks = append(marks, last...)
	return b.tell(e, m.stage, marks, m.beside)
}

// tell keeps marks in the sitting that is under way, if one is, else in one of their own.
func (b build) tell(e env, stage string, marks []capture.Mark, beside *session.Beside) error {
	if kept, err := beside.Mark(marks); kept {
		return err
	}
	err := writeMarks(e, b, stage, marks, time.Now())
	if errors.Is(err, record.ErrInUse) { // a sitting may have begun meanwhile
		if kept, err := beside.Mark(marks); kept {
			return err
		}
	}
	return err
}
