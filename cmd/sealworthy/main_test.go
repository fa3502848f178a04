package main

import (
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
			main()
		},
	})
}

// ownLocks keeps the tests' locks, and what belongs to a maker, out of the folders of
// whoever runs them.
func ownLocks() {
	dir := filepath.Join(os.TempDir(), fmt.Sprintf("sealworthy-tests-%d", os.Geteuid()))
	if err := os.MkdirAll(dir, 0o700); err != nil {
		panic(err)
	}
	home, err := os.MkdirTemp(dir, "home-") // what one run wrote there is nothing to the next
	if err != nil {
		panic(err)
	}
	for name, at := range map[string]string{"XDG_RUNTIME_DIR": dir, "XDG_CACHE_HOME": dir, "XDG_CONFIG_HOME": home} {
		if err := os.Setenv(name, at); err != nil {
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
