package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare/plan"
)

const usage = `sealworthy measures every light group of a scale model before a part is
glued shut, and says whether the part is ready to close.

  sealworthy demo                      see the whole job on a simulated bench
  sealworthy demo return               the story of a model that comes back
  sealworthy new DIR                   start a build: a commented plan
  sealworthy budget BUILD              what each group should draw, and checks
  sealworthy bench                     find your instruments; write them down
  sealworthy ports                     serial ports; try an instrument on one
  sealworthy part [NAME]               list parts; measure loose samples of one
  sealworthy measure BUILD             the power-on test of a closure
  sealworthy page [BUILD]              the same in a browser, hands free
  sealworthy compare BUILD             findings, and the verdict on each closure
  sealworthy left BUILD                what is done, and what is left to do
  sealworthy check BUILD               is the record whole; answer what isn't
  sealworthy next BUILD                what to measure next, and measure it
  sealworthy plot BUILD                pictures: SVG, PNG, PDF
  sealworthy sheet BUILD               one page to print and keep
  sealworthy builds FOLDER             every build with its state
  sealworthy history BUILD             its groups, or reels, over the years
  sealworthy note BUILD GROUP TEXT     one line of yours about a group
  sealworthy photo BUILD FILE          a photo, kept beside the record
  sealworthy export BUILD              readings as a table, JSON or lines
  sealworthy send BUILD                readings to a shop's server
  sealworthy pack BUILD                a whole build in one file
  sealworthy unpack FILE               check it, and take it out again
  sealworthy soak BUILD                hours on the supply: drops and drift
  sealworthy keep BUILD                the signature, before delivery
  sealworthy return BUILD              a model came back: what is wrong with it
  sealworthy rig PLAN                  a simulated bench for other terminals
  sealworthy explain KEY               what a key of plan or bench means
  sealworthy help VERB                 what a verb does and takes
  sealworthy schema NAME               the JSON schema of what a verb prints
  sealworthy completion SHELL          the shell completes verbs, flags, names
  sealworthy version                   which version this is

Topics, each with sealworthy help TOPIC: install, bench, test, tablet, verdicts,
record, return, rig, care.

"sealworthy help VERB" shows what a verb can do. A BUILD is a folder with
plan.toml; where you stand in it, leave it out. --json prints a result for
programs; NO_COLOR is honoured, SEALWORTHY_BELL=off keeps the bell quiet.

Exit status: 0 ready to close, 1 failure, 2 usage, 3 keep open, 4 anything else:
look first, not settled, closed by choice.
`

// newFlags makes the flag set of a verb. head is printed above its flags.
func newFlags(e env, verb, head string) *flag.FlagSet {
	fs := flag.NewFlagSet(verb, flag.ContinueOnError)
	fs.SetOutput(io.Discard)
	fs.Usage = func() {
		if e.listing != nil {
			e.listing(fs)
			return
		}
		if x := fs.Lookup("events"); x != nil && x.Value.String() == "true" {
			fmt.Fprint(e.stdout, session.EventsDoc)
			return
		}
		sayHead(e.stdout, strings.TrimSpace(head))
		fs.VisitAll(func(f *flag.Flag) { sayFlag(e.stdout, f) })
	}
	return fs
}

// sayUsage writes the list of verbs, folded where the terminal is narrower than it.
func sayUsage(w io.Writer) {
	if columnsOf(w) >= width {
		fmt.Fprint(w, usage)
		return
	}
	sayTopic(w, usage)
}

// sayHead writes what stands above the flags: how the verb is called, then what it does. It
// is written for the width; a narrower terminal gets it folded.
func sayHead(w io.Writer, head string) {
	if columnsOf(w) >= width {
		fmt.Fprintf(w, "%s\n\n", head)
		return
	}
	called, what, _ := strings.Cut(head, "\n\n")
	for _, l := range strings.Split(called, "\n") {
		indent := l[:len(l)-len(strings.TrimLeft(l, " "))]
		wrap(w, indent, indent+"    ", l)
	}
	fmt.Fprintln(w)
	sayTopic(w, what)
	fmt.Fprintln(w)
}

