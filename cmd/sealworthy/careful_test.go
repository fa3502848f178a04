package main

import (
	"bytes"
	"context"
	"path/filepath"
	"testing"

	"sealworthy/compare"
)

// A model in which nothing is wrong gets ready: the demo's, measured, looked at,
// and asked what was touched. Nothing else is needed.
func TestAHealthyModelGetsReady(t *testing.T) {
	t.Parallel()
	for _, seed := range []uint64{1, 2} {
		var out, errs bytes.Buffer
		e := silent()
		e.stdout, e.stderr = &out, &errs
		b, err := unpack(e, filepath.Join(t.TempDir(), "brackwater"))
		if err != nil {
			t.Fatal(err)
		}
		cfg, err := b.readBench()
		if err != nil {
			t.Fatal(err)
		}
		if err := simulate(context.Background(), e, b, cfg, nil, seed, true, compare.Fitted); err != nil {
			t.Fatal(err)
		}
		for _, c := range b.plan.Closures {
			run(context.Background(), []string{"measure", b.dir, "--closure", c.Name, "--seen", "all right"}, e)
		}
		out.Reset()
		if s := run(context.Background(), []string{"measure", b.dir, "--touched", "nothing"}, e); s != exitReady {
			t.Errorf("seed %d ends with %d: %s", seed, s, out.String())
		}
	}
}
