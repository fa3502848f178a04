//go:build unix

package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/instruments/profile"
)

// killTally is what came of programs that were killed.
type killTally struct {
	kills, ended, early      atomic.Int64 // killed; ended before the moment came; killed before the record was begun
	linesKept, linesThere    atomic.Int64
	stepsEnded, torn, leftOn atomic.Int64
	readingsShown            atomic.Int64
}

func (k *killTally) String() string {
	return fmt.Sprintf("%d kills, %d of them before the record was begun; %d ended by themselves before; %d lines "+
		"shown "+
		"as kept, %d there; %d readings and %d ended steps shown; %d torn lines; output left on %d times, within "+
		"its limit",
		k.kills.Load(), k.early.Load(), k.ended.Load(), k.linesKept.Load(), k.linesThere.Load(),
		k.readingsShown.Load(),
		k.stepsEnded.Load(), k.torn.Load(), k.leftOn.Load())
}

// Killed outright at random moments, with a bench in another process that goes on: what
// was shown as kept is there and in its chain, nothing that was there before is touched,
// and an output that was left on stands within the limit that was set for the step, until
// the next run switches it off before anything else. A kill is no power cut.
func TestKillAtRandomMoments(t *testing.T) {
	t.Parallel()
	kills, benches := 6, 2
	if os.Getenv("SEALWORTHY_LONG") != "" {
		kills, benches = 1000, 5
	}
	var tally killTally
	t.Cleanup(func() {
		t.Log(&tally)
		if tally.kills.Load() > 0 && tally.linesKept.Load() == 0 {
			t.Error("nothing was ever kept: this tested nothing")
		}
	})
	for b := range benches {
		t.Run(fmt.Sprintf("bench %d", b+1), func(t *testing.T) {
			t.Parallel()
			killMany(t, &tally, kills/benches, uint64(b))
		})
	}
}

// latestKill is the latest moment at which a program is killed: a test of the tender takes
// somewhat longer than that.
const latestKill = 7 * time.Second

func killMany(t *testing.T, tally *killTally, kills int, seed uint64) {
	dir, r := putUpBench(t)
	rnd := rand.New(rand.NewPCG(20261127, seed))
	had := map[string][]byte{}
	for n := 0; n < kills; {
		resume := n%2 == 1 && len(had) > 0
		after := time.Duration(rnd.Int64N(int64(latestKill)))
		m, killed := startAndKill(t, r, dir, after, resume)
		if !killed {
			tally.ended.Add(1)
			continue
		}
		n++
		tally.kills.Add(1)
		mustHoldWhatWasShown(t, tally, m, dir, had)
		if leftOn(t, r) {
			tally.leftOn.Add(1)
		}
		if t.Failed() {
			t.Fatalf("kill %d, after %v", n, after)
		}
		const sittings = 50 // of one build, so that reading it stays quick
		if len(had) >= sittings {
			old := dir
			dir, had = tender(t), map[string][]byte{}
			if err := os.RemoveAll(old); err != nil {
				t.Error(err)
			}
		}
	}
	mustHaveGoneOffBetween(t, r.ends())
}

// startAndKill runs a test and kills it so long after its start, unless it ended before.
func startAndKill(t *testing.T, r *rigged, dir string, after time.Duration, resume bool) (m *process, killed bool) {
	t.Helper()
	args := unattended(dir, r, "--events", "--prove=false")
	if resume {
		args = append(args, "--resume")
	}
	m = start(t, args...)
	select {
	case <-m.done:
		return m, false
	case <-time.After(after):
	}
	if m.cmd.Process.Signal(syscall.SIGKILL) != nil {
		m.status()
		return m, false
	}
	return m, m.status() != exitReady && m.cmd.ProcessState.Sys().(syscall.WaitStatus).Signaled()
}

// shownLines reads the lines of events that came whole.
func shownLines(t *testing.T, m *process) (out []session.Event) {
	t.Helper()
	lines := strings.SplitAfter(m.out.raw(), "\n")
	for _, l := range lines {
		if !strings.HasSuffix(l, "\n") {
			continue
		}
		var e session.Event
		if err := json.Unmarshal([]byte(l), &e); err != nil {
			t.Errorf("%v in %s", err, l)
		}
		out = append(out, e)
	}
	return out
}