// placeholder is what stands for a flag's value: what the maker gives, not how the
// program holds it.
func placeholder(value string) string {
	switch value {
	case "string", "value", "words":
		return "TEXT"
	case "duration", "long":
		return "TIME"
	case "int", "uint", "float", "many":
		return "NUMBER"
	case "ohm":
		return "OHMS"
	case "voltage":
		return "VOLTS"
	}
	return strings.ToUpper(value)
}

// shortTime is a time with nothing behind its hours or minutes: "4h0m0s", "10m0s".
var shortTime = regexp.MustCompile(`^([0-9]+[hm])(?:0m)?0s$`)

// sayFlag writes a flag and what it does.
func sayFlag(w io.Writer, f *flag.Flag) {
	value, what := flag.UnquoteUsage(f)
	name := "  --" + f.Name
	if value != "" {
		name += " " + placeholder(value)
	}
	if _, many := f.Value.(*names); !many && f.DefValue != "" && f.DefValue != "0" && f.DefValue != "false" &&
		f.Name != "room" {
		what += " (default: " + shortTime.ReplaceAllString(f.DefValue, "$1") + ")"
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
			return nil, badFlag(fs, err)
		}
		args = fs.Args()
		if len(args) == 0 {
			break
		}
		rest = append(rest, args[0])
		args = args[1:]
	}
	switch {
	case want == 0 && len(rest) > 0:
		return nil, misuse(fs.Name(), "takes nothing but flags, got %s", strings.Join(rest, ", "))
	case want > 0 && len(rest) == 0:
		return nil, misuse(fs.Name(), "takes a name, got none")
	case want > 0 && len(rest) != want:
		return nil, misuse(fs.Name(), "takes one name, got %d: %s", len(rest), strings.Join(rest, ", "))
	}
	return rest, nil
}

// parseBuild is parse for a verb that takes one BUILD: left out, it is the folder
// that the maker stands in.
func parseBuild(fs *flag.FlagSet, args []string) (string, error) {
	rest, err := parse(fs, args, -1)
	if err != nil {
		return "", err
	}
	return oneBuild(fs, rest)
}

// oneBuild is the BUILD among what stands beside the flags, or the folder that the
// maker stands in.
func oneBuild(fs *flag.FlagSet, rest []string) (string, error) {
	switch {
	case len(rest) == 1:
		return rest[0], nil
	case len(rest) > 1:
		return "", misuse(fs.Name(), "takes one BUILD, got %d: %s", len(rest), strings.Join(rest, ", "))
	}
	if _, err := os.Stat(planFile); err != nil {
		return "", misuse(fs.Name(), "takes a BUILD: a folder with %s (there is none here)", planFile)
	}
	return ".", nil
}

// badFlag says which flag is wrong, and which was probably meant.
func badFlag(fs *flag.FlagSet, err error) error {
	said := err.Error()
	if name, ok := strings.CutPrefix(said, "flag provided but not defined: -"); ok {
		name = strings.TrimPrefix(name, "-")
		var known []string
		fs.VisitAll(func(f *flag.Flag) { known = append(known, f.Name) })
		wrong := misuse(fs.Name(), "there is no flag --%s", name)
		if near := plan.Nearest(name, known); near != "" {
			return withNearest(wrong, "--"+near)
		}
		return wrong
	}
	if name, ok := strings.CutPrefix(said, "flag needs an argument: -"); ok {
		if f := fs.Lookup(strings.TrimPrefix(name, "-")); f != nil {
			value, _ := flag.UnquoteUsage(f)
			return misuse(fs.Name(), "--%s needs a %s behind it", f.Name, placeholder(value))
		}
	}
	if m := badValue.FindStringSubmatch(said); m != nil {
		if f := fs.Lookup(m[2]); f != nil {
			value, _ := flag.UnquoteUsage(f)
			if value = placeholder(value); value == "TIME" {
				value += ", as 20s, 15m or 4h"
			}
			why := ""
			if m[3] != "parse error" {
				why = ": " + m[3]
			}
			return misuse(fs.Name(), "--%s: %q is no %s%s", f.Name, m[1], value, why)
		}
	}
	return misuse(fs.Name(), "%s", said)
}

