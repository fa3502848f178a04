package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/scene"
	"sealworthy/instruments/bench"
)

const leftHelp = `sealworthy left [BUILD]

What is done of a build, what is left to do, how long it takes, and what comes
first. In the folder of a build, sealworthy alone says the same.

Exit status: 0 every closure is ready to close, 3 one is to be kept open, 4 for
all else.`

// closureLeft is what is done and left of one closure.
type closureLeft struct {
	Closure  string                 `json:"closure"`
	Inside   string                 `json:"inside,omitempty"`
	Verdict  compare.ClosureVerdict `json:"verdict"`
	Groups   int                    `json:"groups"`
	Measured int                    `json:"measured"` // of the groups
	Looked   int                    `json:"looked_at"`
	LeftS    float64                `json:"left_s,omitempty"` // of the test, about; 0: nothing, or nobody knows
	Reason   string                 `json:"reason,omitempty"` // the first that stands against it
}

// buildLeft is what is done and left of a build.
type buildLeft struct {
	Build    string        `json:"build"`
	Closures []closureLeft `json:"closures"` // in the order of a test: inner before outer
	Wrong    int           `json:"wrong"`    // in the plan, and not accepted
	Bench    bool          `json:"bench"`    // what stands on the bench is written down
	First    string        `json:"first"`    // what to do next, in words
	Command  string        `json:"command"`  // and as it is typed
}

func runLeft(_ context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "left", leftHelp)
	asJSON := f.Bool("json", false, "print it as JSON")
	dir, err := parseBuild(f, args)
	if err != nil {
		return exitUsage, err
	}
	b, err := openBuild(e, dir)
	if err != nil {
		return exitFailure, err
	}
	left, status, err := b.left(e)
	if err != nil {
		return exitFailure, err
	}
	if *asJSON {
		return status, writeJSON(e.stdout, left)
	}
	left.say(e.stdout, colour(e))
	return status, nil
}

// left reads what is recorded and says what isn't done yet.
func (b build) left(e env) (buildLeft, int, error) {
	out := buildLeft{Build: b.plan.Build}
	leads, err := b.leads()
	if err != nil {
		return out, exitFailure, err
	}
	cs, h, err := b.findings(e, "", leads)
	if err != nil {
		return out, exitFailure, err
	}
	j, err := b.judge(leads)
	if err != nil {
		return out, exitFailure, err
	}
	bud, err := j.Expected.At(scene.Scene{LeadsOhm: leads.Ohm, LeadsHalfOhm: leads.HalfOhm})
	if err != nil {
		return out, exitFailure, err
	}
	for _, c := range bud.Checks {
		if c.Severity == "wrong" {
			out.Wrong++
		}
	}
	cfg, err := benchOf(e, b.dir, bench.Overrides{})
	if err != nil {
		return out, exitFailure, err
	}
	_, statErr := os.Stat(filepath.Join(b.dir, benchFile))
	out.Bench = statErr == nil || cfg.Supply != (bench.Supply{})
	hist := compare.HistoryOf(h)
	for _, c := range cs {
		x := leftOf(c)
		if c.Verdict != compare.ReadyToClose && c.Verdict != compare.ClosedByChoice {
			o := compare.StepOptions{Stage: compare.Fitted, Closure: c.Closure, Sweep: true}
			if steps, err := compare.Steps(b.plan, bud, o); err == nil {
				byHand := cfg.Relays.Port == ""
				done := compare.StillDone(b.plan, hist, steps, fittedSteps(h.Kept()))
				x.LeftS = compare.NewGuide(j, bud, steps, byHand).Remaining(done).Seconds()
			}
		}
		out.Closures = append(out.Closures, x)
	}
	out.first(quotedBuild(b.dir))
	return out, exitOf(cs), nil
}

// fittedSteps are those of the stage at which a closure becomes ready.
func fittedSteps(steps []capture.StepRecord) []capture.StepRecord {
	return slices.DeleteFunc(slices.Clone(steps), func(r capture.StepRecord) bool {
		return r.Stage != compare.Fitted || r.Outcome != capture.Measured
	})
}

// quotedBuild is a build's folder as it's typed: nothing where the maker stands in it.
func quotedBuild(dir string) string {
	if dir == "." {
		return ""
	}
	return " " + quoted(dir)
}

func leftOf(c compare.ClosureFinding) closureLeft {
	x := closureLeft{Closure: c.Closure, Inside: c.Inside, Verdict: c.Verdict}
	var groups, measured, looked []string
	for _, g := range c.Groups {
		if !slices.Contains(groups, g.Group) {
			groups = append(groups, g.Group)
		}
		if g.Readings > 0 && !slices.Contains(measured, g.Group) {
			measured = append(measured, g.Group)
		}
		if g.Looked && !g.NoColours && !slices.Contains(looked, g.Group) {
			looked = append(looked, g.Group)
		}
	}
	x.Groups, x.Measured, x.Looked = len(groups), len(measured), len(looked)
	if len(c.Reasons) > 0 && c.Verdict != compare.ReadyToClose {
		x.Reason = c.Reasons[0]
	}
	return x
}

