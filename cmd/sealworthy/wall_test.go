//go:build unix

package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare"
)

// unattended are the arguments of a test with nobody there.
func unattended(dir string, r *rigged, more ...string) []string {
	return append(append([]string{"measure", dir, "--closure", "hull", "--unattended", "--no-sweep"},
		r.ports(true)...), more...)
}

// A bench in one process, the test in another, over serial ports in real time.
func TestTwoProcesses(t *testing.T) {
	t.Parallel()
	dir, r := putUpBench(t)
	m := start(t, unattended(dir, r, "--json")...)
	if s := m.status(); s != exitNotReady {
		t.Fatalf("status %d: %s", s, m.err.raw())
	}
	mustConform(t, "measure", []byte(m.out.raw()))
	var found whatIsMeasured
	if err := json.Unmarshal([]byte(m.out.raw()), &found); err != nil {
		t.Fatalf("%v in %s", err, m.out.raw())
	}
	cs := found.Closures
	if len(cs) != 1 || cs[0].Verdict != compare.LookFirst || len(cs[0].Groups) != 2 {
		t.Fatalf("findings %+v", cs)
	}
	for _, g := range cs[0].Groups {
		if g.Verdict != compare.InBand || g.Readings < 5 {
			t.Errorf("%s: %s from %d readings", g.Group, g.Verdict, g.Readings)
		}
	}
	for _, w := range []string{"This will take about", "[1/4] stern light", "[2/4] cabin lamps",
		"look skipped: unattended"} {
		if !strings.Contains(m.err.plain(), w) {
			t.Errorf("%q wasn't said: %s", w, m.err.raw())
		}
	}
	if strings.Contains(m.err.raw(), "\x1b") {
		t.Error("escape codes without a terminal")
	}
	if n := r.mustBeOff(); n != 2 {
		t.Errorf("the output went on %d times for two feeds", n)
	}
}

// Every signal that a program can catch switches the output off, and the words
// say what is kept and how to go on.
func TestSignals(t *testing.T) {
	t.Parallel()
	for name, ss := range map[string][]syscall.Signal{
		"interrupt": {syscall.SIGINT}, "terminate": {syscall.SIGTERM}, "hang up": {syscall.SIGHUP},
		"quit": {syscall.SIGQUIT}, "interrupt twice": {syscall.SIGINT, syscall.SIGINT},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir, r := putUpBench(t)
			m := start(t, unattended(dir, r)...)
			r.says("OUTPUT ON")
			for _, s := range ss {
				m.signal(s)
			}
			if s := m.status(); s != exitFailure {
				t.Errorf("status %d", s)
			}
			said := strings.ReplaceAll(m.err.plain(), "\\ ", "") // the command is folded
			if !strings.Contains(said, "the output is off") && !strings.Contains(said, "told to switch off") {
				t.Errorf("it doesn't say what became of the output: %s", said)
			}
			if len(ss) == 1 && !strings.Contains(said, "to go on: sealworthy measure "+dir+
				" --closure hull --unattended") {
				t.Errorf("it doesn't say how to go on: %s", said)
			}
			if len(ss) == 1 && !strings.Contains(said, "ended by signal") {
				t.Errorf("it doesn't say why it ended: %s", said)
			}
			r.mustBeOff()
			mustBeWhole(t, dir)
		})
	}
}

// mustBeWhole reads the records of a build: no tear, no damage.
func mustBeWhole(t *testing.T, dir string) record.Folded {
	t.Helper()
	f, err := record.ReadDir(dir)
	if err != nil || len(f.Warnings) > 0 || len(f.Damage) > 0 {
		t.Errorf("the record is damaged: %v %v %v", err, f.Warnings, f.Damage)
	}
	mustSaySimulated(t, dir)
	return f
}

// mustSaySimulated: from the line on that describes an instrument of a rig every
// line of a sitting says that it is simulated. What was told before the bench was
// opened, or where hands are the instruments, was told by a person.
func mustSaySimulated(t *testing.T, dir string) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(dir, readingDir, "*"+record.Ext))
	if err != nil || len(files) == 0 {
		t.Errorf("no record in %s: %v", dir, err)
	}
	for _, name := range files {
		b, err := os.ReadFile(name)
		if err != nil {
			t.Error(err)
		}
		rig := false
		for n, line := range strings.Split(strings.TrimSuffix(string(b), "\n"), "\n") {
			rig = rig || strings.HasPrefix(line, "instrument,") && strings.Contains(line, "SIMULATED BENCH")
			if rig && !strings.Contains(line, ",simulated=true,") {
				t.Fatalf("%s:%d doesn't say that it is simulated: %s", name, n+1, line)
			}
		}
	}
}

// Who reads the words may go away, as with a pipe into head: the test goes on.
func TestNobodyReadsTheWords(t *testing.T) {
	t.Parallel()
	dir, r := putUpBench(t)
	m := command(t, unattended(dir, r)...)
	here, there, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	m.cmd.Stdout, m.cmd.Stderr = there, there
	if err := m.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	m.follow(func() {})
	there.Close()
	r.says("OUTPUT ON")
	here.Close()
	m.status()
	if n := r.mustBeOff(); n != 2 {
		t.Errorf("the test was cut short: output on %d times", n)
	}
	measured, all := 0, ""
	for _, s := range mustBeWhole(t, dir).Steps {
		if s.Outcome == capture.Measured {
			measured++
		}
		all += fmt.Sprintf("\n%s: %s %s", s.Step.ID, s.Outcome, s.Reason)
	}
	if measured != 2 {
		t.Errorf("%d steps measured:%s", measured, all)
	}
}

