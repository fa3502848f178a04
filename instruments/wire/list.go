package wire

import (
	"path/filepath"
	"runtime"
	"sort"
	"strings"

	"go.bug.st/serial"
)

// Listed is a port that the system knows.
type Listed struct {
	Name string `json:"name"`
	// Lasting is a name that stays the same when it is plugged in again, where
	// the system has one. It often tells what is on the port.
	Lasting string `json:"lasting,omitempty"`
	// what is on it, as far as the system says; empty: it doesn't
	Hint string `json:"hint,omitempty"`
}

// List gives the system's serial ports, by name. It is not to be called during
// a test: on Linux the library opens each ttyS port at 9600 baud to see whether
// it is real. Pseudo terminals are not listed anywhere; any path can be typed.
func List() ([]Listed, error) {
	names, err := serial.GetPortsList()
	if err != nil {
		return nil, openError(runtime.GOOS, "ports", err)
	}
	lasting := map[string]string{}
	if links, err := filepath.Glob("/dev/serial/by-id/*"); err == nil {
		for _, l := range links {
			if real, err := filepath.EvalSymlinks(l); err == nil {
				lasting[real] = l
			}
		}
	}
	return listed(runtime.GOOS, names, lasting), nil
}

// listed drops the twins that macOS shows and adds what helps to choose.
func listed(system string, names []string, lasting map[string]string) []Listed {
	var out []Listed
	for _, n := range names {
		if system == "darwin" && strings.HasPrefix(n, "/dev/tty.") {
			continue
		}
		l := Listed{Name: n, Lasting: lasting[n]}
		base := strings.ToLower(n)
		switch {
		case l.Lasting != "":
			l.Hint = "use the lasting name: the number changes when it is plugged in again"
		case strings.Contains(base, "bluetooth"):
			l.Hint = "Bluetooth, rarely an instrument"
		case system == "linux" && strings.Contains(base, "/ttys"):
			l.Hint = "built in; without a socket at the back it leads nowhere"
		case system == "windows":
			l.Hint = "may be left over from an adapter that is no longer plugged in"
		}
		out = append(out, l)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Name < out[j].Name })
	return out
}
