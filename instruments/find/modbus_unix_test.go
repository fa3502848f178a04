//go:build unix

package find

import (
	"bufio"
	"context"
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"sealworthy/instruments/clock"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/wire"
)

// modules puts up Modbus modules that others wrote (python3-pymodbus) on a line. end tells
// how many requests of each function came.
func modules(t *testing.T, args ...string) (port string, end func() map[string]int) {
	t.Helper()
	const python = "/usr/bin/python3"
	if err := exec.Command(python, "-c", "import pymodbus").Run(); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("%s with pymodbus (python3-pymodbus) is needed in CI: %v", python, err)
		}
		t.Skip("no python3-pymodbus: the check against independent modules is left out")
	}
	cmd := exec.Command(python, append([]string{"testdata/modbus_module.py"}, args...)...)
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
	t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
	lines := bufio.NewReader(out)
	port, err = lines.ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	return strings.TrimSpace(port), func() map[string]int {
		t.Helper()
		if _, err := io.WriteString(in, "end\n"); err != nil {
			t.Fatal(err)
		}
		seen := map[string]int{}
		if err := json.NewDecoder(lines).Decode(&seen); err != nil {
			t.Fatal(err)
		}
		return seen
	}
}

// Modules at another address and parity are found, each that is on the line; nothing but
// reading is asked of them.
func TestModulesElsewhere(t *testing.T) {
	t.Parallel()
	for name, x := range map[string]struct {
		args    []string
		want    OnBus
		changes string // that the built-in profile of a shunt needs
	}{
		"as the standard has it": {[]string{"19200", "even", "1"}, OnBus{[]int{1}, 19200, "even"},
			`line.baud = 19200; line.parity = "even"`},
		"third of its line, slow": {[]string{"19200", "even", "3", "0.25"}, OnBus{[]int{3}, 19200, "even"},
			`line.baud = 19200; line.parity = "even"; modbus.address = 3`},
		"no parity":           {[]string{"9600", "none", "5"}, OnBus{[]int{5}, 9600, "none"}, `modbus.address = 5`},
		"odd":                 {[]string{"9600", "odd", "1"}, OnBus{[]int{1}, 9600, "odd"}, `line.parity = "odd"`},
		"several on one line": {[]string{"9600", "none", "1,4,7"}, OnBus{[]int{1, 4, 7}, 9600, "none"}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			port, end := modules(t, x.args...)
			c := clock.Wall{}
			got, err := finder(t, c, wire.Serial(c, nil, nil)).Port(context.Background(), port)
			if err != nil || got.Found == nil || got.Found.Speaks != profile.Modbus || got.Found.Bus == nil {
				t.Fatalf("%+v, %v", got, err)
			}
			b := got.Found.Bus
			if !slices.Equal(b.Addresses, x.want.Addresses) || b.Baud != x.want.Baud || b.Parity != x.want.Parity {
				t.Errorf("found at %+v, want %+v", b, x.want)
			}
			p, err := profile.Load("modbus shunt", "")
			if err != nil {
				t.Fatal(err)
			}
			var changes []string
			for _, c := range got.Found.Bus.Changes(p) {
				changes = append(changes, c.String())
			}
			if s := strings.Join(changes, "; "); s != x.changes {
				t.Errorf("a profile needs %q, want %q", s, x.changes)
			}
			for function, n := range end() {
				if function != "3" && function != "1" {
					t.Errorf("function %s was asked %d times: it isn't reading", function, n)
				}
			}
		})
	}
}
