//go:build unix

package main

import (
	"os"
	"os/signal"
	"syscall"
)

// moreSignals end a test besides the usual ones: Ctrl-\ would else end the
// program with the output on.
func moreSignals() []os.Signal { return []os.Signal{syscall.SIGQUIT} }

// holdOn keeps the program running where its output may be on: a reader of its
// words that went away (SIGPIPE) must not end it, Ctrl-Z must not stop it with
// nobody watching.
func holdOn() (release func()) {
	signal.Ignore(syscall.SIGPIPE, syscall.SIGTSTP)
	return func() { signal.Reset(syscall.SIGPIPE, syscall.SIGTSTP) }
}

// ignoreBackground lets a read of the terminal fail where the program runs in
// the background; else the shell would stop the whole program for it.
func ignoreBackground() { signal.Ignore(syscall.SIGTTIN) }

// ansi: terminals here understand the usual escape codes.
func ansi(uintptr) bool { return true }
