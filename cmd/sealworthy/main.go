// Command sealworthy measures the light groups of a scale model before a part
// is glued shut, and says whether it is ready to close.
//
// One file holds one verb: its flags and the calls it makes. No arithmetic
// lives here.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"sealworthy/cmd/sealworthy/session"
)

// Exit statuses. "Keep open" and what isn't ready are results, not failures.
const (
	exitReady    = 0 // of a closure: ready to close, and nothing else
	exitFailure  = 1
	exitUsage    = 2
	exitKeepOpen = 3
	exitNotReady = 4 // look first, not settled, closed by choice
)

// Output rules: results go to stdout, everything else to stderr. An error is
// one line that begins with "sealworthy:", without capital or full stop, then
// lines that begin with "  hint:" and say what to do.

const usage = `sealworthy measures every light group of a scale model before a part is
glued shut, and says whether the part is ready to close.

  sealworthy demo                      see the whole job on a simulated bench
  sealworthy demo return               the story of a model that comes back
  sealworthy new DIR                   start a build: a commented plan
  sealworthy budget BUILD              what each group should draw, and checks
  sealworthy ports                     serial ports; try an instrument on one
  sealworthy part [NAME]               list parts; measure loose samples of one
  sealworthy measure BUILD             the power-on test of a closure
  sealworthy compare BUILD             findings, and the verdict on each closure
  sealworthy check BUILD               is the record whole; answer what isn't
  sealworthy next BUILD                what to measure next, and measure it
  sealworthy plot BUILD                pictures: SVG, PNG, PDF
  sealworthy sheet BUILD               one page to print and keep
  sealworthy soak BUILD                hours on the supply: drops and drift
  sealworthy keep BUILD                the signature, before delivery
  sealworthy return BUILD              a model came back: what is wrong with it
  sealworthy rig PLAN                  a simulated bench for other terminals

"sealworthy VERB -h" shows what a verb can do. A BUILD is a folder with
plan.toml. --json prints a result for programs; NO_COLOR is honoured.

Exit status: 0 ready to close, 1 failure, 2 usage, 3 keep open, 4 anything else:
look first, not settled, closed by choice.
`

// env is what a verb may use of the world.
type env struct {
	stdin          io.Reader
	stdout, stderr io.Writer
	getenv         func(string) string
	exit           func(status int) // at once, without a word
	at             *seat            // where a stream of events is spoken; nil: a terminal
}

// verb runs one verb with its arguments and returns an exit status.
type verb func(ctx context.Context, e env, args []string) (int, error)

var verbs = map[string]verb{
	"demo":    runDemo,
	"new":     runNew,
	"budget":  runBudget,
	"rig":     runRig,
	"ports":   runPorts,
	"measure": runMeasure,
	"part":    runPart,
	"compare": runCompare,
	"check":   runCheck,
	"next":    runNext,
	"plot":    runPlot,
	"sheet":   runSheet,
	"keep":    runKeep,
	"soak":    runSoak,
	"return":  runReturn,
}

func main() {
	os.Exit(run(context.Background(), os.Args[1:], env{
		stdin: os.Stdin, stdout: os.Stdout, stderr: os.Stderr, getenv: os.Getenv, exit: os.Exit,
	}))
}

// run is main without the process: the one place where errors become exit statuses.
func run(ctx context.Context, args []string, e env) int {
	e = e.throughOutlets()
	if len(args) == 0 {
		fmt.Fprint(e.stderr, usage)
		return exitUsage
	}
	switch args[0] {
	case "-h", "--help", "help":
		fmt.Fprint(e.stdout, usage)
		return exitReady
	}
	v, ok := verbs[args[0]]
	if !ok {
		fmt.Fprintf(e.stderr, "sealworthy: no verb %q\n  hint: sealworthy help lists them\n", args[0])
		return exitUsage
	}
	status, err := v(ctx, e, args[1:])
	return ended(e, status, err)
}

// ended says an error, and what to do about it, and gives the exit status.
func ended(e env, status int, err error) int {
	if err == nil {
		return status
	}
	if errors.Is(err, flag.ErrHelp) {
		return exitReady
	}
	var h *hinted
	err = explained(err)
	say(e.stderr, "sealworthy: ", "  ", err.Error())
	if errors.As(err, &h) {
		for _, s := range h.hints {
			say(e.stderr, "  hint: ", "        ", s)
		}
	}
	return statusOf(err)
}

// statusOf is the exit status of an error.
func statusOf(err error) int {
	if errors.As(err, new(*usageError)) {
		return exitUsage
	}
	return exitFailure
}

// hinted is an error with what to do about it.
type hinted struct {
	err   error
	hints []string
}

func (h *hinted) Error() string { return h.err.Error() }
func (h *hinted) Unwrap() error { return h.err }

// withHint adds what to do to an error, after what it says of that already.
func withHint(err error, hints ...string) error {
	var h *hinted
	if errors.As(err, &h) {
		hints = append(slices.Clone(h.hints), hints...)
	}
	return &hinted{err: err, hints: hints}
}

// usageError is a mistake in how the command was called.
type usageError struct{ what string }

func (u *usageError) Error() string { return u.what }

// misuse makes a usage error with the hint that shows the verb's help.
func misuse(verb, format string, a ...any) error {
	return withHint(&usageError{fmt.Sprintf(verb+": "+format, a...)}, "sealworthy "+verb+" -h shows what it takes")
}

// newFlags makes the flag set of a verb. head is printed above its flags.
func newFlags(e env, verb, head string) *flag.FlagSet {
	fs := flag.NewFlagSet(verb, flag.ContinueOnError)
	fs.SetOutput(io.Discard)
	fs.Usage = func() {
		if x := fs.Lookup("events"); x != nil && x.Value.String() == "true" {
			fmt.Fprint(e.stdout, session.EventsDoc)
			return
		}
		fmt.Fprintf(e.stdout, "%s\n\n", strings.TrimSpace(head))
		fs.VisitAll(func(f *flag.Flag) { sayFlag(e.stdout, f) })
	}
	return fs
}

// sayFlag writes a flag and what it does.
func sayFlag(w io.Writer, f *flag.Flag) {
	value, what := flag.UnquoteUsage(f)
	name := "  --" + f.Name
	if value != "" {
		name += " " + strings.ToUpper(value)
	}
	if _, many := f.Value.(*names); !many && f.DefValue != "" && f.DefValue != "0" && f.DefValue != "false" && f.Name != "room" {
		what += " (default: " + f.DefValue + ")"
	}
	const column = 26
	if len(name) > column-2 {
		fmt.Fprintln(w, name)
		name = ""
	}
	wrap(w, fmt.Sprintf("%-*s", column, name), strings.Repeat(" ", column), what)
}

// parse takes flags before, between and after the other arguments and returns
// those. want is how many there must be; -1 leaves that to the verb.
func parse(fs *flag.FlagSet, args []string, want int) ([]string, error) {
	var rest []string
	help := fs.Usage
	fs.Usage = func() {} // a mistake gets a hint, not the whole page
	for {
		if err := fs.Parse(args); err != nil {
			if errors.Is(err, flag.ErrHelp) {
				help()
				return nil, err
			}
			return nil, misuse(fs.Name(), "%s", strings.Replace(err.Error(), "flag provided but not defined: -", "there is no flag --", 1))
		}
		args = fs.Args()
		if len(args) == 0 {
			break
		}
		rest = append(rest, args[0])
		args = args[1:]
	}
	if want >= 0 && len(rest) != want {
		return nil, misuse(fs.Name(), "takes %d argument(s), got %d", want, len(rest))
	}
	return rest, nil
}
