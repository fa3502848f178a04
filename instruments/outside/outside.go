// Package outside starts, for tests, programs that the project didn't write or whose
// author hadn't read it: instruments by another hand. Such a test runs where the program
// is, and fails where CI is set and it isn't.
package outside

import (
	"bufio"
	"io"
	"os"
	"os/exec"
	"strings"
	"testing"
)

// Debian is the Python that finds the modules of Debian's packages.
const Debian = "/usr/bin/python3"

// Need leaves a test out where python can't import these modules; in CI it fails. debian
// is the package that brings them.
func Need(t testing.TB, python, modules, debian string) {
	t.Helper()
	err := exec.Command(python, "-c", "import "+modules).Run()
	switch {
	case err == nil:
	case os.Getenv("CI") != "":
		t.Fatalf("%s with %s (%s) is needed in CI: %v", python, modules, debian, err)
	default:
		t.Skipf("no %s: the check against a program by another hand is left out", debian)
	}
}

// Program is one that runs until the end of its test.
type Program struct {
	In  io.Writer     // what it reads
	Out *bufio.Reader // what it says
}

// Start starts a program whose complaints the test shows; it ends with its input, or is
// killed where patient is false.
func Start(t testing.TB, patient bool, name string, args ...string) Program {
	t.Helper()
	cmd := exec.Command(name, args...)
	cmd.Stderr = os.Stderr
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = in.Close()
		if !patient {
			_ = cmd.Process.Kill() // it may have ended
		}
		_ = cmd.Wait() // killed, it ends with an error
	})
	return Program{in, bufio.NewReader(out)}
}

// Line is the next line that it says.
func (p Program) Line(t testing.TB) string {
	t.Helper()
	s, err := p.Out.ReadString('\n')
	if err != nil {
		t.Fatalf("it says %q, then: %v", s, err)
	}
	return strings.TrimSpace(s)
}
