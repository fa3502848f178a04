package main

import (
	"errors"
	"fmt"
	"os"
	"os/signal"
	"runtime"
	"strings"

	"sealworthy/capture"
	"sealworthy/capture/record"
)

// watchSignals lets every signal that ends the program switch the output off
// first. The second one ends it without waiting for anything else.
func watchSignals(e env, g *capture.Guard) (stop func()) {
	ch := make(chan os.Signal, 4)
	signal.Notify(ch, append(capture.Signals(), moreSignals()...)...)
	release := holdOn()
	end := g.Watch(ch)
	quit := make(chan struct{})
	g.Go(func() {
		select {
		case <-quit:
		case <-g.Forced():
			fmt.Fprint(e.stderr, "\nsealworthy: ended at once by a second signal\n  hint: the supply was told to "+
				"switch off; see that it did\n")
			e.exit(exitFailure)
		}
	}, nil)
	return func() {
		close(quit)
		signal.Stop(ch)
		end()
		release()
	}
}

// mayBeOn is what to do where nobody knows.
const mayBeOn = "THE OUTPUT MAY STILL BE ON: switch the supply off by hand now"

// stopped: the maker ended it, with the output off for sure and all that was read kept.
func stopped(err error) bool {
	return errors.Is(err, capture.ErrStopped) && !errors.Is(err, capture.ErrOffNotConfirmed) && !record.NotKept(err)
}

// broken adds to the error that ended a test what became of the output and of
// the readings, and how to go on.
func broken(err error, file, verb string, args []string) error {
	var hints []string
	switch {
	case errors.Is(err, capture.ErrOffNotConfirmed):
		hints = append(hints, mayBeOn)
	case file != "", errors.As(err, new(*capture.SignalError)), errors.Is(err, capture.ErrStopped):
		hints = append(hints, "the output is off")
	}
	another, givenUp := capture.GivenUp(err)
	switch {
	case givenUp && file != "":
		port := ""
		if another.Port != "" {
			port = " --port " + quoted(another.Port)
		}
		hints = append(hints, "what was measured is kept in "+file,
			"write the new one down, then go on; the bench is proved with it first:\n   sealworthy bench"+port+
				" --save\n"+folded(resumeCommand(verb, args)))
	case record.NotKept(err):
		hints = append(hints, "not all of what was measured is kept: see to the disk and the folder of the record")
	case file != "":
		hints = append(hints, "what was measured is kept in "+file, "to go on:\n"+folded(resumeCommand(verb, args)))
	}
	return withHint(err, hints...)
}

// resumeCommand is the command that goes on with a test that a verb was called for with
// args. What was to be done again is marked so already, and what was to be changed was
// changed. A diagnosis begins with what is recorded each time: nothing is to be resumed.
func resumeCommand(verb string, args []string) []string {
	words := []string{"sealworthy", verb}
	skip := false
	for _, a := range args {
		name, _, whole := strings.Cut(strings.TrimLeft(a, "-"), "=")
		switch {
		case skip:
			skip = false
			continue
		case strings.HasPrefix(a, "-") && (name == "redo" || name == "change"):
			skip = !whole
			continue
		case strings.HasPrefix(a, "-") && name == "resume":
			continue
		}
		words = append(words, quoted(a))
	}
	if verb == "next" {
		return words
	}
	return append(words, "--resume")
}

// folded writes a command on lines that a shell takes as one.
func folded(words []string) string {
	out, line := "", "   "
	for _, w := range words {
		if columns(line)+1+columns(w)+2 > width && line != "   " {
			out, line = out+line+" \\\n", "     "
		}
		line += " " + w
	}
	return out + line
}

// quoted writes a word as a shell takes it. On Windows a backslash is a plain
// sign of a path.
func quoted(s string) string { return quotedFor(s, runtime.GOOS) }

func quotedFor(s, system string) string {
	if system == "windows" {
		if s != "" && !strings.ContainsAny(s, " \t'&|;<>()^%,=") {
			return s
		}
		return `"` + s + `"`
	}
	if s != "" && !strings.ContainsAny(s, " \t\"'\\$`&|;<>()*?[]#~!") {
		return s
	}
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`, `$`, `\$`, "`", "\\`").Replace(s) + `"`
}
