//go:build darwin || freebsd || netbsd || openbsd || dragonfly

package main

import "golang.org/x/sys/unix"

// flushInput throws away what was typed on a terminal and not read yet, a line
// that is half typed, too (tty(4), TIOCFLUSH with FREAD).
func flushInput(fd uintptr) { _ = unix.IoctlSetPointerInt(int(fd), unix.TIOCFLUSH, unix.TCIFLUSH) }
