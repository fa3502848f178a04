package capture

import (
	"context"
	"strings"
	"testing"
)

// A relay feeds a board as a whole: its outputs are parted by hand, with the
// output off, and joined again before the next step that wants all of them.
func TestOutputsArePartedByHand(t *testing.T) {
	b := newBench(t, led)
	bb := b.withRelays(map[string]int{"beacon": 1, "mast": 2})
	one, two, all := boardStep("1", "slow", 0), boardStep("2", "slow", 0), boardStep("3", "slow", 0)
	one.Outputs, one.Ask = []int{1}, "Unclip all but output 1."
	two.Outputs, two.Ask = []int{2}, "Unclip all but output 2."
	f := &face{}
	f.answer = func(q Question) (Answer, error) {
		if b.outputOn() {
			t.Errorf("asked with the output on: %s", q.Text)
		}
		return Answer{Choice: "done"}, nil
	}
	recs, err := Run(context.Background(), bb, &guide{steps: []Step{one, two, all}}, f, &record{}, seeded())
	if err != nil {
		t.Fatal(err)
	}
	b.mustOff()
	var asked []string
	for _, q := range f.questions(AskClip) {
		asked = append(asked, q.Text)
	}
	if len(asked) != 3 || !strings.Contains(asked[0], "output 1") || !strings.Contains(asked[1], "output 2") ||
		!strings.Contains(asked[2], "on again") {
		t.Errorf("asked %q", asked)
	}
	for _, r := range recs {
		if r.Outcome != Measured {
			t.Errorf("%s: %s, %s", r.Step.ID, r.Outcome, r.Reason)
		}
	}
}

func TestPartedOutputsNeedSomebody(t *testing.T) {
	b := newBench(t, led)
	s := boardStep("1", "slow", 0)
	s.Outputs, s.Ask = []int{1}, "Unclip all but output 1."
	rec, _ := runOne(t, b, b.withRelays(map[string]int{"beacon": 1}), s, Unattended{})
	if rec.Outcome != Skipped || rec.Reason != "unattended" {
		t.Errorf("%s: %s", rec.Outcome, rec.Reason)
	}
}
