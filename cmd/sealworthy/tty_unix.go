//go:build unix

package main

import (
	"os/signal"
	"syscall"
)

// ignoreBackground lets a read of the terminal fail where the program runs in
// the background; else the shell would stop the whole program for it.
func ignoreBackground() { signal.Ignore(syscall.SIGTTIN) }

// ansi: terminals here understand the usual escape codes.
func ansi(uintptr) bool { return true }
