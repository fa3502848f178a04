package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/returns"
	"sealworthy/compare/rule"
)

// priorsFile holds how probable faults are held before anything is measured: in
// the build's folder, else in the maker's own.
const priorsFile = "priors.toml"

// priors reads that file; nil where there is none: the defaults.
func (b build) priors() (*fault.Priors, error) {
	files := []string{filepath.Join(b.dir, priorsFile)}
	if b.home != "" {
		files = append(files, filepath.Join(b.home, priorsFile))
	}
	for _, file := range files {
		src, err := readFile(file, mostBytes)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		p, problems := fault.ParsePriors(file, src)
		if len(problems) > 0 {
			return nil, planError(file, problems)
		}
		return &p, nil
	}
	return nil, nil
}

// writePriors puts the defaults into a folder, to be changed; a file that is
// there already is left alone.
func writePriors(dir string) (string, error) {
	file := filepath.Join(dir, priorsFile)
	if _, err := os.Stat(file); err == nil {
		return "", withHint(fmt.Errorf("%s is there already", file),
			"nothing was written; take it away to begin with the defaults again")
	} else if !errors.Is(err, fs.ErrNotExist) {
		return "", err
	}
	return file, writeNew(file, []byte(fault.PriorsText()))
}

// returnOptions are those of a diagnosis, with the build's priors.
func (b build) returnOptions() (returns.Options, error) {
	p, err := b.priors()
	if err != nil || p == nil {
		return returns.Options{}, err
	}
	return returns.Options{Priors: &p.Return, Eye: &p.Eye}, nil
}

// judge makes the judge of a build with its priors.
func (b build) judge(l compare.Leads) (*compare.Judge, error) {
	p, err := b.priors()
	if err != nil {
		return nil, err
	}
	j, err := compare.NewJudge(compare.NewExpected(b.plan), rule.Default(), l)
	if err != nil {
		return nil, err
	}
	j.Priors, j.PlanSource, j.PlanOptions = p, b.src, plan.Options{Book: b.book}
	j.Where = b.here
	return j, nil
}
