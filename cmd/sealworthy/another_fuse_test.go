package main

import (
	"errors"
	"slices"
	"testing"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
)

// What was said of the fuse of a meter without a name of its own is known of the one on its port
// alone. Another one, which answers alike, is asked for its own; where that isn't known limits
// stay below both.
func TestAFuseIsOfOneMeter(t *testing.T) {
	t.Parallel()
	statedA, largeA := 0.3, 2.0
	b, cfg, c, r, open := twoRigs(t)
	use := func(f *giver, meter string) *session.Session {
		f.nameless, f.stops = true, true
		own := *cfg
		own.Meter.FuseAmps = 10
		return sessionOf(t, f, b, &own, c, r, open, meter)
	}
	run := func(u *session.Session, resume bool) {
		t.Helper()
		s := session.Sitting{Stage: compare.Fitted, Resume: resume}
		if _, err := u.Run(t.Context(), s); !errors.Is(err, capture.ErrStopped) {
			t.Fatal(err)
		}
		must(t, u.Bench.Close())
	}
	u := use(&giver{swapper: swapper{answers: []string{"done"}, fuseA: &statedA}}, r.Ports().Meter)
	takesAnother(t, t.Context(), u)
	run(u, false)
	for _, x := range []struct {
		port  string
		says  *float64 // where it's asked for
		asked bool
		want  float64
	}{
		{r.Ports().Meter, &largeA, false, statedA},
		{"stranger", nil, true, statedA},
		{"stranger", &largeA, true, largeA},
		{"stranger", nil, false, largeA}, // it's known by now
		{r.Ports().Meter, &largeA, false, statedA},
	} {
		f := &giver{swapper: swapper{fuseA: x.says}}
		u := use(f, x.port)
		run(u, true)
		asked := slices.ContainsFunc(f.asked, func(q capture.Question) bool { return q.Kind == session.AskFuse })
		if asked != x.asked || u.Bench.MeterFuseAmps != x.want {
			t.Errorf("on %s: asked %v, the fuse is %g A, want %v, %g A", x.port, asked, u.Bench.MeterFuseAmps, x.asked,
				x.want)
		}
	}
}
