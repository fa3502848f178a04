package main

import (
	"os"

	"golang.org/x/sys/windows"
)

func moreSignals() []os.Signal { return nil }

func holdOn() (release func()) { return func() {} }

func ignoreBackground() {}

// ansi asks the console to understand escape codes; an old one can't.
func ansi(fd uintptr) bool {
	h := windows.Handle(fd)
	var mode uint32
	if windows.GetConsoleMode(h, &mode) != nil {
		return false
	}
	return windows.SetConsoleMode(h, mode|windows.ENABLE_VIRTUAL_TERMINAL_PROCESSING) == nil
}
