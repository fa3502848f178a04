package main

import (
	"strings"
	"testing"
	"time"

	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
)

// Each group passed on its own; then the whole model, closed, draws a lamp's current
// less. No closure is better than not settled until that is mended, and measured
// whole again or group by group.
func TestAChangedWholeHoldsClosures(t *testing.T) {
	t.Parallel()
	b := gig(t)
	fitted := session.Sitting{Stage: compare.Fitted, Seed: 3}
	whole := session.Sitting{Stage: compare.Closed, Seed: 3, Whole: &compare.WholeOptions{}}
	held := func() (verdicts []compare.ClosureVerdict, text string) {
		cs, _, err := b.findings(quiet(), "", compare.Leads{Ohm: 0.1, HalfOhm: 0.05})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range cs {
			verdicts, text = append(verdicts, c.Verdict), text+strings.Join(c.Reasons, "\n")
		}
		return verdicts, text
	}
	isHeld := func(when string) {
		t.Helper()
		verdicts, text := held()
		if !strings.Contains(text, "the whole model, closed: changed since it was fitted") {
			t.Errorf("%s: %q, %s", when, verdicts, text)
		}
		for _, v := range verdicts {
			if v != compare.NotSettled {
				t.Errorf("%s: %q", when, verdicts)
			}
		}
		// Why the status is 3 stands in what is printed, of one closure too, and in the data.
		for _, args := range [][]string{{b.dir}, {b.dir, "--closure", "hull"}, {b.dir, "--json"}} {
			var out strings.Builder
			e := quiet()
			e.stdout = &out
			status, err := runCompare(t.Context(), e, args)
			if err != nil || status != exitKeepOpen ||
				!strings.Contains(strings.Join(strings.Fields(out.String()), " "),
					"the whole model, closed: changed since it was fitted") {
				t.Errorf("%s: compare %q ends with %d, %v:\n%s", when, args[1:], status, err, out.String())
			}
		}
	}
	end := sit(t, b, fitted, sittingBegan)
	before, _ := held()
	end = sit(t, b, whole, end.Add(time.Minute))
	if after, _ := held(); len(after) != len(before) || after[0] != before[0] {
		t.Errorf("unchanged: %q, then %q", before, after)
	}
	end = sit(t, b, whole, end.Add(time.Minute), "bow lamps=open branch")
	isHeld("changed")
	end = sit(t, b, whole, end.Add(time.Minute))
	if _, text := held(); !strings.Contains(text,
		"the whole model, closed: it had changed, then it had not, with nothing told to be touched in between") {
		t.Errorf("unchanged again, and nothing told: %s", text)
	}
	end = sit(t, b, whole, end.Add(time.Minute), "bow lamps=open branch")
	isHeld("changed again")
	again := fitted
	again.Feeds = []string{"stern lamp"}
	end = sit(t, b, again, end.Add(time.Minute))
	isHeld("one group measured again")
	sit(t, b, fitted, end.Add(time.Minute))
	if after, text := held(); strings.Contains(text, "the whole model") || after[0] != before[0] {
		t.Errorf("all measured again: %q, %s", after, text)
	}
}
