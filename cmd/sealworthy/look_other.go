//go:build !linux

package main

import "io/fs"

// alsoOf is what the system tells of a file besides: nothing here.
func alsoOf(fs.FileInfo) string { return "" }