// badValue is how package flag words a value that it can't take.
var badValue = regexp.MustCompile(`^invalid (?:boolean )?value "(.*?)" for (?:flag )?-([a-z-]+): (.*)$`)

// withNearest puts the nearest word before the other hints of a misuse.
func withNearest(err error, word string) error {
	var h *hinted
	hints := []string{word + " is the nearest"}
	if errors.As(err, &h) {
		return &hinted{err: h.err, hints: append(hints, h.hints...)}
	}
	return withHint(err, hints...)
}

// otherVerbs are words of makers for ours.
var otherVerbs = map[string]string{
	"init": "new", "create": "new", "start": "new", "test": "measure", "run": "measure", "findings": "compare",
	"result":  "compare",
	"results": "compare", "verdict": "compare", "status": "left", "todo": "left", "picture": "plot",
	"pictures": "plot",
	"print":    "sheet", "parts": "part", "port": "ports", "simulate": "rig", "parse": "budget", "validate": "budget",
}

// verbNamed finds a verb; those that speak of the others stand here, not in the table.
func verbNamed(name string) (verb, bool) {
	switch name {
	case "help":
		return runHelp, true
	case "completion":
		return runCompletion, true
	}
	v, ok := verbs[name]
	return v, ok
}

// verbNames are all verbs, in the order of the alphabet.
func verbNames() []string {
	return slices.Sorted(slices.Values(append(slices.Collect(maps.Keys(verbs)), "help", "completion")))
}

// noVerb says that there is no such verb, and what was probably meant: a verb, or a
// build's folder.
func noVerb(word string) error {
	err := &usageError{fmt.Sprintf("no verb %q", word)}
	if other, ok := otherVerbs[strings.ToLower(word)]; ok {
		return withHint(err, "sealworthy "+other+" is the nearest", "sealworthy help lists them")
	}
	if _, statErr := os.Stat(filepath.Join(word, planFile)); statErr == nil {
		return withHint(err, "sealworthy left "+quoted(word)+" says what is left to do there",
			"sealworthy help lists the verbs")
	}
	near := plan.Nearest(word, append(verbNames(), topicNames()...))
	switch {
	case near == "":
	case slices.Contains(verbNames(), near):
		return withHint(err, "sealworthy "+near+" is the nearest", "sealworthy help lists them")
	default:
		return withHint(err, "sealworthy help "+near+" is the nearest", "sealworthy help lists them")
	}
	return withHint(err, "sealworthy help lists them")
}

func runHelp(ctx context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "help", `sealworthy help [VERB or TOPIC]

What a verb does and takes, or what is to be known of a topic: install, bench,
test, tablet, verdicts, record, return, rig, care. Without either, all of them
in a line each; "sealworthy help all" prints every topic.`)
	rest, err := parse(f, args, -1)
	if err != nil {
		return exitUsage, err
	}
	if len(rest) == 0 {
		sayUsage(e.stdout)
		return exitReady, nil
	}
	if rest[0] == "all" {
		for i, name := range topicNames() {
			if i > 0 {
				fmt.Fprint(e.stdout, "\n\n")
			}
			text, _ := topic(name)
			sayTopic(e.stdout, text)
		}
		return exitReady, nil
	}
	v, ok := verbNamed(rest[0])
	text, isTopic := topic(rest[0])
	switch {
	case ok:
		status, err := v(ctx, e, append(rest[1:], "-h"))
		if isTopic {
			fmt.Fprint(e.stdout, "\n")
			sayTopic(e.stdout, text)
		}
		return status, err
	case isTopic:
		sayTopic(e.stdout, text)
		return exitReady, nil
	}
	return exitUsage, noVerb(rest[0])
}
