//go:build unix

package main

import (
	"strings"
	"testing"
)

// On a terminal a report has colours, with marks and words beside them;
// NO_COLOR and a dumb terminal have none.
func TestColours(t *testing.T) {
	t.Parallel()
	dir := tender(t)
	for _, c := range []struct {
		env     []string
		colours bool
	}{
		{nil, true}, {[]string{"NO_COLOR=1"}, false}, {[]string{"TERM=dumb"}, false},
	} {
		p := command(t, "compare", dir)
		p.cmd.Env = append(p.cmd.Env, c.env...)
		p.onTerminal()
		if s := p.status(); s != exitNotReady {
			t.Errorf("%v: status %d", c.env, s)
		}
		if got := strings.Contains(p.out.raw(), "\x1b["); got != c.colours {
			t.Errorf("%v: colours %v: %q", c.env, got, p.out.raw())
		}
		if !strings.Contains(p.out.plain(), "hull: ? NOT SETTLED") {
			t.Errorf("%v: the mark and the word are missing: %q", c.env, p.out.plain())
		}
	}
}