// Killed outright in the second step: what was kept is there, and a resumed
// test neither repeats what is done nor doubles a reading.
func TestKillAndResume(t *testing.T) {
	t.Parallel()
	dir, r := putUpBench(t)
	m := start(t, unattended(dir, r)...)
	m.awaitIn(&m.err, "[1/4] stern light")
	r.says("OUTPUT ON")
	r.says("output off")
	r.says("OUTPUT ON") // the second feed
	m.signal(syscall.SIGKILL)
	m.status()
	before := recorded(t, dir)
	f, err := record.ReadDir(dir)
	if err != nil || len(f.Damage) > 0 || len(f.Sittings) != 1 || f.Sittings[0].Whole {
		t.Fatalf("after the kill: %v, %+v, %v", f.Damage, f.Sittings, err)
	}

	again := start(t, unattended(dir, r, "--resume", "--json")...)
	if s := again.status(); s != exitNotReady {
		t.Fatalf("status %d: %s", s, again.err.raw())
	}
	after := recorded(t, dir)
	if !strings.HasPrefix(after, before[:strings.LastIndex(before, "\n")+1]) { // but for a torn line
		t.Error("what was kept isn't at the head of the record any more")
	}
	if len(after) == len(before) {
		t.Error("nothing was recorded after the kill")
	}
	lines := map[string]bool{}
	for _, l := range strings.Split(strings.TrimSpace(after), "\n") {
		if lines[l] {
			t.Errorf("twice in the record: %s", l)
		}
		lines[l] = true
	}
	if f, err = record.ReadDir(dir); err != nil || len(f.Damage) > 0 || len(f.Sittings) != 2 || !f.Sittings[1].Whole ||
		f.Sittings[1].GoesOn != f.Sittings[0].Number {
		t.Fatalf("%v, %+v, %v", f.Damage, f.Sittings, err)
	}
	measured := map[string]int{}
	for _, s := range f.Steps {
		if s.Outcome == capture.Measured && s.Step.Kind == capture.Power {
			measured[s.Step.Feed]++
		}
	}
	if len(measured) != 2 || measured["stern light"] != 1 || measured["cabin lamps"] != 1 {
		t.Errorf("measured: %v", measured)
	}
	// Once for each feed, and once more for the one that was broken off.
	if n := ons(r.ends()); n != 3 {
		t.Errorf("the output went on %d times", n)
	}
}

func ons(e rigEnd) (n int) {
	for _, x := range e.Outputs {
		if x.On {
			n++
		}
	}
	return n
}

// recorded is the record of all sittings, as it is on disk, in their order.
func recorded(t *testing.T, dir string) string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(dir, readingDir, "*.lp"))
	if err != nil || len(files) == 0 {
		t.Fatalf("%v, %v", files, err)
	}
	slices.Sort(files)
	all := ""
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		all += string(b)
	}
	return all
}

// The meter's cable comes off: the output goes off at once.
func TestMeterLost(t *testing.T) {
	t.Parallel()
	dir, r := putUpBench(t)
	m := start(t, unattended(dir, r)...)
	r.says("OUTPUT ON")
	r.hand("unplug meter")
	r.says("output off")
	m.awaitIn(&m.err, "meter")
	m.signal(syscall.SIGTERM)
	if s := m.status(); s != exitFailure {
		t.Errorf("status %d", s)
	}
	r.mustBeOff()
}

// The file of the record is taken away while the test runs: that is noticed at the
// next sync, the output goes off, and nothing is called kept.
func TestRecordTakenAway(t *testing.T) {
	t.Parallel()
	dir, r := putUpBench(t)
	m := start(t, unattended(dir, r)...)
	r.says("OUTPUT ON")
	files, err := filepath.Glob(filepath.Join(dir, readingDir, "*.lp"))
	if err != nil || len(files) != 1 {
		t.Fatal(files, err)
	}
	if err := os.Rename(files[0], files[0]+".away"); err != nil {
		t.Fatal(err)
	}
	if s := m.status(); s != exitFailure {
		t.Errorf("status %d: %s", s, m.err.raw())
	}
	said := strings.Join(strings.Fields(m.err.plain()+m.out.plain()), " ")
	if !strings.Contains(said, "was removed or replaced while the test ran") || strings.Contains(said, "is kept in") ||
		strings.Contains(said, "kept in "+dir) {
		t.Errorf("it says: %s", said)
	}
	r.mustBeOff()
	f, err := record.ReadDir(dir)
	if err != nil || len(f.Damage) != 1 || f.Damage[0].Kind != record.Missing {
		t.Errorf("%v, %v", f.Damage, err)
	}
}

// A try of one instrument is an output, and one that fails is followed by its error.
func TestTryPrintsWhatWasSaid(t *testing.T) {
	t.Parallel()
	_, r := putUpBench(t)
	m := start(t, "ports", "--try", r.rep.Ports.Meter, "--json")
	if s := m.status(); s != exitReady {
		t.Errorf("status %d: %s", s, m.err.raw())
	}
	mustConform(t, "ports-try", []byte(m.out.raw()))
	m = start(t, "ports", "--try", r.rep.Ports.Meter, "--profile", "terse supply", "--json")
	if s := m.status(); s != exitFailure {
		t.Errorf("status %d: %s", s, m.err.raw())
	}
	d := json.NewDecoder(strings.NewReader(m.out.raw()))
	var said, failed json.RawMessage
	if err := errors.Join(d.Decode(&said), d.Decode(&failed)); err != nil {
		t.Fatal(err)
	}
	mustConform(t, "ports-try", said)
	mustConform(t, "error", failed)
	r.mustBeOff()
}
