package main

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/look"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
)

// quiet is a world where nobody listens.
func quiet() env {
	return env{stdout: io.Discard, stderr: io.Discard, getenv: func(string) string { return "" }}
}

// gig copies the small build into a folder.
func gig(t *testing.T) build {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS("testdata/plans/gig")); err != nil {
		t.Fatal(err)
	}
	b, err := openBuild(quiet(), dir)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// sit runs a sitting over memory ports in simulated time, from a given moment,
// and gives the time at which it ended.
func sit(t testing.TB, b build, s session.Sitting, from time.Time, faults ...string) time.Time {
	t.Helper()
	return sitBefore(t, alone{}, b, s, from, faults...)
}

// sitBefore is sit with somebody there.
func sitBefore(t testing.TB, face capture.Face, b build, s session.Sitting, from time.Time,
	faults ...string) time.Time {
	t.Helper()
	ctx := context.Background()
	c := clock.NewSimulated(from)
	cfg, err := b.readBench()
	if err != nil {
		t.Fatal(err)
	}
	var fs []fault.Fault
	if fs, err = parseFaults(b.plan, faults, s.Seed); err != nil {
		t.Fatal(err)
	}
	r, err := putUp(ctx, c, b.plan, cfg, fs, s.Seed, load.Options{Loose: s.Stage == compare.Loose}, true)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Outside(func() { r.Close() })
	p := r.Ports()
	over := bench.Overrides{SupplyPort: p.Supply, MeterPort: p.Meter, RelaysPort: p.Relays}
	bs, err := session.OpenBench(ctx, session.World{Clock: c, Open: r.Opener()}, b.plan, cfg, over, face)
	if err != nil {
		t.Fatal(err)
	}
	defer bs.Close()
	u, err := useOf(b, bs, face)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := u.Run(ctx, s); err != nil {
		t.Fatal(err)
	}
	if r.Output().On {
		t.Error("the output is still on")
	}
	return c.Now()
}

func foundIn(t *testing.T, b build) (map[string]compare.Finding, record.Folded) {
	t.Helper()
	cs, f, err := b.findings(quiet(), "", compare.Leads{Ohm: 0.1, HalfOhm: 0.05})
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]compare.Finding{}
	for _, c := range cs {
		for _, g := range c.Groups {
			out[g.Group] = g
		}
	}
	return out, f
}

var sittingBegan = time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)

// A group is repaired and measured anew, in a sitting of its own that goes on with
// the first: the others aren't measured again. Where nobody told of the repair
// both readings stand, and don't agree; once it is told the new one counts.
func TestRedo(t *testing.T) {
	t.Parallel()
	b := gig(t)
	s := session.Sitting{Stage: compare.Fitted, Seed: 3}
	end := sit(t, b, s, sittingBegan, "bow lamps=open branch")
	before, _ := foundIn(t, b)
	if before["bow lamps"].Verdict != compare.Low {
		t.Fatalf("bow lamps: %s", before["bow lamps"].Verdict)
	}
	s.Redo = []string{"bow lamps"}
	end = sit(t, b, s, end.Add(time.Minute))
	if untold, _ := foundIn(t, b); untold["bow lamps"].Verdict != compare.CantTell {
		t.Errorf("bow lamps, repaired without a word: %s", untold["bow lamps"].Verdict)
	}
	rework := []capture.Mark{{Kind: capture.MarkReworked, Feed: "bow lamps", Groups: []string{"bow lamps"},
		Reason: "a joint soldered again"}}
	if err := writeMarks(quiet(), b, compare.Fitted, rework, end); err != nil {
		t.Fatal(err)
	}
	sit(t, b, s, end.Add(time.Minute))
	after, folded := foundIn(t, b)
	if after["bow lamps"].Verdict != compare.InBand {
		t.Errorf("bow lamps after the repair: %s", after["bow lamps"].Verdict)
	}
	if !after["stern lamp"].At.Equal(before["stern lamp"].At) {
		t.Error("stern lamp was measured again")
	}
	if folded.Redone["hull/bow lamps"] != 2 {
		t.Errorf("redone: %v", folded.Redone)
	}
	files, err := filepath.Glob(filepath.Join(b.dir, readingDir, "*.lp"))
	if err != nil || len(files) != 4 || len(folded.Sittings) != 4 || folded.Sittings[1].GoesOn != 1 ||
		folded.Sittings[3].GoesOn != 3 {
		t.Errorf("%v, %v, %+v", files, err, folded.Sittings)
	}
}

