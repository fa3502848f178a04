//go:build unix

package main

import (
	"io"
	"os"
	"os/exec"
	"testing"
)

// Each shell, on a terminal, completes a verb, a closure, and a name of two words, in quotes
// and without: what stands on its line is run.
func TestShellsComplete(t *testing.T) {
	t.Parallel()
	for shell, c := range map[string]struct {
		args  []string
		setup string
	}{
		"bash": {[]string{"--norc", "--noprofile", "-i"}, "source <(sealworthy completion bash)"},
		"zsh":  {[]string{"-f", "-i"}, "autoload -Uz compinit; compinit -u; source <(sealworthy completion zsh)"},
		"fish": {[]string{"--no-config", "-i"}, "sealworthy completion fish | source"},
	} {
		t.Run(shell, func(t *testing.T) {
			t.Parallel()
			if _, err := exec.LookPath(shell); err != nil {
				if os.Getenv("CI") != "" {
					t.Fatalf("%s is needed in CI: %v", shell, err)
				}
				t.Skip("no " + shell + " here")
			}
			p := command(t)
			dir := t.TempDir()
			must(t, os.CopyFS(dir+"/brackwater", os.DirFS("testdata/plans/tender")))
			p.cmd = exec.Command(shell, c.args...)
			p.cmd.Env = append(os.Environ(), "HOME="+dir, "TERM=xterm", "PS1=> ", "SEALWORTHY_HOME="+dir,
				"LANG=C.UTF-8")
			p.cmd.Dir = dir
			p.onTerminal()
			p.typeAhead(c.setup + "; printf '%s-%s\\n' set up")
			p.await("set-up")
			for _, x := range []struct{ typed, says string }{
				{"sealworthy expl\t awg\r", "Its size as an American gauge"},
				{"sealworthy compare brackwater --closure hu\t\r", "hull: ? NOT SETTLED"},
				{"sealworthy next brackwater --group cab\t\r", "not measured cabin lamps next: measure it"},
				{"sealworthy next brackwater --group \"cab\t\r", "not measured cabin lamps next: measure it"},
			} {
				if _, err := io.WriteString(p.in, x.typed); err != nil {
					t.Fatal(err)
				}
				p.await(x.says)
			}
		})
	}
}
