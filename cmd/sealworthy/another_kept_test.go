package main

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/instruments/bench"
)

// The old meter can be kept as long as it is in its place and nothing was tried with another; one
// that doesn't answer any more isn't gone on with.
func TestTheOldMeterIsKept(t *testing.T) {
	t.Parallel()
	var others []string
	f := &swapper{answers: []string{session.KeepOld, "done", "stop"}}
	bad := false
	f.answered = func(n int) { bad = n == 1 }
	f.spoil = func() byte {
		if bad {
			return 1 // another name, each time
		}
		return 0
	}
	u, ctx := swapping(t, f, &others, func(*bench.Config, *bench.Overrides) {})
	if _, err := u.AnotherMeter(ctx, session.Sitting{Stage: "fitted"}, true); !errors.Is(err, capture.ErrStopped) {
		t.Fatal(err)
	}
	if len(f.asked) != 3 || !strings.HasPrefix(f.asked[1].Text, "The old meter doesn't answer: ") {
		t.Fatalf("asked %+v", f.asked)
	}
	for i, want := range []bool{true, true, false} { // the last: another was tried
		if slices.Contains(f.asked[i].Choices, session.KeepOld) != want {
			t.Errorf("question %d offers %q", i, f.asked[i].Choices)
		}
	}

	for _, typed := range []bool{false, true} {
		f := &swapper{answers: []string{session.KeepOld}}
		u, ctx := swapping(t, f, &others, func(c *bench.Config, o *bench.Overrides) {
			if c.Meter.FuseAmps = 0.3; typed {
				c.Meter, o.MeterPort = bench.Meter{Typed: true, FuseAmps: 0.3}, ""
			}
		})
		who := u.Bench.Who()
		kept, err := u.AnotherMeter(ctx, session.Sitting{Stage: "fitted"}, true)
		if must(t, err); !kept || len(f.changes) > 0 || u.Bench.Who() != who || u.Bench.MeterFuseAmps != 0.3 ||
			len(f.asked) != 1 {
			t.Errorf("typed %v: kept %v, %s, %g A, asked %+v", typed, kept, u.Bench.Who(), u.Bench.MeterFuseAmps,
				f.asked)
		}
	}
	// One that is lost is no choice.
	f = &swapper{answers: []string{"stop"}}
	u, ctx = swapping(t, f, &others, func(*bench.Config, *bench.Overrides) {})
	if _, err := u.AnotherMeter(ctx, session.Sitting{Stage: "fitted"}, false); !errors.Is(err, capture.ErrStopped) ||
		slices.Contains(f.asked[0].Choices, session.KeepOld) {
		t.Errorf("%v, offered %q", err, f.asked[0].Choices)
	}
}

// A meter that was given up by mistake is kept: all goes on with it, nothing is measured or proved
// twice, and no change is told. Given up in the middle of the proof, that begins anew.
func TestTheOldMeterGoesOn(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		atAsk  capture.QuestionKind
		at     func(capture.Event) bool
		before func(*testing.T, build)
		do     func(u *session.Session, b build) error
		proofs int
	}{
		{"proved", "", nth(2, capture.Power), nil, func(u *session.Session, _ build) error {
			_, err := u.Run(t.Context(), session.Sitting{Stage: compare.Fitted, Closure: "hull", OneVoltage: true,
				Prove: true, Reprove: true})
			return err
		}, 1},
		{"in the proof", capture.AskClip, nil, nil, func(u *session.Session, _ build) error {
			_, err := u.Run(t.Context(), session.Sitting{Stage: compare.Fitted, Closure: "hull", OneVoltage: true,
				Prove: true, Reprove: true})
			return err
		}, 1},
		{"return", "", nth(2, capture.Whole), signed, returned(t, walked(), false), 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			f := &giver{swapper: swapper{answers: []string{session.KeepOld}}, at: c.at, atAsk: c.atAsk,
				sweeps: c.name == "return"}
			u, b, _ := giving(t, f, c.before)
			before := 0
			if c.before != nil {
				folded, err := record.ReadDir(u.Record.Dir)
				must(t, err)
				ids, _ := readBy(folded)
				before = len(ids)
			}
			must(t, c.do(u, b))
			must(t, f.wrong)
			if len(f.answers) > 0 || len(f.changes) > 0 || f.proofs != c.proofs || f.r.Output().On {
				t.Errorf("changes %+v, %d proofs, want %d", f.changes, f.proofs, c.proofs)
			}
			folded, err := record.ReadDir(u.Record.Dir)
			must(t, err)
			ids, _ := readBy(folded)
			noted := 0
			for _, n := range folded.Notes {
				if n.Name == "proof" {
					noted++
				}
			}
			if noted != c.proofs {
				t.Errorf("%d proofs are kept, want %d", noted, c.proofs)
			}
			once := map[string]bool{}
			for _, id := range ids[before:] {
				if once[id] {
					t.Errorf("%s was measured twice: %q", id, ids)
				}
				once[id] = true
			}
		})
	}
}