// Of a look that is on the record only what still counts is done.
func TestWhatOfALookIsDone(t *testing.T) {
	b := gig(t)
	look := func(seen string) capture.StepRecord {
		r := capture.StepRecord{Outcome: capture.Measured, Seen: seen, BeganAt: capture.OrderAt(1, 2),
			SeenAt: capture.OrderAt(1, 9)}
		r.Step = capture.Step{ID: "hull/look", Kind: capture.Look,
			Groups: []string{"bow lamps", "stern lamp", "bench lamps"}, Lights: map[string]string{}}
		for _, g := range b.plan.Groups {
			r.Step.Lights[g.Name] = look.Digest(g)
		}
		return r
	}
	changed := look("all right")
	changed.Step.Lights["bow lamps"] = "9 x something else"
	touch := func(at int, clip bool) []record.Rework {
		return []record.Rework{{Place: "bow lamps", Groups: []string{"bow lamps"}, Clip: clip,
			Order: capture.OrderAt(1, at)}}
	}
	for _, c := range []struct {
		name     string
		r        capture.StepRecord
		reworked []record.Rework
		want     string
	}{
		{"all of it", look("all right"), nil, "bow lamps, stern lamp, bench lamps"},
		{"one wasn't said", look("stern lamp: 1 dark; bench lamps: all right"), nil, "stern lamp, bench lamps"},
		{"touched before", look("all right"), touch(8, false), "bow lamps, stern lamp, bench lamps"},
		{"touched since", look("all right"), touch(10, false), "stern lamp, bench lamps"},
		{"the clip alone", look("all right"), touch(10, true), "bow lamps, stern lamp, bench lamps"},
		{"other lights by now", changed, nil, "stern lamp, bench lamps"},
	} {
		got := ""
		h := compare.HistoryOf(record.Folded{Steps: []capture.StepRecord{c.r}, Reworked: c.reworked})
		if done := compare.StillDone(b.plan, h, []capture.Step{c.r.Step}, h.Steps); len(done) == 1 {
			got = strings.Join(done[0].Step.Groups, ", ")
		}
		if got != c.want {
			t.Errorf("%s: %q is done, want %q", c.name, got, c.want)
		}
	}
}

// A resumed test has nothing left to do where all was measured; what was left
// out because nobody was there is asked for again.
func TestResumeWhereAllIsDone(t *testing.T) {
	t.Parallel()
	b := gig(t)
	s := session.Sitting{Stage: compare.Fitted, Seed: 3}
	end := sit(t, b, s, sittingBegan)
	before, first := foundIn(t, b)
	s.Resume = true
	sit(t, b, s, end.Add(time.Minute))
	after, second := foundIn(t, b)
	for g, f := range before {
		if after[g].Readings != f.Readings || !after[g].At.Equal(f.At) {
			t.Errorf("%s was measured again", g)
		}
	}
	if a, b := feedsMeasured(first.Steps), feedsMeasured(second.Steps); a != 4 || b != 4 {
		t.Errorf("%d feeds measured at first, %d after", a, b)
	}
	s.Stage = compare.Loose
	if _, _, err := b.record(quiet()).GoesOn(s.Stage); err == nil {
		t.Error("a test of a stage that was never begun was resumed")
	}
}

func feedsMeasured(rs []capture.StepRecord) (n int) {
	for _, r := range rs {
		if r.Step.Kind == capture.Power && r.Outcome == capture.Measured {
			n++
		}
	}
	return n
}

// Groups on top of those that are on: each is judged by what it adds, base and
// sum in the same sitting.
func TestAdded(t *testing.T) {
	t.Parallel()
	b := gig(t)
	m := measureFlags{added: true}
	sit(t, b, session.Sitting{Stage: compare.Fitted, Closure: "hull", Way: m.way(), Seed: 5}, sittingBegan,
		"stern lamp=open branch")
	got, folded := foundIn(t, b)
	for g, v := range map[string]compare.Verdict{"bow lamps": compare.InBand, "stern lamp": compare.Low} {
		if got[g].Verdict != v {
			t.Errorf("%s: %s, want %s", g, got[g].Verdict, v)
		}
	}
	if w := got["stern lamp"].Way; w != string(capture.Added) {
		t.Errorf("stern lamp was measured %s", w)
	}
	for _, s := range folded.Steps {
		if s.Step.Feed == "stern lamp" && len(s.Step.On) != 2 {
			t.Errorf("on in that step: %q", s.Step.On)
		}
	}
}

