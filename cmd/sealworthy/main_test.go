package main

import (
	"context"
	"os"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// The tests run the command itself: a copy of this program under its name, on
// the path, in a process of its own.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"sealworthy": func() {
			os.Exit(run(context.Background(), os.Args[1:], env{
				stdin: os.Stdin, stdout: os.Stdout, stderr: os.Stderr, getenv: os.Getenv, exit: os.Exit,
			}))
		},
	})
}
