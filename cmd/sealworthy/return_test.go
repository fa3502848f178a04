package main

import (
	"context"
	"io"
	"os"
	"testing"
	"time"

	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/returns"
)

// The whole story over the rig's ports, with other seeds: the place that was
// broken must stand in the set that is told, and mostly first or as its twin.
func TestReturnsOverSeeds(t *testing.T) {
	if raceEnabled || os.Getenv("SEALWORTHY_LONG") == "" {
		t.Skip("statistics: SEALWORTHY_LONG=1, without -race")
	}
	first, inSet, n := 0, 0, 32
	said, right := map[int]int{}, map[int]int{} // by tenths of what was said
	for seed := uint64(1); seed <= uint64(n); seed++ {
		e := silent()
		b, err := unpack(e, t.TempDir())
		if err != nil {
			t.Fatal(err)
		}
		rep, err := demoReturn(context.Background(), e, b, seed, true)
		if err != nil {
			t.Fatal(err)
		}
		d := rep.Diagnosis
		found := false
		for i, c := range d.Set {
			if c.Place == rep.Fault.Group || c.Second == rep.Fault.Group {
				found = true
				if i == 0 {
					first++
				}
				break
			}
		}
		if found {
			inSet++
		}
		tenth := int(10 * d.Ranked[0].P)
		said[tenth]++
		if found && (d.Ranked[0].Place == rep.Fault.Group || d.Ranked[0].Second == rep.Fault.Group) {
			right[tenth]++
		}
		t.Logf("seed %2d: %-18s of %-15s %s, first %s (%.2f), in the set %v", seed, rep.Fault.Kind, rep.Fault.Group,
			d.Verdict, d.Set[0].Place, d.Set[0].P, found)
		if d.Named != nil && d.Named.Place != rep.Fault.Group && d.Named.Second != rep.Fault.Group {
			t.Errorf("seed %d: %s is named, %s was broken", seed, d.Named.Place, rep.Fault.Group)
		}
		if !d.Alarm {
			t.Errorf("seed %d: no alarm", seed)
		}
	}
	t.Logf("%d returns: first %d, in the set %d", n, first, inSet)
	for tenth := range 11 {
		if said[tenth] > 0 {
			t.Logf("said .%d: right %d of %d", tenth, right[tenth], said[tenth])
		}
	}
	if inSet < n*9/10 {
		t.Errorf("the broken place stands in the set in %d of %d", inSet, n)
	}
}

// told does a sitting of the whole model on the demo's own bench.
func told(t *testing.T, b build, s session.Sitting, o load.Options, faults []fault.Fault, start time.Time) {
	t.Helper()
	cfg, err := b.readBench()
	if err != nil {
		t.Fatal(err)
	}
	x := bout{cfg: cfg, start: start, seed: 3, load: o, faults: faults, s: s, memory: true}
	if err := x.run(context.Background(), silent(), b); err != nil {
		t.Fatal(err)
	}
}

// A contact that opens now and then is told as such, with its times; a model
// that is as it was is called so.
func TestSoakAndAHealthyReturn(t *testing.T) {
	t.Parallel()
	b, err := unpack(silent(), t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)
	whole := compare.WholeOptions{}
	told(t, b, session.Sitting{Stage: compare.Delivered, Seed: 1, Whole: &whole}, load.Options{}, nil, now)
	if _, _, err := b.keep(silent()); err != nil {
		t.Fatal(err)
	}
	soak := soakOptions(12 * time.Minute)
	told(t, b, session.Sitting{Stage: compare.Closed, Seed: 2, Whole: &soak},
		load.Options{Breaks: []load.Break{{Feed: "saloon", Every: 200 * time.Second, For: 2 * time.Second}}}, nil,
		now.Add(time.Hour))
	w, trends, err := b.soaked(silent())
	if err != nil {
		t.Fatal(err)
	}
	if len(w.Drops) != 3 || w.Changed {
		t.Errorf("%d drops of 3, drift %.2g an hour: %+v", len(w.Drops), w.DriftPerH, w.Drops)
	}
	for _, d := range w.Drops {
		if d.ByA < 0.05 || d.ByA > 0.09 {
			t.Errorf("a drop of %.1f mA: %s", 1e3*d.ByA, d.Text)
		}
	}
	if len(trends) != 2 {
		t.Errorf("%d trends", len(trends))
	}
	told(t, b, session.Sitting{Stage: compare.Returned, Seed: 5, Whole: &whole}, load.Options{}, nil,
		now.Add(48*time.Hour))
	d, _, err := b.diagnose(silent(), "", &returns.Adapter{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if d.Alarm || d.Ranked[0].Place != string(fault.Nothing) || len(d.Drops) > 0 {
		t.Errorf("%s, nothing %.2f, first %s, %d drops", d.Verdict, d.PNothing, d.Ranked[0].Text, len(d.Drops))
	}
}

// A return that is shorted is stopped while little flows, and told.
func TestAShortedReturn(t *testing.T) {
	t.Parallel()
	b, err := unpack(silent(), t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)
	whole := compare.WholeOptions{}
	told(t, b, session.Sitting{Stage: compare.Delivered, Seed: 1, Whole: &whole}, load.Options{}, nil, now)
	if _, _, err := b.keep(silent()); err != nil {
		t.Fatal(err)
	}
	told(t, b, session.Sitting{Stage: compare.Returned, Seed: 5, Whole: &whole}, load.Options{},
		[]fault.Fault{{Kind: fault.Short, Group: "saloon", Ohms: 0.05}}, now.Add(time.Hour))
	d, _, err := b.diagnose(silent(), "", nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	if d.Verdict != returns.ShortedUp || !d.Alarm || exitOfReturn(d) != exitKeepOpen {
		t.Errorf("%s: %v", d.Verdict, d.Notes)
	}
}

// silent is the world of a verb that nobody listens to.
func silent() env {
	return env{stdout: io.Discard, stderr: io.Discard, getenv: func(string) string { return "" }}
}
