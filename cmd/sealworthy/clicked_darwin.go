package main

import (
	"os"
	"path/filepath"
	"slices"
)

// clicked: the program was started by a double click. The Finder has the Terminal do
// that, which types the program's whole path into a new shell in the home folder (from
// memory); a bundle is started without any terminal, by the first process of all.
func clicked(getenv func(string) string, streams ...*os.File) bool {
	if !slices.ContainsFunc(streams, func(f *os.File) bool { return isTerminal(f) }) {
		return os.Getppid() == 1
	}
	home, err := os.UserHomeDir()
	here, err2 := os.Getwd()
	return err == nil && err2 == nil && home == here && filepath.IsAbs(os.Args[0]) &&
		getenv("TERM_PROGRAM") == "Apple_Terminal" && getenv("SHLVL") == "1"
}

// documents is the maker's folder of documents.
func documents(func(string) string) (string, error) {
	home, err := os.UserHomeDir()
	return filepath.Join(home, "Documents"), err
}
