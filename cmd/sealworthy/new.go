package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"sealworthy/compare/plan"
)

func runNew(_ context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "new", `sealworthy new DIR [--name NAME] [--priors]

Starts a build: makes the folder DIR with a commented plan in it. Nothing that
is there already is written over.

--priors writes DIR/priors.toml instead: how likely each fault is held before
anything is measured, to be changed by whoever knows better.`)
	name := f.String("name", "", "`name` of the build; else the folder's")
	priors := f.Bool("priors", false, "write only the file of probabilities, for a build that is there or not")
	rest, err := parse(f, args, 1)
	if err != nil {
		return exitUsage, err
	}
	dir := rest[0]
	if *priors {
		if err := makeFolder(dir); err != nil {
			return exitFailure, err
		}
		file, err := writePriors(dir)
		if err != nil {
			return exitFailure, err
		}
		fmt.Fprintf(e.stdout, "%s holds the defaults; change what you know better.\n", file)
		return exitReady, nil
	}
	if *name == "" {
		abs, err := filepath.Abs(dir)
		if err != nil {
			return exitFailure, err
		}
		*name = filepath.Base(abs)
	}
	src := plan.Starter(*name)
	p, problems := plan.Parse(planFile, src)
	if len(problems) > 0 {
		return exitFailure, planError(planFile, problems)
	}
	file := filepath.Join(dir, planFile)
	if _, err := os.Stat(file); err == nil {
		return exitFailure, withHint(fmt.Errorf("%s is there already", file), "nothing was written; choose another folder")
	} else if !errors.Is(err, fs.ErrNotExist) {
		return exitFailure, err
	}
	if err := makeFolder(dir); err != nil {
		return exitFailure, err
	}
	if err := writeNew(file, src); err != nil {
		return exitFailure, err
	}
	if p.Build != *name {
		wrap(e.stderr, "note: ", "  ", fmt.Sprintf("the build is called %q: a name must do as a file's, %q can't", p.Build, *name))
	}
	fmt.Fprintf(e.stdout, "%s is ready to be filled in.\nThe parts it can name: sealworthy part\nThen: sealworthy budget %s\n", file, quoted(dir))
	return exitReady, nil
}
