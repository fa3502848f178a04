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
	"runtime/debug"
	"slices"
	"time"
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

// env is what a verb may use of the world.
type env struct {
	stdin          io.Reader
	stdout, stderr io.Writer
	getenv         func(string) string
	exit           func(status int)    // at once, without a word
	zone           *time.Location      // of the clock on the maker's wall; nil: this machine's
	at             *seat               // where a stream of events is spoken; nil: a terminal
	clicked        bool                // started by a double click, without a word typed
	listing        func(*flag.FlagSet) // takes a verb's flags in place of its page of help; nil: none is asked for
}

// verb runs one verb with its arguments and returns an exit status.
type verb func(ctx context.Context, e env, args []string) (int, error)

var verbs = map[string]verb{
	"demo":    runDemo,
	"new":     runNew,
	"budget":  runBudget,
	"rig":     runRig,
	"ports":   runPorts,
	"bench":   runBench,
	"measure": runMeasure,
	"part":    runPart,
	"compare": runCompare,
	"check":   runCheck,
	"next":    runNext,
	"plot":    runPlot,
	"sheet":   runSheet,
	"keep":    runKeep,
	"soak":    runSoak,
	"export":  runExport,
	"schema":  runSchema,
	"send":    runSend,
	"pack":    runPack,
	"builds":  runBuilds,
	"history": runHistory,
	"note":    runNote,
	"photo":   runPhoto,
	"unpack":  runUnpack,
	"return":  runReturn,
	"left":    runLeft,
	"version": runVersion,
	"explain": runExplain,
	"page":    runPage,
}

// wantedBytes of memory are enough for a record of ten million readings, and bytesOfGroup
// more for each group of a plan: near it memory is given back rather than grown into. It is
// no bound; GOMEMLIMIT sets another.
const (
	wantedBytes  = 144 << 20
	bytesOfGroup = 512 << 10
)

// seldomCollected: far below what is wanted memory may grow to four times what is in use
// before it's collected, which else takes a tenth of a judgement.
const seldomCollected = 300

// wantMemory is told how large a plan is. Beyond what is wanted giving back would be most
// of the work.
func wantMemory(getenv func(string) string, groups int) {
	if getenv("GOGC") == "" {
		debug.SetGCPercent(seldomCollected)
	}
	if getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(wantedBytes + int64(groups)*bytesOfGroup)
	}
}

func main() {
	wantMemory(os.Getenv, 0)
	in, out, errs := os.Stdin, os.Stdout, os.Stderr
	os.Exit(run(context.Background(), os.Args[1:], env{
		stdin: in, stdout: out, stderr: errs, getenv: os.Getenv, exit: os.Exit,
		clicked: len(os.Args) == 1 && clicked(os.Getenv, in, out, errs),
	}))
}

// run is main without the process: the one place where errors become exit statuses.
func run(ctx context.Context, args []string, e env) int {
	e = e.throughOutlets()
	if len(args) == 0 {
		if e.clicked {
			status, err := runClicked(ctx, e)
			if status = ended(e, status, err); err != nil {
				waitToClose(e)
			}
			return status
		}
		if _, err := os.Stat(planFile); err == nil {
			status, err := runLeft(ctx, e, nil)
			return ended(e, status, err)
		}
		sayUsage(e.stderr)
		return exitUsage
	}
	switch args[0] {
	case "-h", "--help":
		sayUsage(e.stdout)
		return exitReady
	case "-v", "--version":
		args = []string{"version"}
	}
	var status int
	var err error
	if v, ok := verbNamed(args[0]); ok {
		status, err = v(ctx, e, args[1:])
	} else {
		err = noVerb(args[0])
	}
	if err != nil && wantsJSON(args[1:]) && !errors.Is(err, flag.ErrHelp) {
		failed(e, err)
	}
	return ended(e, status, err)
}

// wantsJSON: the result is for a program, so an error is, too.
func wantsJSON(args []string) bool {
	for _, a := range args {
		switch a {
		case "--":
			return false
		case "--json", "-json", "--json=true", "-json=true":
			return true
		}
	}
	return false
}

// failed prints an error for programs; for people it is said beside it.
func failed(e env, err error) {
	err = explained(err)
	x := whatFailed{Error: err.Error(), Status: statusOf(err)}
	var h *hinted
	if errors.As(err, &h) {
		x.Hints = h.hints
	}
	_ = writeJSON(e.stdout, x) // there is nobody else to tell
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
