package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"sealworthy/capture/record"
	"sealworthy/compare/plan"
)

const newHelp = `sealworthy new DIR [--ask] [--from BUILD] [--name NAME] [--priors]

Starts a build: makes the folder DIR with a commented plan in it. Nothing that
is there already is written over.

--ask asks for all of it, one line at a time: what feeds it, what is glued shut,
then what lies under each, group after group, with what each draws; groups alike
need their number alone. It can be stopped with q and gone on with, by the same
version; what comes out is the same commented plan.

--from takes the plan of a similar build under the new name, and its bench.toml;
no reading, no look, no signature.

--priors writes DIR/priors.toml instead: how likely each fault is held before
anything is measured, to be changed by whoever knows better.`

func runNew(_ context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "new", newHelp)
	name := f.String("name", "", "`name` of the build; else the folder's")
	ask := f.Bool("ask", false, "ask for what the plan holds, one line at a time")
	from := f.String("from", "", "a similar `build`, whose plan and bench are taken over, without its readings")
	asJSON := f.Bool("json", false, "print what was made as JSON; not with --ask, which is a conversation")
	priors := f.Bool("priors", false, "write only the file of probabilities, for a build that is there or not")
	rest, err := parse(f, args, 1)
	if err != nil {
		return exitUsage, err
	}
	dir := rest[0]
	if *ask && *from != "" || *priors && (*ask || *from != "") {
		return exitUsage, misuse("new", "--ask, --from and --priors are three different things: give one")
	}
	if *ask && *asJSON {
		return exitUsage, misuse("new", "--ask is a conversation: it prints no JSON")
	}
	if *priors {
		return newPriors(e, dir, *asJSON)
	}
	if *name == "" {
		abs, err := filepath.Abs(dir)
		if err != nil {
			return exitFailure, err
		}
		*name = filepath.Base(abs)
	}
	file := filepath.Join(dir, planFile)
	if _, err := os.Stat(file); err == nil {
		return exitFailure, withHint(fmt.Errorf("%s is there already", file),
			"nothing was written; choose another folder")
	} else if !errors.Is(err, fs.ErrNotExist) {
		return exitFailure, err
	}
	starts, then := newStarter, "is ready to be filled in"
	switch {
	case *ask:
		starts = newAsked
	case *from != "":
		starts, then = newFrom(*from), "is that of "+*from+"; its readings stay there"
	}
	if err := startBuild(e, dir, *name, starts); err != nil {
		return exitFailure, err
	}
	begun := whatIsBegun{Build: dir, File: file, From: *from}
	if *from != "" {
		begun.Notes = notesIn(*from)
	}
	if *asJSON {
		return exitReady, writeJSON(e.stdout, begun)
	}
	if *ask {
		return exitReady, sayAsked(e, begun)
	}
	sayBegun(e, begun, then)
	return exitReady, nil
}

// sayAsked says how to go on with a plan whose draws were told as it grew: with what is
// wrong in it, else with the bench.
func sayAsked(e env, x whatIsBegun) error {
	b, err := openBuild(e, x.Build)
	if err != nil {
		return err
	}
	left, _, err := b.left(e)
	if err != nil {
		return err
	}
	budget := "sealworthy budget " + quoted(x.Build)
	if left.Wrong > 0 {
		wrap(e.stdout, "", "", fmt.Sprintf("%s is written, with %s wrong in it.", x.File, countOf(left.Wrong, "thing")))
		fmt.Fprintln(e.stdout, "Next: "+budget)
		return nil
	}
	wrap(e.stdout, "", "", x.File+" is written; nothing in it is wrong.")
	next := left.Command
	if !left.Bench {
		next = "sealworthy bench"
	}
	fmt.Fprintln(e.stdout, "Next: "+next)
	return nil
}

// notesIn is what was noted of an earlier build, where its record can be read.
func notesIn(from string) []madeNote {
	dir, err := folderOf(from)
	if err != nil {
		return nil
	}
	h, err := record.ReadDir(dir)
	if err != nil {
		return nil
	}
	return notesOf(h.Notes)
}

// sayBegun says how to go on with a build that was begun.
func sayBegun(e env, x whatIsBegun, then string) {
	fmt.Fprintf(e.stdout, "%s %s.\nThe parts it can name: sealworthy part\nThen: sealworthy budget %s\n", x.File, then,
		quoted(x.Build))
	if len(x.Notes) > 0 {
		fmt.Fprintln(e.stdout, "\nNoted then:")
		sayNotes(e.stdout, x.Notes, e.here())
	}
}

// starter gives the text of a new build's plan, and what else belongs into its folder.
type starter func(e env, dir, name string) (src []byte, beside map[string][]byte, err error)

// startBuild makes the folder and the plan of a build.
func startBuild(e env, dir, name string, text starter) error {
	named := mended(e, name)
	if err := makeFolder(dir); err != nil {
		return err
	}
	src, beside, err := text(e, dir, named)
	if err != nil {
		return err
	}
	if err := writeNew(filepath.Join(dir, planFile), src); err != nil {
		return err
	}
	for name, src := range beside {
		if err := writeOnce(filepath.Join(dir, name), src); err != nil {
			return err
		}
	}
	return removeOwn(answersFile(dir))
}

// mended is the name that a build can have, and says so where it differs.
func mended(e env, name string) string {
	p, problems := plan.Parse(planFile, plan.Starter(name))
	if len(problems) > 0 || p.Build == name {
		return name
	}
	wrap(e.stderr, "note: ", "  ", fmt.Sprintf("the build is called %q: a name must do as a file's, %q can't",
		p.Build, name))
	return p.Build
}

// newStarter is the plan with everything in it, to be changed.
func newStarter(_ env, _, name string) ([]byte, map[string][]byte, error) {
	src := plan.Starter(name)
	if _, problems := plan.Parse(planFile, src); len(problems) > 0 {
		return nil, nil, planError(planFile, problems)
	}
	return src, nil, nil
}

// newFrom takes over the plan and the bench of another build.
func newFrom(other string) starter {
	return func(e env, _, name string) ([]byte, map[string][]byte, error) {
		b, err := openBuild(e, other)
		if err != nil {
			return nil, nil, err
		}
		src, err := plan.EditWith(b.src, "build", name, plan.Options{Book: b.book})
		if err != nil {
			return nil, nil, err
		}
		beside := map[string][]byte{}
		switch bench, err := readFile(filepath.Join(b.dir, benchFile), mostBytes); {
		case err == nil:
			beside[benchFile] = bench
		case !errors.Is(err, fs.ErrNotExist):
			return nil, nil, err
		}
		return src, beside, nil
	}
}

func newPriors(e env, dir string, asJSON bool) (int, error) {
	if err := makeFolder(dir); err != nil {
		return exitFailure, err
	}
	file, err := writePriors(dir)
	if err != nil {
		return exitFailure, err
	}
	if asJSON {
		return exitReady, writeJSON(e.stdout, whatIsBegun{Build: dir, File: file})
	}
	fmt.Fprintf(e.stdout, "%s holds the defaults; change what you know better.\n", file)
	return exitReady, nil
}
