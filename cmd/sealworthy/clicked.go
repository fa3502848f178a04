package main

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"
)

// clickedFolder is that of the builds of somebody who only clicks, among his documents.
const clickedFolder = "Sealworthy"

// aloneFor is after how long without any open page the program ends that was started by
// a double click and has no window to be closed (our own choice).
const aloneFor = 5 * time.Minute

// runClicked is what a double click on the program does: the page of all builds, with a
// new one to be begun. Where they lie is said on the page, and in the window if there is
// one.
func runClicked(ctx context.Context, e env) (int, error) {
	p := pageStart{open: true}
	if !isTerminal(e.stdout) {
		p.alone = aloneFor
	}
	var err error
	if p.dir, err = whereBuildsLie(e); err != nil {
		return exitFailure, err
	}
	wrap(e.stdout, "", "", "Your builds lie in "+p.dir+". Closing this window ends the program, the output off.")
	return p.run(ctx, e)
}

// whereBuildsLie is the folder in which the program was started or lies, if there are
// builds in it; else one of its own among the maker's documents, made where it isn't
// there.
func whereBuildsLie(e env) (string, error) {
	var near []string
	if here, err := os.Getwd(); err == nil {
		near = append(near, here)
	}
	if program, err := os.Executable(); err == nil {
		near = append(near, filepath.Dir(program))
	}
	for _, dir := range near {
		if holdsBuilds(dir) {
			return dir, nil
		}
	}
	docs, err := documents(e.getenv)
	if err != nil {
		return "", err
	}
	dir := filepath.Join(docs, clickedFolder)
	return dir, makeFolder(dir)
}

// holdsBuilds: a folder is a build, or one in it is.
func holdsBuilds(dir string) bool {
	p := pageWork{dir: dir}
	found, err := p.folders()
	return err == nil && len(found) > 0
}

// waitToClose keeps a window open that would close over what was said.
func waitToClose(e env) {
	if !isTerminal(e.stdin) {
		return
	}
	fmt.Fprintln(e.stderr, "Enter closes this window.")
	_, _ = bufio.NewReader(e.stdin).ReadString('\n')
}
