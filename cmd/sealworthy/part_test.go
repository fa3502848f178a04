//go:build unix

package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare/plan"
)

// A loose piece of a bag is clipped: what it draws becomes
// a part of the maker's own book, and a plan can name it.
func TestPart(t *testing.T) {
	t.Parallel()
	dir, r := putUpBench(t)
	home := t.TempDir()
	p := command(t, append([]string{"part", "lamp of this bag", "--like", "warm white 3 mm", "--pieces", "1", "--ohms",
		"150", "--volts", "4", "--bench", dir}, r.ports(false)...)...)
	p.cmd.Env = append(p.cmd.Env, "SEALWORTHY_HOME="+home)
	p.onTerminal()
	r.hand("clip stern light")
	p.await("q: stop")
	p.enter("")
	p.await("In a plan: part = \"lamp of this bag\"")
	if s := p.status(); s != exitReady {
		t.Fatalf("status %d: %s", s, p.out.raw())
	}
	r.mustBeOff()
	file := filepath.Join(home, "parts.toml")
	src, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if f := mustBeWhole(t, filepath.Join(home, samplesDir)); len(f.Steps) == 0 || readingsIn(f.Steps[0]) == 0 ||
		len(f.Notes) != 2 || !strings.Contains(f.Notes[1].Text, "lamp of this bag") ||
		f.Sittings[0].What != record.ForSample {
		t.Errorf("of the pieces the record keeps %d steps, %+v", len(f.Steps), f.Notes)
	}
	book, problems := plan.ParseBook(file, src)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	x, err := book.Find("lamp of this bag")
	if err != nil || len(x.Points) == 0 {
		t.Fatalf("%+v, %v", x, err)
	}
	for _, q := range x.Points { // a white LED: 2.6 to 3.6 V wherever it glows
		if q.Volts < 2.4 || q.Volts > 3.6 || q.Amps <= 0 {
			t.Errorf("a point at %v V, %v A", q.Volts, q.Amps)
		}
	}

	again := command(t, "part", "lamp of this bag", "--like", "warm white 3 mm", "--ohms", "150")
	again.cmd.Env = append(again.cmd.Env, "SEALWORTHY_HOME="+home)
	again.onTerminal()
	if s := again.status(); s != exitUsage || !strings.Contains(again.out.plain(), "is in your part book") {
		t.Errorf("status %d: %s", s, again.out.plain())
	}
}

// A sample that is stopped between two pieces goes on with the second: each piece costs
// one prompt, and both are learned from. What was to be measured otherwise, or came to
// its end, isn't gone on with.
func TestPartGoesOn(t *testing.T) {
	t.Parallel()
	dir, r := putUpBench(t)
	home := t.TempDir()
	run := func(more ...string) *process {
		p := command(t, append(append([]string{"part", "lamp of this bag", "--like", "warm white 3 mm", "--pieces",
			"2", "--volts", "4", "--bench", dir}, r.ports(false)...), more...)...)
		p.cmd.Env = append(p.cmd.Env, "SEALWORTHY_HOME="+home)
		p.onTerminal()
		return p
	}
	r.hand("clip stern light")
	p := run("--ohms", "150")
	p.await("1 of 2")
	p.await("q: stop")
	p.enter("")
	p.await("2 of 2")
	p.await("q: stop")
	p.enter("q")
	p.await("Stopped; what was read is kept. To go on:")
	p.await("--resume")
	if s := p.status(); s != exitNotReady {
		t.Fatalf("status %d: %s", s, p.out.raw())
	}
	other := run("--ohms", "220", "--resume")
	if s := other.status(); s != exitFailure ||
		!strings.Contains(other.out.plain(), "no sample of \"lamp of this bag\" was broken off") {
		t.Errorf("another resistor: status %d: %s", s, other.out.plain())
	}
	p = run("--ohms", "150", "--resume", "--json")
	p.await("Clip piece 2 of 2")
	p.await("q: stop")
	p.enter("")
	if s := p.status(); s != exitReady || strings.Contains(p.out.plain(), "Clip piece 1 of 2") {
		t.Errorf("status %d: %s", s, p.out.plain())
	}
	said := p.out.raw()
	mustConform(t, "part", []byte(said[max(0, strings.LastIndex(said, "{\r\n  \"format\"")):]))
	r.mustBeOff()
	src, err := os.ReadFile(filepath.Join(home, "parts.toml"))
	if err != nil || !strings.Contains(string(src), "2 of its pieces measured") {
		t.Errorf("%v: %s", err, src)
	}
}

func readingsIn(r capture.StepRecord) (n int) {
	for range r.All() {
		n++
	}
	return n
}