// The wires are joined: the closure is measured as one, and one lamp of ten
// that is dark doesn't pass.
func TestJoined(t *testing.T) {
	t.Parallel()
	m := measureFlags{joined: true}
	for _, c := range []struct {
		faults []string
		good   bool
	}{{nil, true}, {[]string{"locker lamp=open branch"}, false}} {
		b := gig(t)
		sit(t, b, session.Sitting{Stage: compare.Closed, Closure: "locker", Way: m.way(), Seed: 5}, sittingBegan,
			c.faults...)
		got, folded := foundIn(t, b)
		if f := got["locker lamp"]; (f.Verdict == compare.InBand) != c.good {
			t.Errorf("%v: %s %q", c.faults, f.Verdict, f.Notes)
		}
		if feedsMeasured(folded.Steps) != 1 {
			t.Errorf("%d steps", feedsMeasured(folded.Steps))
		}
	}
}

// An instrument that comes back under another name is found there, and neither
// of the other instruments' ports is tried.
func TestReopenUnderAnotherName(t *testing.T) {
	t.Parallel()
	b := gig(t)
	ctx := context.Background()
	c := clock.NewSimulated(sittingBegan)
	cfg, err := b.readBench()
	if err != nil {
		t.Fatal(err)
	}
	r, err := putUp(ctx, c, b.plan, cfg, nil, 1, load.Options{}, true)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Outside(func() { r.Close() })
	p := r.Ports()
	var tried []string
	open := func(ctx context.Context, port string, l instruments.Line) (instruments.Port, error) {
		tried = append(tried, port)
		if port == "nobody" {
			return nil, errors.New("no such port")
		}
		return r.Opener()(ctx, port, l)
	}
	var others []string
	w := session.World{Clock: c, Open: open, Others: func() []string { return others }}
	over := bench.Overrides{SupplyPort: p.Supply, MeterPort: p.Meter}
	bs, err := session.OpenBench(ctx, w, b.plan, cfg, over, alone{})
	if err != nil {
		t.Fatal(err)
	}
	defer bs.Close()
	// As a system does that counts its ports.
	var elsewhere string
	c.Outside(func() { elsewhere, err = r.Replug(rig.Meter, true) })
	if err != nil || elsewhere == p.Meter {
		t.Fatalf("replugged as %q, %v", elsewhere, err)
	}
	others = []string{p.Supply, "nobody", elsewhere}
	tried = nil
	m, err := bs.ReopenMeter(ctx)
	if err != nil || m == nil {
		t.Fatalf("the meter wasn't found again: %v (tried %q)", err, tried)
	}
	if want := []string{p.Meter, "nobody", elsewhere}; !slices.Equal(tried, want) {
		t.Errorf("tried %q, want %q", tried, want)
	}
	others = []string{"nobody"}
	c.Outside(func() { err = r.Unplug(rig.Meter) })
	if err != nil {
		t.Fatal(err)
	}
	if _, err := bs.ReopenMeter(ctx); err == nil {
		t.Error("a meter that isn't there was found")
	}
}

// lastSitting is the latest one that measured something.
func lastSitting(t *testing.T, dir string) record.SittingState {
	t.Helper()
	f, err := record.ReadDir(dir)
	if err != nil || len(f.Damage) > 0 {
		t.Fatal(f.Damage, err)
	}
	for _, s := range slices.Backward(f.Sittings) {
		if s.What != record.ForWords {
			return s
		}
	}
	t.Fatal("no sitting")
	return record.SittingState{}
}

// What became of a sitting stands in the lists of past tests, on a page as on a terminal.
func TestHowASittingEndedIsSaid(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		s              record.SittingState
		page, terminal string
	}{
		{record.SittingState{Chained: true, Whole: true}, "", ", whole"},
		{record.SittingState{Chained: true, Whole: true, BrokeOff: "stopped by the maker"},
			"it broke off: stopped by the maker", ", broke off: stopped by the maker"},
		{record.SittingState{Chained: true}, "no end recorded", ", no end recorded"},
		{record.SittingState{}, "", ", before the chain"},
	} {
		if got := endOf(c.s); got != c.page {
			t.Errorf("%+v: the page says %q, want %q", c.s, got, c.page)
		}
		if got := sittingWords(c.s, nil); !strings.HasSuffix(got, c.terminal) {
			t.Errorf("%+v: the terminal says %q, want %q at the end", c.s, got, c.terminal)
		}
	}
}
