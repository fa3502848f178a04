package main

import "golang.org/x/sys/unix"

// flushInput throws away what was typed on a terminal and not read yet, a line
// that is half typed, too (termios(3), tcflush).
func flushInput(fd uintptr) { _ = unix.IoctlSetInt(int(fd), unix.TCFLSH, unix.TCIFLUSH) }
