//go:build unix

package find

import (
	"context"
	"encoding/json"
	"io"
	"slices"
	"strings"
	"testing"

	"sealworthy/instruments/clock"
	"sealworthy/instruments/outside"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/wire"
)

// modules puts up Modbus modules that others wrote (python3-pymodbus) on a line. end tells
// how many requests of each function came.
func modules(t *testing.T, args ...string) (port string, end func() map[string]int) {
	t.Helper()
	outside.Need(t, outside.Debian, "pymodbus", "python3-pymodbus")
	x := outside.Start(t, false, outside.Debian, append([]string{"testdata/modbus_module.py"}, args...)...)
	return x.Line(t), func() map[string]int {
		t.Helper()
		if _, err := io.WriteString(x.In, "end\n"); err != nil {
			t.Fatal(err)
		}
		seen := map[string]int{}
		if err := json.NewDecoder(x.Out).Decode(&seen); err != nil {
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