// mustHoldWhatWasShown compares the record with what was shown of it. had is each file as
// it was before, and is brought up to date.
func mustHoldWhatWasShown(t *testing.T, tally *killTally, m *process, dir string, had map[string][]byte) {
	t.Helper()
	file, kept, ends := "", 0, 0
	for _, e := range shownLines(t, m) {
		if e.What == session.Recording {
			file = filepath.Base(e.File)
		}
		if e.Test == nil {
			continue
		}
		kept = max(kept, int(e.Test.Kept))
		switch e.Test.What {
		case capture.Sampling:
			tally.readingsShown.Add(1)
		case capture.StepEnds:
			ends++
		}
	}
	if file == "" {
		tally.early.Add(1)
	}
	tally.linesKept.Add(int64(kept))
	tally.stepsEnded.Add(int64(ends))
	f, err := record.ReadDir(dir)
	if err != nil || len(f.Damage) > 0 {
		t.Errorf("damaged: %v, %v; %s", f.Damage, err, m.err.raw())
	}
	tally.torn.Add(int64(strings.Count(fmt.Sprint(f.Warnings), "torn")))
	there, last := 0, 0
	if _, err := record.Walk(os.DirFS(dir), func(k record.Kept) error {
		if s := k.Record.Order.Sitting(); s != last {
			there, last = 0, s
		}
		there++
		if k.Seq() != there {
			return fmt.Errorf("sitting %d: line %d follows line %d", last, k.Seq(), there-1)
		}
		return nil
	}); err != nil {
		t.Error(err)
	}
	if file != "" && there < kept {
		t.Errorf("%d lines were shown as kept, and %d are there", kept, there)
	}
	if file != "" {
		tally.linesThere.Add(int64(there))
	}
	mustBeUntouched(t, dir, had)
}

// mustBeUntouched: what was in a file before still begins it, but for the torn end of the
// latest, which is kept beside it.
func mustBeUntouched(t *testing.T, dir string, had map[string][]byte) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(dir, readingDir, "*"+record.Ext))
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range files {
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if was := had[name]; !bytes.HasPrefix(b, was[:bytes.LastIndexByte(was, '\n')+1]) {
			t.Errorf("%s doesn't begin as it was", filepath.Base(name))
		}
		had[name] = b
	}
	if len(files) < len(had) {
		t.Errorf("%d files are there, %d were", len(files), len(had))
	}
}

// leftOn asks the bench what its output does now that nobody is there.
func leftOn(t *testing.T, r *rigged) bool {
	t.Helper()
	const marker = "warm 25"
	r.hand(marker) // what the output did before stands above it
	r.typeAhead("state")
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		said := r.err.raw()
		said = said[strings.LastIndex(said, marker)+len(marker)+1:]
		if line, _, whole := strings.Cut(said, "\n"); whole {
			return strings.HasPrefix(line, "OUTPUT ON")
		}
	}
	t.Fatal("the bench doesn't say what its output does")
	return false
}

// mustHaveGoneOffBetween: the output never went on while it was on: whoever came after a
// kill switched it off first. Its limit was always a small one.
func mustHaveGoneOffBetween(t *testing.T, end rigEnd) {
	t.Helper()
	for i, x := range end.Outputs {
		switch {
		case x.On && i > 0 && end.Outputs[i-1].On:
			t.Errorf("on again without an off before: %+v", x)
		case x.On && (x.LimitA <= 0 || x.LimitA > 0.2):
			t.Errorf("it went on with a limit of %v A", x.LimitA)
		}
	}
}

// A supply with a watchdog switches off by itself once the program is killed.
func TestWatchdogAfterAKill(t *testing.T) {
	t.Parallel()
	dir, r := putUpBench(t, "--odd", "supply=watchdog")
	src, err := profile.Source("scpi supply", "")
	if err != nil {
		t.Fatal(err)
	}
	src = profile.Derive(src, "The usual supply, with a watchdog. Invented.", []profile.Change{
		{Table: "supply", Key: "watchdog", Value: `{ send = "OUTP:WATC {seconds}" }`},
		{Table: "supply", Key: "get_watchdog", Value: `{ send = "OUTP:WATC?" }`},
		{Table: "supply", Key: "watchdog_s", Value: "15.0"},
	})
	bench, err := os.ReadFile(filepath.Join(dir, benchFile))
	if err != nil {
		t.Fatal(err)
	}
	m := command(t, unattended(dir, r, "--prove=false")...)
	home := t.TempDir()
	m.cmd.Env = append(m.cmd.Env, "SEALWORTHY_HOME="+home)
	for name, text := range map[string][]byte{
		filepath.Join(profileFolder(home), "watched.toml"): src,
		filepath.Join(dir, benchFile):                      append(bench, "\n[supply]\nprofile = \"watched\"\n"...),
	} {
		if err := errors.Join(os.MkdirAll(filepath.Dir(name), 0o755), os.WriteFile(name, text, 0o644)); err != nil {
			t.Fatal(err)
		}
	}
	m.cmd.Stderr = &m.err
	if err := m.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	m.follow(func() {})
	r.says("OUTPUT ON")
	m.signal(syscall.SIGKILL)
	m.status()
	if !leftOn(t, r) {
		t.Error("it was off before the watchdog could act")
	}
	r.says("output off (watchdog)")
	if end := r.ends(); end.Output != "output off" {
		t.Errorf("the output was left: %s", end.Output)
	}
}
