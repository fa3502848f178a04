package budget

import (
	"slices"
	"strings"
	"testing"

	"sealworthy/compare/plan"
)

func twinsOf(t *testing.T, p *plan.Plan) []string {
	t.Helper()
	var got []string
	for _, x := range of(t, p, At{Trials: 10}).Twins {
		got = append(got, x.A+" / "+x.B)
		if len(x.Cures) == 0 || !(x.Distance >= 0 && x.Distance < twinDistance) {
			t.Errorf("%+v", x)
		}
	}
	return got
}

// Two groups of the same branches are twins; another number in series, another
// current, or a pace of its own cures it.
func TestTwins(t *testing.T) {
	white := func(n int, r float64) plan.Light { return own(6, n, led("white", 2.9, 0.1, 0.5), r, 0.05, 0.5) }
	p := hang(hang(bench(), "port", white(1, 1000)), "starboard", white(1, 1000))
	hang(hang(p, "saloon", white(3, 330)), "galley", white(1, 390))
	got := twinsOf(t, p)
	if !slices.Equal(got, []string{"port / starboard"}) {
		t.Errorf("got %v", got)
	}
	b := of(t, p, At{Trials: 10})
	c, ok := find(b.Checks, KindTwins)
	if !ok || !strings.Contains(c.Text, `"port" and "starboard"`) ||
		!strings.Contains(c.Text, "now is the time to give one of them another number of LEDs") {
		t.Errorf("said: %s", c.Text)
	}
	// The cure works: two in series where one was.
	p.Groups[1].Lights[0] = white(2, 680)
	if got := twinsOf(t, p); len(got) != 0 {
		t.Errorf("after the cure: %v", got)
	}
}

// A blinking group is told from a steady one by its pace, the two outputs of
// one board not.
func TestTwinsOnABoard(t *testing.T) {
	p := beacon(bench(), plan.Alternate)
	hang(p, "lamp", own(1, 1, led("red", 1.9, 0.15, 0.5), 1200, 0.05, 0.5))
	if got := twinsOf(t, p); !slices.Equal(got, []string{"beacon 1 / beacon 2"}) {
		t.Errorf("got %v", got)
	}
}

// Six equal groups are one line, not fifteen.
func TestTwinsAreGathered(t *testing.T) {
	p := bench()
	for _, n := range []string{"a", "b", "c", "d", "e", "f"} {
		hang(p, n, own(6, 1, led("white", 2.9, 0.1, 0.5), 1000, 0.05, 0.5))
	}
	b := of(t, p, At{Trials: 10})
	n := 0
	for _, c := range b.Checks {
		if c.Kind == KindTwins {
			n++
			if !strings.Contains(c.Text, `"a", "b", "c", "d", "e" and "f"`) {
				t.Errorf("said: %s", c.Text)
			}
		}
	}
	if n != 1 || len(b.Twins) != 15 {
		t.Errorf("%d lines for %d pairs", n, len(b.Twins))
	}
}
