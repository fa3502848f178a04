//go:build unix

package main

import (
	"strings"
	"testing"
)

// The instruments of a bench are found on a terminal, tried and written down: only a yes
// typed in full lets the output go on, and Enter alone leaves it off.
func TestBenchOnATerminal(t *testing.T) {
	t.Parallel()
	_, r := putUpBench(t)
	home := t.TempDir()
	run := func() *process {
		p := command(t, "bench", "--port", r.rep.Ports.Supply, "--port", r.rep.Ports.Meter)
		p.cmd.Env = append(p.cmd.Env, "SEALWORTHY_HOME="+home)
		p.onTerminal()
		return p
	}
	p := run()
	p.await("supply: SIMULATED BENCH,SUPPLY")
	p.await("meter: SIMULATED BENCH,METER")
	p.await("Try the supply and meter now?")
	p.await("Enter: not now")
	p.enter("yes")
	p.await("Set to 1.0 V and 10 mA with the output off")
	p.await("yes, in full")
	p.enter("y")
	p.await("\"y\" is no answer here")
	p.enter("yes")
	p.await("The output is ON.")
	p.await("Range 200 mA is fixed.")
	p.await("What fuse is behind the jack")
	p.await("Enter: don't know")
	p.enter("0.4")
	p.await("Write down the supply and meter, for all builds?")
	p.await("n: no")
	p.enter("")
	p.await("Written down in")
	if s := p.status(); s != exitReady {
		t.Fatalf("status %d: %s", s, p.out.raw())
	}
	p = run()
	p.await("Enter: not now")
	p.enter("yes")
	p.await("yes, in full")
	p.enter("q")
	if s := p.status(); s != exitNotReady || !strings.Contains(p.out.plain(), "Nothing was written down") {
		t.Errorf("status %d: %s", s, p.out.plain())
	}
	r.mustBeOff()
}
