package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// The tests run the command itself: a copy of this program under its name, on
// the path, in a process of its own.
func TestMain(m *testing.M) {
	if strings.TrimSuffix(filepath.Base(os.Args[0]), ".exe") != "sealworthy" {
		manyAtOnce()
		ownLocks()
	}
	testscript.Main(m, map[string]func(){
		"sealworthy": func() {
			os.Exit(run(context.Background(), os.Args[1:], env{
				stdin: os.Stdin, stdout: os.Stdout, stderr: os.Stderr, getenv: os.Getenv, exit: os.Exit,
			}))
		},
	})
}

// ownLocks keeps the tests' locks out of the folders of whoever runs them.
func ownLocks() {
	dir := filepath.Join(os.TempDir(), fmt.Sprintf("sealworthy-tests-%d", os.Geteuid()))
	for _, name := range []string{"XDG_RUNTIME_DIR", "XDG_CACHE_HOME"} {
		if err := os.Setenv(name, dir); err != nil {
			panic(err)
		}
	}
}

// manyAtOnce lets more tests run at once than there are cores: those in real
// time sleep more than they compute. -parallel on the command line stands.
func manyAtOnce() {
	flag.Parse()
	given := false
	flag.Visit(func(f *flag.Flag) { given = given || f.Name == "test.parallel" })
	if !given {
		_ = flag.Set("test.parallel", "6") // the flag is the testing package's own: it exists
	}
}
