package main

import (
	"unsafe"

	"golang.org/x/sys/windows"
)

// keyRecord is an INPUT_RECORD that holds a KEY_EVENT_RECORD (wincon.h).
type keyRecord struct {
	kind     uint16 // KEY_EVENT
	_        uint16
	down     int32
	repeat   uint16
	virtual  uint16
	scan     uint16
	char     uint16
	controls uint32
}

const (
	keyEvent     = 1
	escapeKey    = 0x1b // VK_ESCAPE, and its character
	escapeOnKeys = 1    // its scan code
)

var writeConsoleInput = windows.NewLazySystemDLL("kernel32.dll").NewProc("WriteConsoleInputW")

// flushInput throws away what was typed on a console and not read yet. A line
// that is half typed stands in the console's own line editor, which drops it at
// the key Escape.
func flushInput(fd uintptr) {
	h := windows.Handle(fd)
	_ = windows.FlushConsoleInputBuffer(h)
	keys := [2]keyRecord{
		{kind: keyEvent, down: 1, repeat: 1, virtual: escapeKey, scan: escapeOnKeys, char: escapeKey},
		{kind: keyEvent, repeat: 1, virtual: escapeKey, scan: escapeOnKeys, char: escapeKey},
	}
	var written uint32
	_, _, _ = writeConsoleInput.Call(uintptr(h), uintptr(unsafe.Pointer(&keys[0])), uintptr(len(keys)),
		uintptr(unsafe.Pointer(&written)))
}
