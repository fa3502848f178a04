package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// Files of sizes that no model has end within a second, with the file and what is wrong
// with it. The quickest of three counts: the machine may have other work.
func TestHostileSizes(t *testing.T) {
	const tables = 4000 // that fit into a file of an allowed size
	small, err := os.ReadFile("testdata/plans/tender/plan.toml")
	must(t, err)
	repeated := func(form string, n int) []byte {
		var b bytes.Buffer
		for i := range n {
			fmt.Fprintf(&b, form, i)
		}
		return b.Bytes()
	}
	const group = "[[group]]\nname = \"g%d\"\nlights = [ { part = \"smd red 12 V\" } ]\n"
	const head = "build = \"Dock\"\n[jack.main]\nvolts = 12.0\n"
	plan := func(b []byte) []byte { return append([]byte(head), b...) }
	for name, c := range map[string]struct {
		plan, bench []byte
		verb, said  string
	}{
		"a bench of 100 MB": {small, bytes.Repeat([]byte("# remark\n"), 100<<20/9), "compare",
			"bench.toml is larger"},
		"20 000 relays": {small, repeated("[[relay]]\nchannel = %d\n", 20000), "compare",
			"bench.toml is larger"},
		"a million groups":       {plan(repeated(group, 1_000_000)), nil, "budget", "plan.toml is larger"},
		"groups in a small file": {plan(repeated(group, tables)), nil, "budget", "4000 groups, more than 2000"},
		"joints one behind the other": {plan(append(repeated("[joint.j%d]\nwire = { mm = 0.2 }\n", tables),
			group...)), nil,
			"budget",
			"4000 tables [joint"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			must(t, os.WriteFile(filepath.Join(dir, planFile), c.plan, 0o644))
			if c.bench != nil {
				must(t, os.WriteFile(filepath.Join(dir, benchFile), c.bench, 0o644))
			}
			quickest := time.Hour
			for range 3 {
				var stdout, stderr bytes.Buffer
				begun := time.Now()
				status := run(context.Background(), []string{c.verb, dir}, env{stdin: strings.NewReader(""),
					stdout: &stdout, stderr: &stderr,
					getenv: func(string) string { return "" }, exit: func(int) {}})
				quickest = min(quickest, time.Since(begun))
				said := strings.Join(strings.Fields(stderr.String()), " ")
				if status != exitFailure || !strings.Contains(said, c.said) || stdout.Len() > 0 || stderr.Len() > 4000 {
					t.Fatalf("%d: %.600s", status, said)
				}
			}
			if quickest > time.Second && !raceEnabled { // the detector takes several times as long
				t.Errorf("it took %v", quickest)
			}
		})
	}
}
