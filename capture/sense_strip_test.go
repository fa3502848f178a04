package capture

import (
	"strings"
	"testing"
)

// A strip draws nothing at what sensing may give. It's said so when it's asked for, and that nothing is felt isn't
// laid on its lights.
func TestAStripThatIsAskedForIsTapped(t *testing.T) {
	b, x := feelBench(t)
	f := newFeeler(t, b, nil)
	_, _, err := feel(t, b, x, newFeelGuide("strip", "cabin"), f, handsFree())
	wantErr(t, err, ErrStopped)
	q := f.questions(AskSense)
	if len(q) < 2 || q[0].Step.Feed != "strip" {
		t.Fatalf("asked %+v", q)
	}
	if want := "It draws next to nothing at 3.0 V, healthy or not: once it's on, tap it."; !strings.Contains(q[0].Text,
		want) {
		t.Errorf("asked %q", q[0].Text)
	}
	if want := `"strip" isn't felt: once it's on, tap it, or press the pedal.`; !strings.HasPrefix(q[0].Help, want) {
		t.Errorf("it's meant: %q", q[0].Help)
	}
	for _, e := range f.kinds(SensingOn) {
		if !e.ToTap {
			t.Errorf("it's to be felt: %+v", e)
		}
	}
	b, x = feelBench(t)
	other := newFeeler(t, b, nil)
	_, _, err = feel(t, b, x, newFeelGuide("cabin", "strip"), other, handsFree())
	wantErr(t, err, ErrStopped)
	for _, e := range other.kinds(SensingOn) {
		if e.ToTap {
			t.Errorf("what is felt is to be tapped: %+v", e)
		}
	}
	if got := f.texts(NothingYet); len(got) > 0 {
		t.Errorf("while it waits: %q", got)
	}
	if want := `"strip" isn't felt at so few volts, and nothing else was clipped on for 60 s, so sensing has ended.`; !strings.
		Contains(q[len(q)-1].Text, want) {
		t.Errorf("in the end %q", q[len(q)-1].Text)
	}
}
