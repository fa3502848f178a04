package main

import (
	"fmt"
	"io/fs"
	"syscall"
)

// alsoOf is what the system tells of a file besides: which it is, and when anything of it was changed
// last, which nobody can set (stat(2), st_ino and st_ctim).
func alsoOf(info fs.FileInfo) string {
	if s, ok := info.Sys().(*syscall.Stat_t); ok {
		return fmt.Sprint(s.Dev, s.Ino, s.Ctim.Sec, s.Ctim.Nsec)
	}
	return ""
}
