//go:build unix

package main

import (
	"bufio"
	"bytes"
	"context"
	"io"
	"strings"
	"testing"

	"github.com/creack/pty"
	"golang.org/x/term"
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

// An instrument whose answers hold what a terminal would obey: all of it's shown
// in the log of its bytes, in what it says that it is, and in errors.
func TestHostileInstrument(t *testing.T) {
	t.Parallel()
	for _, reply := range []string{"\x1b]0;all is well\x07,\x1b[2J,\x9b2J,\u202e1\r\n", "INVENTED,\x1b[31mMETER,1,2\n",
		"\x00\x7f\xff\n"} {
		line, port, err := pty.Open()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := term.MakeRaw(int(port.Fd())); err != nil {
			t.Fatal(err)
		}
		go func() {
			for s := bufio.NewReader(line); ; {
				if _, err := s.ReadString('\n'); err != nil {
					return
				}
				_, _ = line.WriteString(reply) // the other end may have gone
			}
		}()
		for _, args := range [][]string{{"ports", "--try", port.Name()}, {"ports", "--try", port.Name(), "--json"},
			{"measure", tender(t), "--unattended", "--supply", port.Name(), "--meter", port.Name() + "x", "--relays",
				"none"}} {
			var stdout, stderr bytes.Buffer
			home := t.TempDir()
			status := run(context.Background(), args,
				env{stdin: strings.NewReader(""), stdout: &stdout, stderr: &stderr, exit: func(int) {},
					getenv: func(k string) string { return map[string]string{"SEALWORTHY_HOME": home}[k] }})
			for name, text := range map[string]string{"stdout": stdout.String(), "stderr": stderr.String()} {
				if what := hides(text); what != "" {
					t.Errorf("%q, %q (%d): %s %s", reply, args, status, name, what)
				}
			}
			if args[0] == "ports" && !strings.Contains(stdout.String(), "got") {
				t.Errorf("%q, %q (%d): nothing was got: %s%s", reply, args, status, &stdout, &stderr)
			}
		}
		port.Close()
		line.Close()
	}
}

// On a terminal narrower than a report no word is parted at its edge, and on a wider
// one lines stay as long as on paper.
func TestReportsFitTheTerminal(t *testing.T) {
	t.Parallel()
	dir := tender(t)
	for _, args := range [][]string{{"left", dir}, {"budget", dir}, {"part"}, {"help"}, {"help", "keep"}} {
		for cols, most := range map[uint16]int{60: 60, 80: 80, 120: 80} {
			p := command(t, args...)
			f, err := pty.StartWithSize(p.cmd, &pty.Winsize{Rows: 24, Cols: cols})
			if err != nil {
				t.Fatal(err)
			}
			p.follow(func() { io.Copy(&p.out, f) }) // ends with EIO when the process has gone
			p.status()
			f.Close()
			longest := 0
			for _, l := range strings.Split(colours.ReplaceAllString(p.out.raw(), ""), "\n") {
				if !strings.Contains(l, dir) { // what can be copied stays whole
					longest = max(longest, len([]rune(strings.TrimRight(l, "\r"))))
				}
			}
			if longest > most || longest < 40 {
				t.Errorf("%q at %d columns: the longest line has %d", args, cols, longest)
			}
		}
	}
}
