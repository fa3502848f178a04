package words

import (
	"strings"
	"testing"
)

func TestOneIn(t *testing.T) {
	for p, want := range map[float64]string{
		0: "less than 1 in 10000", 0.00009: "less than 1 in 10000", 0.0001: "1 in 10000", 0.0047: "1 in 210",
		0.005:  "1 in 200",
		0.0123: "1 in 81", 0.12: "1 in 8", 0.3: "1 in 3", 0.5: "more than 1 in 2", 1: "more than 1 in 2",
		0.00048: "1 in 2100",
	} {
		if got := OneIn(p); got != want {
			t.Errorf("OneIn(%g) = %q, want %q", p, got, want)
		}
	}
}

// The numbers of a sentence add up to all, however they are rounded.
func TestGradedAddsUp(t *testing.T) {
	for _, c := range []struct {
		all, current, look, missed float64
		want                       string
	}{
		{187, 174.5, 4.6, 7.9, "187 faults could be in it. Current stops 175 of them, only a look 5 more; 7 can't"},
		{10, 9.5, 0.5, 0, "10 faults could be in it. Current stops 10 of them."},
		{10, 9.8, 0.1, 0.1, "10 faults could be in it. Current stops 10 of them; a slight one can't"},
		{3, 0, 2.6, 0.4, "3 faults could be in it. Current stops 0 of them, only a look 3 more; a slight"},
	} {
		if got := Graded(c.all, c.current, c.look, c.missed); !strings.HasPrefix(got, c.want) {
			t.Errorf("Graded(%g, %g, %g, %g) = %q, want %q", c.all, c.current, c.look, c.missed, got, c.want)
		}
	}
}

// What isn't counted makes a chance the larger: it's said with the chance, and why with the groups.
func TestAChanceThatIsNotWhole(t *testing.T) {
	for _, x := range []struct {
		p     float64
		least bool
		want  string
	}{
		{1.0 / 31, false, "Chance that a fault is still in it: 1 in 31, by the rates of common practice."},
		{1.0 / 31, true, "Chance that a fault is still in it: at least 1 in 31, by the rates of common practice."},
		{1e-6, true, "Chance that a fault is still in it: less than 1 in 10000 by what is counted, by the rates of " +
			"common practice."},
	} {
		if got := StillThere(x.p, nil, "common practice", x.least); got != x.want {
			t.Errorf("%q, want %q", got, x.want)
		}
	}
	if got, want := NotCounted([]string{"port beacon", "starboard beacon"}, WithOthersOnly), "Not counted: port "+
		"beacon, starboard beacon (only the draw of several together is known, and the look)."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
