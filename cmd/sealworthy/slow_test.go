package main

import (
	"context"
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/compare"
	"sealworthy/compare/load"
	"sealworthy/instruments/rig"
	"sealworthy/instruments/rig/odd"
)

// A slow meter and a slow supply together, as bench finds them, through a whole test with
// nobody there: every group is judged as quick ones judge it, a fault is found, and nobody
// is told that the output may be on.
func TestAWholeTestWithSlowInstruments(t *testing.T) {
	t.Parallel()
	if raceEnabled {
		t.Skip("judging is slow under the detector")
	}
	slow := odd.Oddities{odd.Slow}
	want := map[string]compare.Verdict{"bow lamps": compare.Low, "stern lamp": compare.InBand,
		"bench lamps": compare.InBand, "locker lamp": compare.InBand}
	for name, o := range map[string]struct{ supply, meter odd.Oddities }{
		"quick": {}, "slow supply": {slow, nil}, "slow meter": {nil, slow}, "both slow": {slow, slow},
		"both slow, with prompts": {append(slow, odd.Prompt), append(slow, odd.Prompt, odd.Annotated)},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			x := newWorkbench(t, o.supply, o.meter)
			faults, err := parseFaults(x.b.plan, []string{"bow lamps=open branch"}, 1)
			if err != nil {
				t.Fatal(err)
			}
			l, err := load.New(x.b.plan, faults, 1, load.Options{})
			if err != nil {
				t.Fatal(err)
			}
			if err := x.rig.Put(l); err != nil {
				t.Fatal(err)
			}
			p := x.rig.Ports()
			if _, out, err := x.run("--port", p.Supply, "--port", p.Meter, "--save"); err != nil {
				t.Fatalf("%v\n%s", err, out)
			}
			began := x.w.Clock.Now()
			var stdout, stderr strings.Builder
			e := env{stdin: strings.NewReader(""), stdout: &stdout, stderr: &stderr, exit: func(int) {},
				getenv: func(k string) string {
					return map[string]string{"SEALWORTHY_HOME": x.home, "XDG_RUNTIME_DIR": t.TempDir()}[k]
				}}
			status, err := measureIn(context.Background(), e, x.w,
				[]string{x.b.dir, "--unattended", "--json", "--relays", p.Relays})
			if err != nil || status != exitKeepOpen {
				t.Fatalf("status %d, %v: %s", status, err, stderr.String())
			}
			var found whatIsMeasured
			if err := json.Unmarshal([]byte(stdout.String()), &found); err != nil {
				t.Fatal(err)
			}
			got := map[string]compare.Verdict{}
			for _, c := range found.Closures {
				for _, g := range c.Groups {
					got[g.Group] = g.Verdict
				}
			}
			for g, v := range want {
				if got[g] != v {
					t.Errorf("%s is %s, want %s", g, got[g], v)
				}
			}
			for _, bad := range []string{"MAY STILL BE ON", "can't", "no reply", "not confirmed"} {
				if strings.Contains(stderr.String(), bad) {
					t.Errorf("it says %q: %s", bad, stderr.String())
				}
			}
			ons := x.rig.Outputs()
			if x.rig.Output().On || len(ons) == 0 ||
				slices.IndexFunc(ons, func(o rig.OutputEvent) bool { return o.On }) < 0 {
				t.Errorf("the output: %+v", ons)
			}
			t.Logf("%s: %v for the whole test", name, x.w.Clock.Now().Sub(began).Round(time.Second))
		})
	}
}
