package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"sealworthy/compare/plan"
)

func runNew(_ context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "new", `sealworthy new DIR [--name NAME]

Starts a build: makes the folder DIR with a commented plan in it. Nothing that
is there already is written over.`)
	name := f.String("name", "", "`name` of the build; else the folder's")
	rest, err := parse(f, args, 1)
	if err != nil {
		return exitUsage, err
	}
	dir := rest[0]
	if *name == "" {
		abs, err := filepath.Abs(dir)
		if err != nil {
			return exitFailure, err
		}
		*name = filepath.Base(abs)
	}
	src := plan.Starter(*name)
	if _, problems := plan.Parse(planFile, src); len(problems) > 0 {
		return exitUsage, misuse("new", "%q can't be the name of a build: %s; use --name", *name, problems[0].What)
	}
	file := filepath.Join(dir, planFile)
	if _, err := os.Stat(file); err == nil {
		return exitFailure, withHint(fmt.Errorf("%s is there already", file), "nothing was written; choose another folder")
	} else if !errors.Is(err, fs.ErrNotExist) {
		return exitFailure, err
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return exitFailure, err
	}
	if err := replaceFile(file, func(w io.Writer) error { _, err := w.Write(src); return err }); err != nil {
		return exitFailure, err
	}
	fmt.Fprintf(e.stdout, "%s is ready to be filled in.\nThen: sealworthy budget %s\n", file, dir)
	return exitReady, nil
}