// first decides what comes first: what is wrong in the plan, then the bench, then
// closures from the inside out.
func (l *buildLeft) first(dir string) {
	next := -1
	for i, c := range l.Closures {
		// What hides no group is no test's: it waits for the others.
		open := c.Verdict != compare.ReadyToClose && c.Verdict != compare.ClosedByChoice
		if open && (next < 0 || l.Closures[next].Groups == 0 && c.Groups > 0) {
			next = i
		}
	}
	switch {
	case next >= 0 && l.Wrong > 0 && l.Closures[next].Measured == 0:
		l.First, l.Command = "mend what is wrong in the plan", "sealworthy budget"+dir
		return
	case next < 0:
		l.First, l.Command = "nothing is left to test: close from the inside out, and keep the signature before it "+
			"leaves", "sealworthy keep"+dir
		return
	}
	c := l.Closures[next]
	at := dir + " --closure " + quoted(c.Closure)
	inner := ""
	if c.Inside != "" {
		inner = ", which closes inside " + c.Inside
	}
	switch {
	case c.Verdict == compare.KeepOpen:
		l.First, l.Command = "what is wrong in "+c.Closure, "sealworthy compare"+at
	case c.Groups == 0:
		l.First, l.Command = "see what is in "+c.Closure+inner+": no test tells of it", "sealworthy compare"+at
	case c.Measured == 0 && !l.Bench:
		l.First = "measure " + c.Closure + inner + "; sealworthy bench finds your supply and meter before, " +
			"or --supply-by-hand and --typed-meter do without"
		l.Command = "sealworthy measure" + at
	case c.Measured == 0:
		l.First, l.Command = "measure "+c.Closure+inner, "sealworthy measure"+at
	case c.Measured < c.Groups:
		l.First, l.Command = "measure the rest of "+c.Closure+inner, "sealworthy measure"+at+" --resume"
	case c.Verdict == compare.LookFirst:
		l.First, l.Command = "look at "+c.Closure+" when it is lit", "sealworthy measure"+at+" --resume"
	default:
		l.First, l.Command = "what would settle "+c.Closure, "sealworthy next"+at
	}
}

// say writes what is left for a person.
func (l buildLeft) say(w io.Writer, k ink) {
	groups, measured, looked, seconds := 0, 0, 0, 0.0
	for _, c := range l.Closures {
		groups, measured, looked, seconds = groups+c.Groups, measured+c.Measured, looked+c.Looked, seconds+c.LeftS
	}
	text := fmt.Sprintf("%d of %d groups are measured, %d looked at.", measured, groups, looked)
	if seconds > 0 {
		text += " What is left of the test takes about " + aboutTime(seconds) + "."
	}
	wrap(w, k.loud(l.Build)+": ", "  ", text)
	if l.Wrong > 0 {
		wrap(w, k.bad("! "), "  ", fmt.Sprintf("the plan's own checks call %s wrong", countOf(l.Wrong, "thing")))
	}
	fmt.Fprintln(w)
	for _, c := range l.Closures {
		verdict := k.closure(c.Verdict)
		if c.Measured == 0 && c.Groups > 0 && c.Verdict == compare.NotSettled {
			verdict = k.open("? NOT BEGUN")
		}
		wide := columns(verdict)
		head := fmt.Sprintf("  %-18s %s%s  ", cut(c.Closure, 18), verdict, strings.Repeat(" ", max(0, 18-wide)))
		line := fmt.Sprintf("%d of %d measured", c.Measured, c.Groups)
		if c.LeftS > 0 {
			line += ", about " + aboutTime(c.LeftS) + " to go"
		}
		wrap(w, head, "      ", line)
		if c.Reason != "" && c.Measured > 0 {
			wrap(w, "    - ", "      ", c.Reason)
		}
	}
	fmt.Fprintln(w)
	wrap(w, k.loud("First: "), "  ", l.First)
	fmt.Fprintln(w, "  "+l.Command)
}

// aboutTime is a time as somebody says it who looks at no watch.
func aboutTime(seconds float64) string {
	d := time.Duration(seconds * float64(time.Second))
	switch {
	case d < 90*time.Second:
		return "a minute"
	case d < 90*time.Minute:
		return fmt.Sprintf("%.0f minutes", d.Minutes())
	}
	return fmt.Sprintf("%.1f hours", d.Hours())
}

// countOf is a number with its noun: "1 thing", "2 things".
func countOf(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
