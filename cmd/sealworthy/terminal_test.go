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

// On a terminal, too, text from outside is text: what comes besides the
// program's own codes is to be seen.
func TestTerminalWithHostileText(t *testing.T) {
	t.Parallel()
	const bad = "\x1b]0;all is well\x07\x1b[2J\u202e\u009b2J"
	dir := tender(t)
	for i, args := range [][]string{
		{"measure", dir, "--supply", "COM" + bad, "--meter", "COM" + bad, "--prove=false"},
		{"compare", dir, "--closure", bad},
		{"budget", dir + bad},
		{bad},
		{"measure", dir, "--closure", "hull", "--accept", "cabin lamps", "--reason", bad},
		{"compare", dir, "--all"},
		{"measure", dir, "--closure", "hull", "--seen", bad},
	} {
		p := startTerminal(t, args...)
		p.status()
		if what := hides(ownCodes.ReplaceAllString(p.out.raw(), "")); what != "" {
			t.Errorf("%q: the terminal's text %s", args, what)
		}
		if !strings.Contains(p.out.raw(), "\\u202e") && i < 4 {
			t.Errorf("%q: what is hostile isn't shown: %q", args, p.out.raw())
		}
	}
}
